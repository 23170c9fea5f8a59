"""Locks, workers, the manifest, changes and the switch to a new build."""
