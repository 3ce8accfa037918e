"""Every topology draws: with its values, apart from each other, with a text alternative, the same twice."""

from __future__ import annotations

import re
from functools import cache
from xml.etree import ElementTree

import pytest
from sample_results import sample_check
from sample_stresses import sample_faults, sample_impulse
from sample_topologies import EVERY, sample_of

from clampwright.errors import InputError
from clampwright.network.topologies import CATALOGUE, topology_named
from clampwright.record.circuit_pictures import PICTURES, picture_of
from clampwright.record.look import VERMILION
from clampwright.record.network_text import network_rows
from clampwright.record.schematic import schematic_svg, topology_svg
from clampwright.record.symbols import Pen, Place
from clampwright.verdict.results import CheckResult

PRESSED = {"node_capacitance": 1e-9, "differential_capacitance": 22e-9}
MIRRORED = ("T13", "T15", "own")  # no leg of a pair, or the pair itself
CROWDED = (
    ("pair", "T3"),
    ("pair", "T7"),
    ("pair", "T16"),
    ("capacitor", "T7"),
    ("capacitor", "T16"),
)  # many parts
NARROW, WIDE_LETTER = 0.58, 0.75  # em: width of an average character, height of a capital


@cache
def drawing(kind: str, name: str) -> str:
    if kind == "small":
        return topology_svg(name)
    if kind == "pair":
        return schematic_svg(with_rail_shunt(sample_of(name, pair=True, **PRESSED)))
    changes = {"node_capacitance": 1e-9} if kind == "capacitor" else {}
    return schematic_svg(sample_of(name, **changes))


def with_rail_shunt(check: CheckResult) -> CheckResult:
    rails = check.design.rails.model_copy(update={"shunt_voltage": 5.6})
    return check.model_copy(update={"design": check.design.model_copy(update={"rails": rails})})


ALL = [("wide", n) for n in EVERY] + [("small", n) for n in EVERY]
ALL += [("pair", n) for n in ("T1", "T2", "T3", "T5", "T6", "T7", "T16", "T17", "T18")]
ALL += [("capacitor", n) for n in ("T2", "T5", "T7", "T8", "T16", "T17")]
EACH = pytest.mark.parametrize(("kind", "name"), ALL, ids=lambda v: v)


def words_of(svg: str) -> str:
    root = ElementTree.fromstring(svg)
    return " ".join("".join(node.itertext()) for node in root.iter() if node.tag.endswith("text"))


def test_every_topology_of_the_catalogue_has_its_picture() -> None:
    for name in CATALOGUE:
        assert picture_of(name)
    assert {*PICTURES} == {*CATALOGUE} - {"T15"} | {"own"}


@pytest.mark.parametrize("name", sorted(PICTURES.keys() - {"own"}))
def test_a_picture_shows_roles_that_its_topology_has(name: str) -> None:
    roles = {role.name for role in topology_named(name).roles}
    picture = picture_of(name)
    shown = {part.role for part in (*picture.line, *picture.hanging)}
    shown |= {picture.tube.role} if picture.tube else set()
    assert shown <= roles
    assert (picture.clamps != "none") == topology_named(name).has_clamp


@EACH
def test_it_has_a_text_alternative_unique_ids_and_is_the_same_twice(kind: str, name: str) -> None:
    svg = drawing(kind, name)
    root = ElementTree.fromstring(svg)
    assert root.attrib["role"] == "img"
    title, description = root[0], root[1]
    assert title.tag.endswith("title") and title.text
    assert description.tag.endswith("desc") and len(description.text or "") > 20
    ids = [node.attrib["id"] for node in root.iter() if "id" in node.attrib]
    assert len(ids) == len(set(ids))
    assert root.attrib["aria-labelledby"].split() == [title.attrib["id"], description.attrib["id"]]
    drawing.cache_clear()
    assert drawing(kind, name) == svg


