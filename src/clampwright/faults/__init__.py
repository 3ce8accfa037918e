"""Fault descriptions and standard waveforms as functions of time; nothing about our circuits.

Floor 2; may import floor 0.
"""
