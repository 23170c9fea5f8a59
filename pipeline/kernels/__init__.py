"""Compiled kernels on flat arrays: numpy and numba only, no frames, no errors raised."""