@EACH
def test_texts_stay_inside_the_drawing_and_apart(kind: str, name: str) -> None:
    """Rough boxes of every text: no two may overlap, none may leave the drawing."""
    root = ElementTree.fromstring(drawing(kind, name))
    left, top, width, height = map(float, root.attrib["viewBox"].split())
    boxes = []
    for node in root.iter():
        if not node.tag.endswith("text") or not "".join(node.itertext()).strip():
            continue
        size, words = float(node.attrib["font-size"]), "".join(node.itertext())
        x, y = float(node.attrib["x"]), float(node.attrib["y"])
        long = NARROW * size * len(words)
        start = {"middle": x - long / 2, "end": x - long}.get(node.attrib["text-anchor"], x)
        boxes.append((start, y - WIDE_LETTER * size, start + long, y, words))
    for a in boxes:
        assert a[0] > left - 2 and a[2] < left + width + 6, a
        assert a[1] > top - 2 and a[3] < top + height + 2, a
        for b in boxes:
            apart = a[2] <= b[0] or b[2] <= a[0] or a[3] <= b[1] or b[3] <= a[1]
            assert a is b or apart, (a, b)


@EACH
def test_texts_are_large_enough_and_the_drawing_is_a_page_wide(kind: str, name: str) -> None:
    root = ElementTree.fromstring(drawing(kind, name))
    sizes = [float(n.attrib["font-size"]) for n in root.iter() if n.tag.endswith("text")]
    assert min(sizes) >= 7.0
    millimetres = float(root.attrib["width"].removesuffix("pt")) / 72 * 25.4
    widest = 200 if (kind, name) in CROWDED else 168
    assert 150 <= millimetres <= widest or (kind == "small" and 100 <= millimetres <= 135)


@pytest.mark.parametrize("name", EVERY)
def test_values_voltages_and_places_stand_on_the_drawing(name: str) -> None:
    words = words_of(drawing("wide", name))
    for expected in (
        "218\u2009MΩ",
        "2 × 470\u2009kΩ",
        "+2.5\u2009V",
        "−2.5\u2009V",
        "+224\u2009mV",
    ):
        assert expected in words
    assert ("sits at" in words) == topology_named(name).has_clamp


@pytest.mark.parametrize(
    ("name", "expected"),
    [
        ("T3", "+1.8\u2009V"),
        ("T4", "feedback 100\u2009kΩ, assumed"),
        ("T5", "guard resistor 4.7\u2009kΩ"),
        ("T5", "guard follower"),
        ("T7", "700\u2009Ω"),
        ("T8", "10\u2009nF"),
        ("T9", "suppressor 12 V"),
        ("T9", "+30\u2009mV"),
        ("T10", "47\u2009Ω"),
        ("T11", "contact, assumed"),
        ("T12", "gas tube"),
        ("T13", "feedback 1\u2009GΩ"),
        ("T14", "insulation, assumed"),
        ("T16", "100\u2009kΩ"),
        ("T17", "each sits at 112\u2009mV"),
        ("T18", "limited to 5\u2009mA"),
    ],
)
def test_what_only_this_topology_has_is_named(name: str, expected: str) -> None:
    assert expected in words_of(drawing("wide", name))


def test_a_pair_shows_both_legs_and_what_is_between_them() -> None:
    words = words_of(drawing("pair", "T2"))
    assert words.count("2 × 470\u2009kΩ") == 2
    assert words.count("sits at") == 2  # upper and lower clamp, said once for both legs
    assert "22\u2009nF between the legs" in words
    assert "rail shunt" in words
    assert "Two such legs" in drawing("pair", "T2")
    assert "Two such legs" in drawing("wide", "T15")
    assert "Two such legs" not in drawing("wide", "T2")


