"""Pure functions of the physics: junction current and slope, temperature laws, noise, thermal.

Floor 1; may import floor 0 (`errors`, `quantities`, `uncertain`) only.
Floats and arrays in SI in and out; no text, no files, no part names.
"""
