"""First-order figures of impulses: closed forms against published values and integrals done apart."""

from __future__ import annotations

import numpy as np
import pytest

from clampwright import actions
from clampwright.actions.waves import impulses
from clampwright.verdict.impulses import surge_time, surge_time_squared


@pytest.fixture(scope="module")
def orchard(tmp_path_factory: pytest.TempPathFactory) -> actions.Case:
    return actions.open_case(
        actions.demo_workspace(tmp_path_factory.mktemp("impulses") / "orchard")
    )


def changed(
    case: actions.Case, number: int, outer: float | None = None, **fault: object
) -> actions.Case:
    faults = list(case.design.faults)
    faults[number - 1] = faults[number - 1].model_copy(update=fault)
    network = case.design.network
    if outer is not None:
        resistor = network.outer_resistor.model_copy(update={"value": outer, "count": 1})
        network = network.model_copy(update={"outer_resistor": resistor})
    design = case.design.model_copy(update={"faults": tuple(faults), "network": network})
    return actions.Case(design, case.design_hash, case.workspace)


def figures(case: actions.Case, name: str) -> dict[str, float]:
    return {fact.name: fact.value for fact in impulses(case)[name].facts}


@pytest.mark.parametrize(
    ("kilovolts", "peak", "energy"), [(2, 7.5, 0.3e-3), (4, 15, 1.2e-3), (8, 30, 4.8e-3)]
)
def test_a_discharge_without_the_resistor(
    orchard: actions.Case, kilovolts: float, peak: float, energy: float
) -> None:
    """IEC 61000-4-2: first peak 7.5, 15, 30 A at 2, 4, 8 kV contact; ½·150 pF·V² by hand."""
    found = figures(changed(orchard, 3, voltage=kilovolts * 1e3), "F3")
    assert found["peak into the first clamp, resistor arced over"] == pytest.approx(peak, abs=1e-9)
    assert found["energy, resistor arced over, at most"] == pytest.approx(energy, abs=1e-9)


def test_a_discharge_with_the_resistor_in_place(orchard: actions.Case) -> None:
    """8 kV over 330 Ω + 940 kΩ; all 1.2 µC go through a junction that holds well under 2 V."""
    found = figures(orchard, "F3")
    peak = found["peak into the first clamp, resistor in place"]
    assert peak == pytest.approx(8e3 / 940_330, abs=1e-9)
    energy = found["energy into the first clamp, resistor in place, at most"]
    assert 0.4 * 1.2e-6 < energy < 2.0 * 1.2e-6


@pytest.mark.parametrize(("volts", "peak"), [(250, 0.17), (1000, 0.67), (4000, 2.67)])
def test_handling_is_another_network(orchard: actions.Case, volts: float, peak: float) -> None:
    """ANSI/ESDA/JEDEC JS-001: peaks of the human body model into a short, printed to 2 decimals."""
    found = figures(changed(orchard, 3, voltage=volts, source_resistance=1500.0), "F3")
    assert found["peak into the first clamp, resistor arced over"] == pytest.approx(peak, abs=0.005)


def test_the_integrals_of_a_surge_are_those_of_its_waveform() -> None:
    """Trapezoidal sum over a millisecond of 1.037·(1 − e^(−t/0.4074 µs))·e^(−t/68.22 µs)."""
    time = np.linspace(0, 2e-3, 2_000_001)
    wave = 1.037 * (1 - np.exp(-time / 0.4074e-6)) * np.exp(-time / 68.22e-6)
    assert surge_time() == pytest.approx(float(np.trapezoid(wave, time)), abs=1e-10)
    assert surge_time_squared() == pytest.approx(float(np.trapezoid(wave**2, time)), abs=1e-10)


@pytest.mark.parametrize(
    ("ohms", "watts", "joules"), [(1e3, 921, 33e-3), (4.7e3, 209, 7.5e-3), (10e3, 99, 3.6e-3)]
)
def test_a_surge_through_the_resistor(
    orchard: actions.Case, ohms: float, watts: float, joules: float
) -> None:
    """1 kV over 42 Ω and a resistor, computed apart: 921, 209, 99 W at the peak and 33, 7.5, 3.6 mJ."""
    case = changed(orchard, 3, outer=ohms, kind="surge", voltage=1e3, source_resistance=42.0)
    found = figures(case, "F3")
    peak = found["peak into the first clamp, resistor in place"]
    assert peak**2 * ohms == pytest.approx(watts, abs=0.006 * watts)
    assert found["energy in the outer resistor"] == pytest.approx(joules, abs=0.02 * joules)
    arced = found["peak into the first clamp, resistor arced over"]
    assert arced == pytest.approx(1e3 / 42, abs=1e-9)


def test_what_has_no_figures_says_why_and_no_verdict_changes(orchard: actions.Case) -> None:
    strange = impulses(changed(orchard, 3, source_resistance=777.0))["F3"]
    assert not strange.facts and "330" in strange.note and "1.50" in strange.note
    surge = impulses(changed(orchard, 3, kind="surge"))["F3"]
    assert not surge.facts and "source_resistance is not stated" in surge.note
    burst = impulses(changed(orchard, 3, kind="burst"))["F3"]
    assert not burst.facts and "burst" in burst.note
    assert all(fact.source for fact in impulses(orchard)["F3"].facts)
    assert actions.faults(orchard).verdict == "NOT MEASURED"
