"""Every topology and fault stage, random values: the compiled solver and the plain one agree."""

import numpy as np
import pytest
from topology_cases import case_of, values

from clampwright.network.compiled import solve_compiled
from clampwright.network.equivalents import arc_law, leak_law, limiter_law
from clampwright.network.solve import Values, solve_plain
from clampwright.network.topologies import (
    CATALOGUE,
    error_voltage,
    fault_circuit,
    signal_circuit,
)
from clampwright.physics.clamp import ClampLaw, at_conditions

CASES = 48
ROOM = 298.15
STAGES = [(name, stage) for name, t in CATALOGUE.items() for stage in t.stages]


@pytest.mark.parametrize("name", CATALOGUE)
def test_normal_use_is_the_same_compiled(name):
    """Source resistances of ten decades; the error agrees to its condition's rounding."""
    topology = CATALOGUE[name]
    sources = np.geomspace(1e6, 1e13, CASES)
    given = values(name, case_of(name, 1e-12, 1e6))
    resistances = {n: sources if n.startswith("R_S") else r for n, r in given.resistances.items()}
    given = Values(given.potentials, resistances, given.laws, given.currents, given.driven)
    circuit = signal_circuit(topology)
    plain, compiled = solve_plain(circuit, given), solve_compiled(circuit, given)
    assert plain.converged.all()
    assert compiled.converged.all()
    found, expected = (error_voltage(topology, s, given) for s in (compiled, plain))
    assert found == pytest.approx(expected, rel=1e-9, abs=0)


@pytest.mark.parametrize(("name", "stage"), STAGES)
def test_faults_are_the_same_compiled(name, stage):
    """0.1 V…3 kV of either sign, resistors of six decades, limiters, shunts, arcs and leaks."""
    random = np.random.default_rng(int(name[1:]))
    topology = CATALOGUE[name]
    present = [
        r.name for r in topology.roles if not r.required and r.kind not in ("figure", "capacitor")
    ]
    circuit = fault_circuit(topology, present=present, stage=stage)
    given = _random_fault(random, circuit)
    plain, compiled = solve_plain(circuit, given), solve_compiled(circuit, given)
    assert plain.converged.all()
    assert compiled.converged.all()
    for resistor in circuit.resistors:
        if resistor.name.startswith("R_fault"):
            found, expected = (s.resistor_current[resistor.name] for s in (compiled, plain))
            assert found == pytest.approx(expected, rel=1e-6, abs=1e-18)


def _random_fault(random, circuit):
    fault = random.choice([-1, 1], CASES) * 10 ** random.uniform(-1, 3.5, CASES)
    potentials = {"rail positive": 5.0, "rail negative": -5.0, "ground": 0.0, "middle bias": 0.2}
    for name in circuit.fixed:
        if name.startswith("fault"):
            potentials[name] = fault
        elif name.startswith(("guard", "output")):
            potentials[name] = np.clip(fault, -5.0, 5.0)
    limiter = limiter_law(
        10 ** random.uniform(-4, -1, CASES), 10 ** random.uniform(1, 4, CASES), ROOM, 200.0
    )
    laws = {c.name: _law(random, c.name, limiter) for c in circuit.clamps}
    return Values(
        potentials,
        {r.name: 10 ** random.uniform(0, 6, CASES) for r in circuit.resistors},
        {name: at_conditions(law, ROOM) for name, law in laws.items()},
        {},
        {},
    )


def _law(random, name, limiter):
    if "limiter" in name:
        return limiter
    if "leak" in name or "insulation" in name:
        return leak_law(10 ** random.uniform(8, 13, CASES))
    if "arc" in name:
        return arc_law(20.0)
    if "shunt" in name or name == "suppressor":
        return ClampLaw(generation_current=1e-9, diffusion_current=1e-12, breakdown_voltage=5.1)
    return ClampLaw(
        generation_current=10 ** random.uniform(-14, -9, CASES),
        diffusion_current=10 ** random.uniform(-17, -10, CASES),
        series_resistance=1.0,
    )
