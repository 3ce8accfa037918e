"""Random protection networks for the tests and benchmarks of the compiled solver."""

import numpy as np

from clampwright.network.circuit import Circuit, ClampBranch, CurrentInto, Driven, Resistor
from clampwright.network.solve import Values
from clampwright.physics.clamp import ClampLaw, at_conditions

FIXED = ("source", "rail positive", "rail negative", "ground")


def random_circuit(random, nodes, *, driven=True):
    """A tree of resistors hung on the source, some loops, clamps to anything, a follower."""
    names = [f"node {k}" for k in range(nodes)]
    resistors, clamps = [], []
    for k, name in enumerate(names):
        other = "source" if k == 0 else names[random.integers(max(0, k - 3), k)]
        resistors.append(Resistor(f"R{k}", other, name))
    ends = names + list(FIXED[1:])
    drives = ()
    if driven and nodes > 2 and random.random() < 0.5:
        drives = (Driven("guard", names[random.integers(nodes)]),)
        ends.append("guard")
    for k in range(random.integers(0, 3)):
        a, b = random.choice(nodes + len(FIXED) - 1, 2, replace=False)
        resistors.append(Resistor(f"extra {k}", ends[a], ends[b]))
    for k in range(random.integers(1, 2 + nodes // 2)):
        a = random.integers(nodes)
        b = random.integers(len(ends) - 1)
        b = b + 1 if b >= a else b
        pair = (ends[a], ends[b]) if random.random() < 0.5 else (ends[b], ends[a])
        clamps.append(ClampBranch(f"clamp {k}", *pair))
    return Circuit(
        fixed=FIXED,
        resistors=tuple(resistors),
        clamps=tuple(clamps),
        currents=(CurrentInto("bias", names[-1]),),
        driven=drives,
    )


def random_law(random, cases, *, extra=True):
    """Junctions from femtoamperes to microamperes, some with other mechanisms."""
    kinds = {}
    if extra and random.random() < 0.5:
        kinds = {
            "breakdown_voltage": np.where(
                random.random(cases) < 0.5, random.uniform(10, 200, cases), np.inf
            ),
            "tunnelling_current": np.where(random.random(cases) < 0.3, 1e-3, 0.0),
            "symmetric_current": np.where(random.random(cases) < 0.3, 1e-3, 0.0),
            "symmetric_voltage": random.uniform(10, 100, cases),
            "image_force_lowering": np.where(random.random(cases) < 0.3, 0.02, 0.0),
        }
    law = ClampLaw(
        diffusion_current=10 ** random.uniform(-18, -8, cases),
        generation_current=10 ** random.uniform(-15, -9, cases),
        grading=random.uniform(0.3, 0.5, cases),
        film_conductance=np.where(
            random.random(cases) < 0.5, 10 ** random.uniform(-15, -10, cases), 0.0
        ),
        responsivity=np.where(random.random(cases) < 0.3, 1e-14, 0.0),
        series_resistance=np.where(
            random.random(cases) < 0.5, 10 ** random.uniform(-2, 3, cases), 0.0
        ),
        **kinds,
    )
    return at_conditions(law, random.uniform(253, 398, cases), 100.0)


def random_values(random, circuit, cases, *, extra=True, decades=(0, 12), fault=1e4):
    """Half the cases in normal use, half with the source up to ±`fault` volts."""
    normal = random.uniform(-12, 12, cases)
    harsh = np.sign(random.random(cases) - 0.5) * 10 ** random.uniform(1, np.log10(fault), cases)
    return Values(
        potentials={
            "source": np.where(random.random(cases) < 0.5, normal, harsh),
            "rail positive": 15.0,
            "rail negative": -15.0,
            "ground": 0.0,
        },
        resistances={r.name: 10 ** random.uniform(*decades, cases) for r in circuit.resistors},
        laws={c.name: random_law(random, cases, extra=extra) for c in circuit.clamps},
        currents={"bias": random.uniform(-1, 1, cases) * 10 ** random.uniform(-15, -9, cases)},
        driven={
            d.name: (random.choice([1.0, 0.99999, 0.9, 0.0], cases), random.normal(0, 1e-3, cases))
            for d in circuit.driven
        },
    )
