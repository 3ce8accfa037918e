"""Safety gates. Limits: IEC 61010-1, accessible parts, value from memory: check the edition.

Normal condition, dry: 30 V rms, 42.4 V peak, 60 V direct; wet: 16 V, 22.6 V, 35 V.
"""

import pytest
from small_designs import design

from clampwright.verdict.check import check_design
from clampwright.verdict.gates import SCOPE, gate
from clampwright.verdict.results import Verdict


def with_fault(voltage, kind="dc", **surroundings):
    fault = {"name": "F1", "kind": kind, "voltage": voltage}
    return gate(design(faults=[fault], surroundings=surroundings))


@pytest.mark.parametrize(
    ("voltage", "kind", "wet", "level"),
    [
        ("60 V", "dc", False, "none"),
        ("60.1 V", "dc", False, "amber"),
        ("-60.1 V", "dc", False, "amber"),
        ("35 V", "dc", True, "none"),
        ("35.1 V", "dc", True, "amber"),
        ("29.9 V", "mains-frequency", False, "none"),
        ("30.1 V", "mains-frequency", False, "amber"),
        ("15.9 V", "mains-frequency", True, "none"),
        ("16.1 V", "mains-frequency", True, "amber"),
        ("12 V", "dc", False, "none"),
        ("24 V", "mains-frequency", True, "amber"),  # valve wire in wet soil
        ("200 V", "dc", False, "amber"),
    ],
)
def test_limits(voltage, kind, wet, level):
    raised = with_fault(voltage, kind, wet=wet)
    assert raised.level == level
    assert raised.held == (level == "amber")


def test_the_reason_names_fault_limit_and_standard():
    words = with_fault("24 V", "mains-frequency", wet=True).reasons[0].replace("\u2009", " ")
    for part in ("fault F1", "24.0 V", "16.0 V rms", "skin may be wet", "check the edition"):
        assert part in words


def test_a_signal_counts_like_a_fault():
    large = {"signal_minimum": "0 V", "signal_maximum": "36 V"}
    assert gate(design(requirement=large, surroundings={"wet": True})).level == "amber"
    assert gate(design(requirement=large)).level == "none"


def test_mains_nearby_brings_the_mains_caution():
    raised = gate(design(surroundings={"mains_nearby": True}))
    assert raised.level == "amber"
    assert any("oscilloscope's earth" in c for c in raised.cautions)


def test_an_acknowledged_amber_gate_is_not_held():
    assert not with_fault("200 V", acknowledged="A. Person").held
    assert with_fault("200 V", acknowledged="  ").held


@pytest.mark.parametrize("answer", ["patient", "explosive_atmosphere"])
def test_red_is_held_whatever_is_acknowledged(answer):
    case = design("T1", surroundings={answer: True, "acknowledged": "A. Person"})
    raised = gate(case)
    assert raised.level == "red"
    assert raised.held
    assert any("independent test" in c for c in raised.cautions)
    result = check_design(case, None)
    assert result.verdict is Verdict.PASS
    assert result.gate.held
    assert result.reason.startswith("numbers shown for learning only")


def test_every_gate_carries_scope_and_standing_cautions():
    for raised in (gate(design()), with_fault("200 V"), with_fault("1 V", patient=True)):
        assert SCOPE in raised.cautions
        assert any("200 °C" in c for c in raised.cautions)
        assert any("repeat the leakage test" in c for c in raised.cautions)