def test_the_legs_of_a_pair_of_tolerant_inputs_reach_the_amplifier(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """From the end of the line to the pin there is the limiter on the chip, in both legs."""
    lines, limiters = [], []
    draw_line, draw_limiter = Pen.line, Pen.limiter

    def line(pen: Pen, *points: Place, **how: bool) -> None:
        lines.extend((points[0], points[-1]))
        draw_line(pen, *points, **how)

    def limiter(pen: Pen, start: Place, end: Place, **how: bool) -> None:
        wires = [(round(x, 6), round(y, 6)) for x, y in lines]
        limiters.append((start, end))
        assert (round(start[0], 6), round(start[1], 6)) in wires  # the line ends where it begins
        draw_limiter(pen, start, end, **how)

    monkeypatch.setattr(Pen, "line", line)
    monkeypatch.setattr(Pen, "limiter", limiter)
    schematic_svg(sample_of("T18", pair=True))
    assert len(limiters) == 2
    wires = [(round(x, 6), round(y, 6)) for x, y in lines]
    for _, end in limiters:  # once from the limiter, once from the amplifier
        assert wires.count((round(end[0], 6), round(end[1], 6))) == 2


def test_a_small_drawing_carries_no_values() -> None:
    for name in EVERY:
        assert not re.search(r"\d\s*(?:[kMGTmµnpf]?[ΩVAF])\b", words_of(drawing("small", name)))
    with pytest.raises(InputError, match="there is no topology"):
        topology_svg("T19")


@pytest.mark.parametrize("name", [n for n in EVERY if n != "T15"])
def test_the_path_of_a_fault_is_heavy_with_its_current(name: str) -> None:
    check, case = sample_of(name), sample_faults().cases[1]
    assert VERMILION not in schematic_svg(check)
    svg = schematic_svg(check, case)
    assert "stroke-width:3.0" in svg
    assert "battery lead: 16.0\u2009µA" in words_of(svg)


def test_a_fault_on_both_leads_is_heavy_on_both_legs() -> None:
    check = sample_of("T2", pair=True)
    case = sample_faults().cases[1]
    twice = tuple(f.model_copy(update={"channels": 2}) for f in check.design.faults)
    both = check.model_copy(update={"design": check.design.model_copy(update={"faults": twice})})
    once = schematic_svg(check, case).count("stroke-width:3.0")
    assert schematic_svg(both, case).count("stroke-width:3.0") >= 2 * once - 1


def test_an_unsolved_fault_is_named_and_draws_no_path() -> None:
    svg = schematic_svg(sample_check("T2"), sample_impulse())
    assert "impulse: not solved" in words_of(svg)
    assert "stroke-width:3.0" not in svg


@pytest.mark.parametrize("name", EVERY)
def test_the_table_of_parts_lists_what_is_stated_and_marks_what_is_assumed(name: str) -> None:
    check = sample_of(name)
    rows = dict(network_rows(check))
    texts = " ".join(rows.values())
    for stated in check.design.network.classes.values():
        assert stated in texts
    shown = ", ".join(f"{k}: {v}" for k, v in rows.items())
    for role in topology_named(name).roles:
        plain = role.kind in ("resistor", "leak") and role.required and role.default
        if plain and role.name not in check.design.network.values and name != "T15":
            fitted = role.name in ("R_outer", "R_guard", "R_fault")
            assert fitted or f"{role.words}: " in shown
    if name in ("T4", "T11", "T12", "T14"):
        assert "assumed" in texts


def test_a_pair_says_how_its_legs_may_differ() -> None:
    rows = dict(network_rows(sample_of("T2", pair=True, **PRESSED)))
    assert rows["input"].startswith("differential: two legs")
    assert rows["capacitor between the legs"] == "22\u2009nF"
    assert "not measured" in rows["mismatch of the clamps"]
    measured = dict(network_rows(sample_of("T2", pair=True, clamp_match=0.1)))
    assert measured["mismatch of the clamps"].startswith("10")
    assert "mismatch of the clamps" not in dict(network_rows(sample_of("T2")))
