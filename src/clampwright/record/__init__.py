"""Figures, schematic, HTML and tables drawn from frozen results; computes nothing, touches no disk.

Floor 5; may import the types of floors 2 to 4.
"""
