"""Grip: climb, descent, slide, stopping."""
