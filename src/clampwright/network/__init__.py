"""Topologies as data and the solver that keeps femtoamperes; knows clamp laws as plain values.

Floor 3; may import floor 0 and `physics`.
"""
