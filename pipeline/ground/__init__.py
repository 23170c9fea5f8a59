"""Grip, rolling resistance and water under the conditions of the day."""
