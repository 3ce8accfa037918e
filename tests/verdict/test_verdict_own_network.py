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
