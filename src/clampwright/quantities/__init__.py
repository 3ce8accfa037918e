"""Quantities as people write them ("15 V", "4k7", "23 °C") and the floats in SI behind them.

Floor 0; may import `errors` only. Field types for data models live in `quantities.fields`,
which is not imported here because pydantic is slow to load.
"""

from clampwright.quantities.dimensions import DIMENSIONS, ZERO_CELSIUS, Dimension
from clampwright.quantities.reading import read
from clampwright.quantities.series import series_values
from clampwright.quantities.writing import write, write_uncertain

__all__ = [
    "DIMENSIONS",
    "ZERO_CELSIUS",
    "Dimension",
    "read",
    "series_values",
    "write",
    "write_uncertain",
]
