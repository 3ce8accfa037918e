"""Part sheets, every wiring of a part as a candidate clamp, the catalogue of generic classes.

Floor 2; may import floor 0 and `physics`.
"""
