"""Tables as CSV: plain SI floats, harmless in a spreadsheet."""

from __future__ import annotations

import csv
from collections.abc import Iterable, Sequence
from io import StringIO

FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")


def csv_text(heads: Sequence[str], rows: Iterable[Iterable[object]]) -> str:
    """Comma, decimal point, CRLF (RFC 4180); a text that a spreadsheet would run is quoted by '."""
    text = StringIO()
    writer = csv.writer(text)
    writer.writerow(heads)
    writer.writerows([_cell(value) for value in row] for row in rows)
    return text.getvalue()


def _cell(value: object) -> str:
    if value is None:
        return ""
    if isinstance(value, float):
        return repr(value)
    words = str(value)
    return f"'{words}" if words.startswith(FORMULA_STARTS) else words
