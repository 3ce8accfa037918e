"""Error against survivability: the dot at the margins of the table, arrows beyond the axes, free labels."""

from __future__ import annotations

import math
import re
from itertools import combinations
from types import SimpleNamespace
from xml.etree import ElementTree

import pytest

from clampwright.record.label_places import Box, along, free_place
from clampwright.record.pareto_chart import pareto_svg
from clampwright.record.pareto_points import marks_of, plane_of, points
from clampwright.verdict.results import Candidate, Verdict

ALLOWANCE = 1e-3  # [V]


def candidate(part: str, accuracy: float, lasting: float | None, **changes: object) -> Candidate:
    """One judged candidate whose error reaches ALLOWANCE / accuracy at 95 % and half of it probably."""
    reach = ALLOWANCE / accuracy
    fields = {
        "part": part, "title": part, "wiring": "K/A", "topology": "T2", "series_resistance": 1e5,
        "error": reach / 2, "error_low": reach / 4, "error_high": reach, "accuracy_margin": accuracy,
        "survivability": lasting, "leakage_basis": "measured", "verdict": Verdict.PASS,
        "rejected": False, "reason": "said", "dominated_by": "",
    }  # fmt: skip
    return Candidate(**(fields | changes))


def ranked(*candidates: Candidate, every: tuple[Candidate, ...] = ()) -> SimpleNamespace:
    """What of a ranking the chart reads."""
    return SimpleNamespace(candidates=candidates, every_resistor=every)


def drawn(rank: SimpleNamespace):
    """The points, their plane and the signs drawn of them."""
    shown = points(rank)
    plane = plane_of(shown, 0.0, 1000.0, 0.0, 500.0)
    return shown, plane, marks_of(shown, plane)


def test_the_dot_stands_at_the_margins_of_the_table_and_the_line_reaches_the_probable_error():
    (point,), plane, (mark,) = drawn(ranked(candidate("one", 4.0, 2.0)))
    assert (point.x, point.y) == (4.0, 2.0)
    assert point.probable == pytest.approx(8.0, abs=1e-9)  # half of the error at 95 %
    assert mark.x == pytest.approx(plane.across(4.0), abs=1e-9)


def test_the_curve_holds_resistors_judged_no_worse_that_survive():
    rows = (
        candidate("one", 5.0, 0.5, series_resistance=1e3, verdict=Verdict.FAIL),
        candidate("one", 4.0, 2.0, series_resistance=1e4),
        candidate("one", 3.0, 8.0, series_resistance=1e5),
        candidate("one", 0.9, 9.0, series_resistance=1e6, verdict=Verdict.UNDECIDED),
    )
    (point,) = points(ranked(rows[1], every=rows))
    assert point.curve == ((4.0, 2.0), (3.0, 8.0)) and point.ends == (1e4, 1e5)


def test_dominated_ones_beyond_the_axis_are_one_arrow_with_their_values():
    far = [
        candidate(f"far{n}", x, 1.0, dominated_by="one K/A in T2")
        for n, x in enumerate((6.1e-5, 3.3e-3))
    ]
    _, _, marks = drawn(ranked(candidate("one", 4.0, 2.0), *far))
    (arrow,) = [m for m in marks if m.edge]
    assert (arrow.edge, arrow.count) == ("left", 2)
    assert arrow.values() == "0.000061× … 0.0033×"
    assert "far0" in arrow.words() and "far1" in arrow.words()


def test_what_has_no_bound_stands_at_its_edge_and_the_front_is_never_drawn_as_one():
    unbound = candidate("bare", math.inf, 2.0, error=0.0, error_low=0.0, error_high=0.0)
    twins = [candidate(name, 4.0, 2.0) for name in ("one", "two")]
    _, _, marks = drawn(ranked(unbound, *twins))
    assert sorted((m.edge, m.count) for m in marks) == [("", 1), ("", 1), ("right", 1)]
    assert next(m for m in marks if m.edge).values() == "unlimited"


def test_labels_cover_nothing_that_is_there():
    taken = [Box(0, 0, 100, 45), *along([(50, 45), (50, 200)])]
    box = free_place((50, 50), "a name", 13.0, taken, (Box(0, 0, 300, 200),))
    assert box is not None and not any(box.shared(other) for other in taken)
    assert free_place((50, 50), "a name", 13.0, taken, (Box(0, 0, 60, 200),)) is None


def test_the_picture_is_xml_and_names_of_near_candidates_do_not_overlap():
    near = [candidate(f"part-{n}", 4.0 * 1.03**n, 2.0 / 1.03**n) for n in range(5)]
    svg = pareto_svg(ranked(*near), in_page=False)
    root = ElementTree.fromstring(svg)
    texts = [t for t in root.iter("{http://www.w3.org/2000/svg}text") if "part-" in (t.text or "")]
    assert len(texts) == 5
    boxes = [_box(t) for t in texts]
    assert not any(one.shared(other) for one, other in combinations(boxes, 2))
    assert re.search(r"var\(--", svg) is None


def _box(text: ElementTree.Element) -> Box:
    """A little less than what a line of text covers."""
    x, y = float(text.get("x", "")), float(text.get("y", ""))
    wide = 6.0 * len(text.text or "")
    left = x - wide if text.get("text-anchor") == "end" else x
    return Box(left, y - 10, left + wide, y + 2)
