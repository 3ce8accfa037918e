"""One case of every topology, for the package's solver and for the hand-written equations alike."""

from types import SimpleNamespace

from clampwright.network.equivalents import leak_law
from clampwright.network.solve import Values, require_converged, solve_plain
from clampwright.network.topologies import CATALOGUE, error_voltage, signal_circuit
from clampwright.physics.clamp import ClampLaw, at_conditions

ROOM = 296.15
RAILS = (2.5, -2.5)
CLAMP_RAILS = (1.8, -1.8)


def junction(leakage, **more):
    """A state whose generation current at zero widening is `leakage` (A)."""
    law = ClampLaw(generation_current=leakage, diffusion_current=leakage / 1e3, **more)
    return at_conditions(law, ROOM)


def case(leakage, source, **more):
    """Numbers (SI) and laws; every topology takes what it has from it."""
    one, other = junction(leakage), junction(0.6 * leakage, film_conductance=leakage / 50)
    return SimpleNamespace(
        **{
            "signal": 0.237,
            "source": source,
            "outer": 1e5,
            "inner": 1e4,
            "guard": 4.7e3,
            "first": 300.0,
            "feedback": 3e5,
            "insulation": 1e12,
            "middle": 1e6,
            "lower_resistor": 2.2e5,
            "bias": -0.3 * leakage,
            "other_bias": 0.2 * leakage,
            "gate": 0.1 * leakage,
            "light": 0.0,
            "offset": 250e-6,
            "thermal": 3e-6,
            "gain": 0.9999,
            "middle_bias": 0.2,
            "positive": RAILS[0],
            "negative": RAILS[1],
            "clamp_positive": CLAMP_RAILS[0],
            "clamp_negative": CLAMP_RAILS[1],
            "upper": one,
            "lower": other,
            "forward": one,
            "backward": other,
            "suppressor": junction(1e3 * leakage, film_conductance=100 * leakage),
            **more,
        }
    )


def values(name, c):
    """The same numbers as the package wants them."""
    if name == "T15":
        return _legs(c)
    potentials = {
        "source": c.signal,
        "rail positive": c.positive,
        "rail negative": c.negative,
        "clamp rail positive": c.clamp_positive,
        "clamp rail negative": c.clamp_negative,
        "ground": 0.0,
        "middle bias": c.middle_bias,
        "pin": c.offset,
    }
    insulation = at_conditions(leak_law(c.insulation), ROOM)
    laws = {
        "upper": c.upper,
        "lower": c.lower,
        "forward": c.forward,
        "backward": c.backward,
        "suppressor": c.suppressor,
        "insulation": insulation,
        "tube insulation": insulation,
        "guard upper": c.upper,
        "guard lower": c.lower,
    }
    laws |= {f"{way} {k}": laws[way] for way in ("forward", "backward") for k in range(1, 13)}
    return Values(
        potentials=potentials,
        resistances={
            "R_S": c.source,
            "R_outer": c.outer,
            "R_inner": c.inner,
            "R_guard": c.guard,
            "R_feedback": c.feedback,
            "R_middle": c.middle,
            "R_lower": c.lower_resistor,
            "R_limiter": c.first,
            "R_fuse": c.first,
            "R_contact": c.first,
        },
        laws=laws,
        currents={
            "bias": c.bias,
            "other bias": c.other_bias,
            "gate leakage": c.gate,
            "source current": c.light,
        },
        driven={
            "guard": (c.gain, c.offset),
            "other input": (1.0, c.offset),
            "source with contact voltage": (1.0, c.thermal),
        },
    )


def _legs(c):
    sides = {"plus": c.plus, "minus": c.minus}
    return Values(
        potentials={
            **{f"source {n}": leg.signal for n, leg in sides.items()},
            "rail positive": c.positive,
            "rail negative": c.negative,
        },
        resistances={
            f"{r} {n}": v
            for n, leg in sides.items()
            for r, v in (("R_S", leg.source), ("R_outer", leg.outer))
        },
        laws={
            f"{side} {n}": getattr(leg, side)
            for n, leg in sides.items()
            for side in ("upper", "lower")
        },
        currents={f"bias {n}": leg.bias for n, leg in sides.items()},
        driven={},
    )


def legs(leakage, source, **more):
    """The two legs of a pair, 1 % and a few parts in a hundred apart."""
    plus = case(leakage, source, **more)
    minus = case(1.3 * leakage, 1.01 * source, **{"signal": 0.227, "outer": 1.002e5, **more})
    return SimpleNamespace(plus=plus, minus=minus, positive=RAILS[0], negative=RAILS[1])


def case_of(name, leakage, source, **more):
    """A case that suits the topology: a pair of legs for T15, a current source for T13."""
    if name == "T15":
        return legs(leakage, source, **more)
    if name == "T13":
        return case(leakage, max(source, 1e6), light=30 * leakage, **more)
    return case(leakage, source, **more)


def solved(name, c, **fitted):
    """Solution and error (V) of a case in normal use."""
    topology = CATALOGUE[name]
    present = ("guard upper", "guard lower") if name == "T14" else ()
    given = values(name, c)
    inner = fitted.get("inner", name != "T15")
    circuit = signal_circuit(topology, inner=inner and name != "T13", present=present)
    solution = require_converged(solve_plain(circuit, given), name)
    return solution, error_voltage(topology, solution, given)
