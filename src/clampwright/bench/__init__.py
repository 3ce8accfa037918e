"""Instrument profiles, readings, zeros, reduction to leakage with uncertainty, limits and lots.

The way of a reading: `readings` (text in) → `columns` → `grouping` → `zeros` → `propagate` →
`reduce` (→ `leakage`, with `flags`). `pretend` makes readings from a hidden truth.

Floor 3; may import floor 0, `physics` and `parts`.
"""
