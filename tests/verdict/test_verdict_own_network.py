"""A user's own network in the design sheet against the listed topology of the same shape."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest

from clampwright import actions
from clampwright.errors import InputError

LISTED = 'topology = "T6"             # resistor, clamps to the rails, resistor'
OWN = """topology = "own"

[[network.elements]]
kind = "resistor"
name = "R_outer"
between = ["connector", "clamped"]
value = "100 kΩ"

[[network.elements]]
kind = "resistor"
name = "R_pin"
between = ["clamped", "pin"]
value = "10 kΩ"

[[network.elements]]
kind = "clamp"
name = "up"
anode = "clamped"
cathode = "rail positive"
part = "my-transistor C/B+E"

[[network.elements]]
kind = "clamp"
name = "down"
anode = "rail negative"
cathode = "clamped"
part = "my-transistor C/B+E"
"""


@pytest.fixture
def workspace(tmp_path: Path) -> Path:
    return actions.new_workspace(tmp_path / "mine")


def drawn(workspace: Path, *changes: tuple[str, str]) -> Path:
    """The starter's design with its network drawn by hand, and some of its text changed."""
    text = (workspace / "designs" / "my-input.toml").read_text("utf-8")
    head, rest = text.split("[network]\n")
    tail = rest[rest.index("[[faults]]") :]
    outer = '[network.outer_resistor]\nvalue = "100 kΩ"\npackage = "1206"\n\n'
    own = OWN
    for old, new in changes:
        assert old in own
        own = own.replace(old, new, 1)
    first, elements = own.split("\n\n", 1)
    body = f'[network]\n{first}\nclamp = "my-transistor C/B+E"\n\n{elements}\n{outer}'
    path = workspace / "designs" / "drawn.toml"
    path.write_text(head + body + tail, "utf-8")
    tomllib.loads(path.read_text("utf-8"))
    return path


def test_same_shape_same_error(workspace):
    listed = actions.check(actions.open_case(workspace / "designs" / "my-input.toml"))
    own = actions.check(actions.open_case(drawn(workspace)))
    for a, b in zip(listed.judgements, own.judgements, strict=True):
        assert (b.error, b.low, b.high) == pytest.approx((a.error, a.low, a.high), rel=1e-9, abs=0)
        assert b.verdict == a.verdict
    assert own.dynamics.bandwidth == pytest.approx(listed.dynamics.bandwidth, rel=0.05, abs=0)
    stressed = [actions.faults(actions.open_case(p)) for p in (drawn(workspace),)]
    reference = actions.faults(actions.open_case(workspace / "designs" / "my-input.toml"))
    assert stressed[0].survivability == pytest.approx(reference.survivability, rel=1e-9, abs=0)


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        (
            'anode = "rail negative"\ncathode = "clamped"',
            'anode = "somewhere"\ncathode = "nowhere"',
            "somewhere",
        ),
        ('name = "up"', 'name = "R_pin"', "R_pin"),
        ('name = "R_outer"', 'name = "R_first"', "R_outer"),
        ('value = "100 kΩ"', 'value = "47 kΩ"', "R_outer"),
        ('between = ["clamped", "pin"]', 'between = ["clamped", "0"]', "0"),
    ],
)
def test_mistakes_are_told_by_name(workspace, old, new, said):
    with pytest.raises(InputError) as complaint:
        actions.check(actions.open_case(drawn(workspace, (old, new))))
    assert said in str(complaint.value) and "\n" not in str(complaint.value)


def terms_of(workspace: Path, *changes: tuple[str, str], view: str = "protection") -> dict:
    result = actions.check(actions.open_case(drawn(workspace, *changes)))
    found = next(j for j in result.judgements if j.name.startswith(view))
    return {t.name: t for t in found.terms}


UP = 'cathode = "rail positive"\npart = "my-transistor C/B+E"'
DOWN = 'cathode = "clamped"\npart = "my-transistor C/B+E"'


def test_a_clamp_of_a_class_is_a_clamp_under_its_own_name(workspace):
    """Between half a decade and two either way: the class is what is believed before a reading."""
    up = terms_of(workspace, (UP, UP.replace("my-transistor C/B+E", "glass switching diode")))
    term = up["clamp up"]
    assert (term.group, term.basis, term.source) == (
        "clamp",
        "assumed",
        "class glass switching diode",
    )
    assert 3 < term.high / term.value < 100 and 3 < term.value / term.low < 100
    assert not any("insulation" in name for name in up)
    alone = terms_of(
        workspace,
        (UP, UP.replace("my-transistor C/B+E", "glass switching diode")),
        view="clamp alone",
    )
    assert alone["clamp up"] == term


STATED = """
[[network.elements]]
kind = "leak"
name = "film"
between = ["clamped", "rail positive"]
value = "1 TΩ"

[[network.elements]]
kind = "current"
name = "heat"
node = "pin"
value = "1 pA"
"""


