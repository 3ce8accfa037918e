"""Instrument profiles, readings, zeros, reduction to leakage with uncertainty, limits and fits.

Floor 3; may import floor 0, `physics` and `parts`.
"""
