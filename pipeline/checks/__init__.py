"""Demand against limit, at every station, both directions, every set-up."""