def test_what_the_sheet_states_is_defined_and_by_hand(workspace):
    """Superposition by hand: a leak (V_rail − V)·R/R_leak, a current I·(R_S + R_outer + R_pin)."""
    found = terms_of(workspace, (UP, UP + "\n" + STATED))
    for name in ("leak film", "current heat"):
        assert found[name].basis == "defined" and found[name].low == found[name].high
    series = 1e6 + 100e3
    assert found["current heat"].value == pytest.approx(1e-12 * (series + 10e3), rel=1e-4, abs=0)
    signal = -1.0  # the corner where the clamp to the positive rail leaks most
    leak = (5.0 - signal) * series / (1e12 + series)
    assert found["leak film"].value == pytest.approx(leak, rel=1e-4, abs=0)


def test_a_leak_that_holds_a_node_keeps_its_name(workspace):
    """Two in a row draw the same current: what cannot be taken apart is told together."""
    first = STATED.split("\n\n")[0].replace("rail positive", "middle")
    second = first.replace("film", "base").replace('"clamped"', '"ground"')
    found = terms_of(workspace, (UP, UP + "\n" + first + "\n" + second))
    series = 1e6 + 100e3
    leaks = {name: term for name, term in found.items() if name.startswith("leak ")}
    assert all(t.basis == "defined" for t in leaks.values())
    total = sum(t.value for t in leaks.values())
    assert abs(total) == pytest.approx(1.0 * series / (2e12 + series), rel=1e-4, abs=0)


GATE = """
id = "my-gate"
title = "My JFET gate"
kind = "n-channel jfet"
leads = ["D", "G", "S"]
[package]
name = "TO-92"
light = "opaque plastic"
[[junctions]]
name = "gate"
anode = "G"
cathode = "D"
class = "jfet gate small"
[[figures]]
quantity = "reverse leakage"
of = "gate"
kind = "typical"
value = "1 pA"
voltage = "20 V"
temperature = "25 °C"
source = "invented for this test"
"""


def test_two_parts_each_with_its_own_evidence(workspace):
    (workspace / "parts" / "my-gate.toml").write_text(GATE, "utf-8")
    other = (DOWN, DOWN.replace("my-transistor C/B+E", "my-gate G/D+S"))
    result = actions.check(actions.open_case(drawn(workspace, other)))
    alone = next(j for j in result.judgements if j.name.startswith("clamp alone"))
    assert {t.name for t in alone.terms} == {"clamp up"}  # the other pulls down: not credited
    said = "what a fault does to down (my-gate G/D+S), R_pin is not judged"
    assert any(said in flag for flag in result.flags)
    swapped = drawn(workspace, (UP, UP.replace("my-transistor C/B+E", "my-gate G/D+S")))
    terms = actions.check(actions.open_case(swapped)).judgements[1].terms
    named = {t.name: t for t in terms}
    both = [named[n] for n in named if n.startswith("clamp ")]
    assert len(both) == 1  # the larger one decides
    ranked = actions.rank(actions.open_case(drawn(workspace, other)))
    assert ranked.candidates and "neither a part" not in ranked.model_dump_json()


@pytest.mark.parametrize(
    ("part", "said"),
    [
        ("my-transistor X/Y", 'network.elements, up.part: part my-transistor has no wiring "X/Y"'),
        (
            "glas switching diode",
            'up.part: "glas switching diode" is neither a part of the workspace',
        ),
        ("my-transistor", "up.part: the clamp is not a part and a wiring: my-transistor"),
    ],
)
def test_a_part_that_is_not_there_is_told_by_element_and_field(workspace, part, said):
    with pytest.raises(InputError) as complaint:
        actions.open_case(drawn(workspace, (UP, UP.replace("my-transistor C/B+E", part))))
    assert said in str(complaint.value) and "\n" not in str(complaint.value)


def test_the_outer_resistor_may_be_written_once(workspace):
    path = drawn(workspace)
    twice = actions.check(actions.open_case(path))
    text = path.read_text("utf-8")
    table = '[network.outer_resistor]\nvalue = "100 kΩ"\npackage = "1206"\n'
    assert table in text
    path.write_text(text.replace(table, ""), "utf-8")
    once = actions.check(actions.open_case(path))
    assert [j.error for j in once.judgements] == [j.error for j in twice.judgements]


def test_a_clamp_that_no_element_is_made_of_is_refused(workspace):
    changed = [(UP, UP.replace("C/B+E", "C/B")), (DOWN, DOWN.replace("C/B+E", "C/B"))]
    with pytest.raises(InputError, match=r'no element is made of "my-transistor C/B\+E"'):
        actions.check(actions.open_case(drawn(workspace, *changed)))
