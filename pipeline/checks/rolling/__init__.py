"""Vehicles rolled over the runs: side view, four wheels, poses."""
