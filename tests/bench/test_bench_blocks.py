"""The quick way through a file gives what the careful way gives, or leaves it to the careful one."""

from __future__ import annotations

import csv
import io

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from clampwright.bench import table
from clampwright.bench.blocks import ROWS_AT_ONCE, block
from clampwright.bench.columns import COLUMNS, Text
from clampwright.bench.readings import read_readings
from clampwright.errors import InputError

HEADER = "part,wiring,state,reverse voltage (V),temperature (°C),light (lx),instrument,reading (µV)"
CELLS = st.text(
    st.characters(exclude_characters=',\n\r\0"', exclude_categories=("Cs",)), max_size=20
)


@given(st.lists(st.lists(CELLS, min_size=3, max_size=3), min_size=1, max_size=30))
def test_cells_are_those_of_the_csv_library(rows: list[list[str]]) -> None:
    text = "a,b,c\n" + "".join(",".join(row) + "\n" for row in rows)
    found = block(text, ",", 0, 3)
    expected = list(csv.reader(io.StringIO(text, newline="")))[1:]
    if found is None:
        assert any(not any(row) for row in expected)
        return
    for column in range(3):
        cells: list[str] = []
        for some, counts in found.runs(column):
            cells += np.repeat(some, counts).tolist()
        assert cells == [row[column] for row in expected]


@pytest.mark.parametrize(
    "text",
    [
        'a,b\n1,"2"\n',
        "a,b\n1,2\n\n3,4\n",
        "a,b\n1,2\n3\n",
        "a,b\n1,2,3\n4\n",
        "a,b\n,\n",
        "a,b\n1,2\r3,4\n",
        "a,b\n",
        f"a,b\n1,{'9' * 300}\n",
    ],
)
def test_what_is_not_plain_is_left_alone(text: str) -> None:
    assert block(text, ",", 0, 2) is None


def test_many_rows_both_ways(monkeypatch: pytest.MonkeyPatch) -> None:
    """More rows than one chunk; blank numbers, runs, non-ASCII text; then with a mistake."""
    random = np.random.default_rng(1)
    rows = [
        f"npn µ{k // 7000},C/B+E,reading,5,{20 + k // 9000},0,A1,{random.normal():.5f}"
        if k % 10 > 3
        else f",,zero fixture,{k // 30000},,,A1,{random.normal():.5f}"
        for k in range(ROWS_AT_ONCE + 5000)
    ]
    text = "\n".join([HEADER, *rows])
    quick = read_readings(text)
    wrong = text.replace(rows[600], "x,C,reading,5,warm,0,A1,1")
    with pytest.raises(InputError, match=r"line 602, column.*temperature") as first:
        read_readings(wrong)
    monkeypatch.setattr(table, "block", lambda *_: None)
    careful = read_readings(text)
    for column in COLUMNS:
        one, other = getattr(quick, column.field), getattr(careful, column.field)
        if isinstance(one, Text):
            assert one.names == other.names
            one, other = one.codes, other.codes
        assert np.array_equal(one, other, equal_nan=column.dimension is not None)
    with pytest.raises(InputError) as again:
        read_readings(wrong)
    assert str(first.value) == str(again.value)
