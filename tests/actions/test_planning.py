"""Plans by hand: noise, drift and scale of the sheet, heat by Arrhenius, the claim's bound."""

from __future__ import annotations

import json
import shutil
from functools import partial
from math import exp, hypot, sqrt
from pathlib import Path
from statistics import NormalDist

import numpy as np
import pytest

from clampwright import actions
from clampwright.bench.planner import zero_scatter
from clampwright.bench.readings import read_readings
from clampwright.errors import InputError
from clampwright.quantities import write
from command_line import clampwright

K = 8.617333262e-5  # [eV/K] CODATA
Q = 1.602176634e-19  # [C] SI
BAD_INPUT = 64
SHEET = """id = "B1"
scale = "1 mV/nA"
tolerance = "1 %"
resolution = "1 µV"
feedback_resistance = "1 MΩ"
offset_drift = "2 µV/K"
bench_change = "1 K"
noise = "1.1 µV"
"""


@pytest.fixture(scope="module")
def bench(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The orchard demonstration with one more adapter whose zero was never read."""
    root = tmp_path_factory.mktemp("plan") / "orchard"
    actions.demo_workspace(root)
    (root / "instruments" / "B1.toml").write_text(SHEET, "utf-8")
    return root


def by_hand(current: float, count: int) -> tuple[float, float]:
    """Standard uncertainty (A) of a net zero and of a current, from the numbers of the sheet."""
    scatter = hypot(1.1e-12, sqrt(2 * Q * current / 0.4)) / sqrt(count)  # 1.1 µV over 1 mV/nA
    zero_scatter_alone = 1.1e-12 / sqrt(count)
    resolution, drift, scale = 1e-12 / sqrt(12), 2e-12 / sqrt(3), 0.01 / sqrt(3) * current
    zero = sqrt(2 * zero_scatter_alone**2 + resolution**2 + drift**2)
    return zero, sqrt(2 * scatter**2 + resolution**2 + drift**2 + scale**2)


def test_a_plan_by_hand(bench: Path) -> None:
    found = actions.plan_readings(bench, "npn-small", instruments=("B1",))
    plan = found.plan
    assert plan is not None and "1.1 µV, as its sheet states" in found.notes[0].replace(
        "\u2009", " "
    )
    hot = found.expected * exp(found.activation_energy / K * (1 / 296.15 - 1 / plan.temperature))
    assert plan.expected == pytest.approx(hot, rel=1e-9, abs=0)
    zero, total = by_hand(plan.expected, plan.count)
    assert plan.detection_limit == pytest.approx(3.29 * zero, rel=1e-3, abs=0)
    assert plan.relative == pytest.approx(total / plan.expected, rel=1e-3, abs=0)
    assert plan.relative <= 0.1
    assert plan.signal == pytest.approx(plan.expected * 1e6, rel=1e-9, abs=0)  # 1 mV/nA
    assert plan.gate == 0.2  # ten cycles of 50 Hz
    assert plan.wait == 60 + 600  # above 10 pA, and ten minutes after heating: docs/measuring.md


def test_the_mains_sets_the_gate(bench: Path) -> None:
    found = actions.plan_readings(bench, "npn-small", instruments=("B1",), mains="60 Hz")
    assert found.plan is not None and found.plan.gate == pytest.approx(10 / 60, rel=1e-12, abs=0)


@pytest.mark.parametrize(("confidence", "sure"), [("95 %", 0.95), ("99 %", 0.99)])
def test_a_claim_by_hand(bench: Path, confidence: str, sure: float) -> None:
    found = actions.plan_readings(
        bench, "jfet-small", instruments=("B1",), claim="< 2 pA", confidence=confidence
    )
    plan = found.plan
    assert plan is not None and plan.upper_bound <= 2e-12 == found.claim
    step = (1 / 296.15 - 1 / plan.temperature) / K
    _, total = by_hand(plan.expected, plan.count)
    reach = NormalDist().inv_cdf(sure)
    kelvin = found.activation_energy / (K * plan.temperature**2)  # ± 1 K
    least = (plan.expected + reach * total) / exp(found.activation_energy * step)
    assert plan.upper_bound >= least * exp(reach * kelvin) * (1 - 1e-3)
    assert plan.upper_bound <= least * exp(
        reach * hypot(kelvin, 0.1 * step)
    )  # energy within 0.1 eV
    assert f"{confidence} confidence" not in found.answer and "bound would be" in found.answer


def test_claims_that_no_reading_supports(bench: Path) -> None:
    found = actions.plan_readings(bench, "npn-small", claim="below 1 pA")
    assert found.plan is None and "choose another part" in found.text()
    close = actions.plan_readings(bench, "jfet-small", instruments=("A2",), claim="1.1 pA")
    assert any("then no reading supports this claim" in note for note in close.notes)


def test_voltage_lost_across_a_shunt_is_told(bench: Path, tmp_path: Path) -> None:
    """By hand: the expected current through 1 GΩ; an adapter of 48 µV offset loses too little."""
    root = tmp_path / "orchard"
    shutil.copytree(bench, root)
    sheet = 'id = "S1"\nmethod = "shunt"\nscale = "1 GΩ"\ntolerance = "1 %"\nresolution = "1 µV"\n'
    (root / "instruments" / "S1.toml").write_text(sheet, "utf-8")
    found = actions.plan_readings(root, "npn-small", instruments=("S1",))
    assert found.plan is not None and found.plan.expected * 1e9 > 0.01
    lost = write(found.plan.expected * 1e9, "voltage", digits=2)
    assert f"{lost} is lost across S1, more than" in found.text()
    adapter = actions.plan_readings(root, "npn-small", instruments=("B1",))
    assert "is lost across" not in adapter.text()


def test_scatter_comes_from_zeros_that_were_read(bench: Path) -> None:
    """Hidden: 1.1 µV for A1; by hand from its zero runs; A2 is another instrument."""
    file = bench / "readings" / "orchard-bench.csv"
    readings = read_readings(file.read_bytes())
    scatter, freedom = zero_scatter(readings, "A1")
    assert freedom > 100 and scatter == pytest.approx(1.1e-6, rel=0.15, abs=0)
    few = read_readings(
        "part,wiring,state,reverse voltage (V),temperature (°C),light (lx),instrument,reading (µV)\n"
        ",,zero open,,,,X,1\n,,zero open,,,,X,3\n,,zero fixture,5,,,X,10\n,,zero fixture,5,,,X,10\n"
    )
    assert zero_scatter(few, "X") == (pytest.approx(1e-6, rel=1e-9, abs=0), 2)
    assert zero_scatter(few, "Y") is None
    assert np.isfinite(scatter)


@pytest.mark.parametrize(
    ("changes", "told"),
    [
        ({"part": "nothing"}, 'no part sheet "nothing"; expected'),
        ({"instruments": ("Z9",)}, 'no instrument "Z9"'),
        ({"claim": "1 V"}, "claim"),
        ({"claim": "0 A"}, "above 0 A"),
        ({"confidence": "100 %"}, "cannot be planned for"),
        ({"wiring": "X/Y"}, "X/Y"),
        ({"voltage": "5"}, "unit"),
    ],
)
def test_what_cannot_be_planned(bench: Path, changes: dict[str, str], told: str) -> None:
    with pytest.raises(InputError, match=told):
        actions.plan_readings(bench, **{"part": "npn-small", **changes})


def test_the_command(bench: Path) -> None:
    run = partial(clampwright, "plan")
    by_id = run("npn-small", "--in", bench, "--instrument", "A1")
    by_file = run(bench / "parts" / "npn-small.toml", "--instrument", "A1")
    assert by_id == by_file and by_id.code == 0 and "min with zeros" in by_id.out
    told = json.loads(run("jfet-small", "--in", bench, "--for", "< 2 pA", "--json")[1])
    assert told["claim"] == {"value": 2e-12, "unit": "A"}
    assert json.loads(run("--schema")[1])["type"] == "object"
    assert run()[0] == BAD_INPUT
