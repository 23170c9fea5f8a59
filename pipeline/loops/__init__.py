"""Loops from the trailhead: safest or most training, with a proven bound."""
