"""Faults that standards and practice name, as data to begin a list with; nothing about our circuits.

Floor 2; may import floor 0.
"""
