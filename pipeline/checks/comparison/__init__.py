"""Verdicts before and after a change."""
