"""CSV text of plain equal lines, taken apart as one array of bytes instead of line by line.

Only where nothing is lost by it: no quotation marks, no blank line, the same number of cells in
every line. Whatever else stands in a file is left to the careful way.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

ROWS_AT_ONCE = 50_000
BYTES_AT_ONCE = 1 << 18  # stays in the processor's cache
LONGEST_CELL = 200  # [bytes]
WORD = 8  # [bytes] gathered and compared at once
NEW_LINE = 10

Runs = tuple[list[str], NDArray[np.int64]]
_Places = NDArray[np.int64]


@dataclass(frozen=True)
class Block:
    """Text of a table and where its separators stand: one before it, one behind every cell."""

    data: bytes  # with some bytes to spare
    edges: _Places
    width: int

    def runs(self, column: int) -> Iterator[Runs]:
        """Cells of a column, equal neighbours once, and how often each stands there; in chunks."""
        begins = self.edges[column :: self.width]
        ends = self.edges[column + 1 :: self.width]
        for first in range(0, len(ends), ROWS_AT_ONCE):
            rows = slice(first, first + ROWS_AT_ONCE)
            chosen = ends[rows]
            yield self._runs(begins[rows][: len(chosen)] + 1, chosen)

    def _runs(self, begins: _Places, ends: _Places) -> Runs:
        length = ends - begins
        count = int(length.max()) // WORD + 1  # a word more than it holds: room for its end
        every = np.ndarray((len(self.data) - WORD + 1,), "<u8", self.data, strides=(1,))
        cells = np.empty((len(begins), count), "<u8")
        for k in range(count):
            inside = np.clip(length - k * WORD, -1, WORD) + 1
            cells[:, k] = every[begins + k * WORD] & _KEEP[inside] | _END[inside]
        new = (cells[1:] != cells[:-1]).any(axis=1)
        heads = np.concatenate([[0], np.flatnonzero(new) + 1])
        text = cells[heads].tobytes().translate(None, b"\0").decode()
        return text.split("\n")[:-1], np.diff(np.append(heads, len(cells)))


_KEEP = np.array([0] + [(1 << 8 * n) - 1 for n in range(WORD + 1)], "<u8")
_END = np.array([0] + [NEW_LINE << 8 * n for n in range(WORD)] + [0], "<u8")
"""By bytes of a cell in a word, 1 more; 0 for a word behind its end: what to keep, what to add."""


def block(text: str, delimiter: str, header_row: int, width: int) -> Block | None:
    """The lines after the header as a block, or None where lines are not all plain and equal."""
    if '"' in text:
        return None
    if "\r" in text:
        text = text.replace("\r\n", "\n")
        if "\r" in text:
            return None
    lines = text.rstrip("\n").split("\n", header_row + 1)
    if len(lines) <= header_row + 1:
        return None
    data = lines[-1].encode() + b"\n" + bytes(LONGEST_CELL + 2 * WORD)
    edges, lines_found = _edges(data, ord(delimiter))
    rows, rest = divmod(len(edges) - 1, width)
    lasts = edges[width::width]
    if rest or rows != lines_found or int(np.diff(edges).max()) > LONGEST_CELL:
        return None
    plain = np.frombuffer(data, np.uint8)[lasts] == NEW_LINE
    blank = lasts - edges[:-1:width] == width
    return Block(data, edges, width) if plain.all() and not blank.any() else None


def _edges(data: bytes, delimiter: int) -> tuple[_Places, int]:
    """−1, then the place of every separator; and how many of them end a line."""
    found, lines = [np.array([-1])], 0
    for start in range(0, len(data), BYTES_AT_ONCE):
        some = np.frombuffer(data, np.uint8, min(BYTES_AT_ONCE, len(data) - start), start)
        breaks = some == NEW_LINE
        lines += int(np.count_nonzero(breaks))
        found.append(np.flatnonzero(breaks | (some == delimiter)) + start)
    return np.concatenate(found), lines


__all__ = ["Block", "block"]
