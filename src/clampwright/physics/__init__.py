"""Pure functions of the physics: junction current and slope, temperature laws, noise, thermal.

Floor 1; may import floor 0 (`errors`, `quantities`, `uncertain`) only.
Floats and arrays in SI in and out; no text, no files, no part names.

`clamp` the one formula (data in `law`, moved by `conditions`) · `terminal` series resistance and the
inverse · `charge` · `noise` · `temperature` · `thermal` · `light` · `depletion` · `gate` ·
`source_resistance` · `ranges` flags · `laws` the list · `kernels` the same formula compiled.
"""
