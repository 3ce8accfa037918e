"""The compiled solver against the plain one, symmetries, convergence, and what it refuses.

The plain path is checked against 50 digits elsewhere; here both answer the same random circuits. Where
currents cancel, no double can hold 1e-9 of the small rest: the tolerance then is what rounding of the
currents and voltages does, found by solving the linearised circuit with magnitudes.
"""

import subprocess
import sys
import threading
import time
from dataclasses import replace

import numpy as np
import pytest
from random_networks import random_circuit, random_values

from clampwright.errors import InputError, InternalError
from clampwright.network import compiled, machine_code
from clampwright.network.batch import EPSILON, Batch
from clampwright.network.circuit import Circuit, ClampBranch, CurrentInto, Driven, Resistor
from clampwright.network.compiled import solve_compiled, solve_in_chunks
from clampwright.network.linear import solve_without_subtraction
from clampwright.network.solve import (
    Values,
    require_converged,
    solve,
    solve_plain,
)
from clampwright.physics.clamp import ClampLaw, at_conditions
from clampwright.physics.terminal import terminal_current_and_slope

ROUNDINGS = 16  # of every current and voltage


def rounding(circuit, values, solution):
    """What rounding may do to each deviation (V), (cases, nodes)."""
    batch = Batch(circuit, values)
    deviation = np.stack([solution.deviation[n] for n in batch.unknown], axis=1)
    steep = {
        c.name: terminal_current_and_slope(solution.clamp_voltage[c.name], batch.laws[c.name])[1]
        for c in circuit.clamps
    }
    size = batch.leaving(deviation, solution.clamp_current)[1]
    light = {c.name: np.abs(batch.laws[c.name].photocurrent) for c in circuit.clamps}
    for c in circuit.clamps:
        for end in (c.anode, c.cathode):
            if end in batch.index:
                spread = steep[c.name] * batch.size_of(c, deviation) + light[c.name]
                size[:, batch.index[end]] += spread
    branches = [(r.a, r.b, batch.conductance[r.name]) for r in circuit.resistors]
    branches += [(c.anode, c.cathode, steep[c.name]) for c in circuit.clamps]
    return ROUNDINGS * EPSILON * solve_without_subtraction(*batch.matrix(branches), size)


def assert_same(circuit, values, one, other, relative, sign=1.0, order=slice(None)):
    both = one.converged & other.converged[order]
    allowed = rounding(circuit, values, one)
    for k, node in enumerate(circuit.unknown):
        expected = one.deviation[node][both]
        got = sign * other.deviation[node][order][both]
        assert np.all(np.abs(got - expected) <= relative * np.abs(expected) + allowed[both, k])


def circuits(count, cases, seed):
    random = np.random.default_rng(seed)
    for _ in range(count):
        circuit = random_circuit(random, random.integers(1, 13))
        yield circuit, random_values(random, circuit, cases)


def test_compiled_equals_plain_on_random_circuits():
    lost = 0
    for circuit, values in circuits(60, 50, seed=3):
        fast, slow = solve_compiled(circuit, values), solve_plain(circuit, values)
        lost += np.sum(~fast.converged)
        assert_same(circuit, values, slow, fast, 1e-9)
        for name, voltage in slow.clamp_voltage.items():
            assert fast.clamp_voltage[name] == pytest.approx(voltage, rel=1e-9, abs=1e-9)
        assert np.all(fast.residual[fast.converged] <= 1e-10)
        assert all(np.array_equal(fast.reference[n], slow.reference[n]) for n in circuit.fixed)
    assert lost == 0


@pytest.mark.long
def test_compiled_equals_plain_on_many_random_circuits():
    for circuit, values in circuits(600, 100, seed=5):
        slow = solve_plain(circuit, values)
        assert_same(circuit, values, slow, solve_compiled(circuit, values), 1e-9)


def test_order_of_nodes_and_of_cases_changes_nothing():
    for circuit, values in circuits(30, 40, seed=7):
        here = solve_compiled(circuit, values)
        turned = replace(circuit, resistors=circuit.resistors[::-1], clamps=circuit.clamps[::-1])
        assert_same(circuit, values, here, solve_compiled(turned, values), 1e-12)
        order = np.random.default_rng(1).permutation(40)
        back = np.argsort(order)
        mixed = compiled._slices(values)
        moved = solve_compiled(circuit, picked(values, order))
        assert_same(circuit, values, here, moved, 1e-12, order=back)
        alone = solve_compiled(circuit, mixed(39, 40))
        for node in circuit.unknown:  # lanes do not see each other: bit for bit
            assert alone.deviation[node][0] == here.deviation[node][39]


def picked(values, order):
    def pick(value):
        return np.asarray(value)[order] if np.ndim(value) else value

    return Values(
        {k: pick(v) for k, v in values.potentials.items()},
        {k: pick(v) for k, v in values.resistances.items()},
        {
            name: replace(law, **{k: pick(v) for k, v in vars(law).items()})
            for name, law in values.laws.items()
        },
        {k: pick(v) for k, v in values.currents.items()},
        {k: (pick(gain), pick(offset)) for k, (gain, offset) in values.driven.items()},
    )


def test_mirrored_circuit_gives_mirrored_answer():
    for circuit, values in circuits(30, 40, seed=9):
        mirrored = replace(
            circuit, clamps=tuple(ClampBranch(c.name, c.cathode, c.anode) for c in circuit.clamps)
        )
        opposite = replace(
            values,
            potentials={k: -np.asarray(v) for k, v in values.potentials.items()},
            currents={k: -v for k, v in values.currents.items()},
            driven={k: (gain, -offset) for k, (gain, offset) in values.driven.items()},
        )
        here, there = solve_compiled(circuit, values), solve_compiled(mirrored, opposite)
        assert_same(circuit, values, here, there, 1e-12, sign=-1.0)


@pytest.mark.parametrize(
    ("count", "cases"), [(50, 100), pytest.param(500, 2000, marks=pytest.mark.long)]
)
def test_wild_networks_converge_or_are_flagged(count, cases):
    # resistances over 12 decades, faults to ±10 kV; not converged are latched followers
    lost = 0
    for circuit, values in circuits(count, cases, seed=11):
        solution = solve_compiled(circuit, values)
        lost += np.sum(~solution.converged)
        good = solution.converged
        assert np.all(solution.residual[good] <= 1e-10)
        assert all(np.all(np.isfinite(d[good])) for d in solution.deviation.values())
    assert lost <= 1e-4 * count * cases


def divider(cases, source=10.0):
    """source ── 1 GΩ ── pin, with a clamp to ground and 1 pA into the pin."""
    circuit = Circuit(
        fixed=("source", "ground"),
        resistors=(Resistor("R", "source", "pin"),),
        clamps=(ClampBranch("clamp", "ground", "pin"),),
        currents=(CurrentInto("bias", "pin"),),
    )
    law = at_conditions(ClampLaw(generation_current=1e-12, series_resistance=10.0), 298.15)
    return circuit, Values(
        {"source": np.broadcast_to(source, cases), "ground": 0.0},
        {"R": 1e9},
        {"clamp": law},
        {"bias": 1e-12},
        {},
    )


@pytest.mark.parametrize("cases", [1, 15, 16, 17, 4100])
def test_every_batch_size_and_strided_arrays(cases):
    circuit, values = divider(cases)
    source = np.linspace(-0.3, 12, 3 * cases)[::3]  # not contiguous
    values = replace(values, potentials={"source": source, "ground": 0.0})
    fast, slow = solve_compiled(circuit, values), solve_plain(circuit, values)
    assert fast.converged.all()
    # bias and leakage cancel near 0.13 V: there each is 1 mV over 1 GΩ and rounds to 2e-19 V
    assert fast.deviation["pin"] == pytest.approx(slow.deviation["pin"], rel=1e-12, abs=1e-18)
    assert fast.clamp_current["clamp"] == pytest.approx(
        slow.clamp_current["clamp"], rel=1e-12, abs=0
    )
    assert fast.resistor_current["R"] == pytest.approx(slow.resistor_current["R"], rel=1e-9, abs=0)
    assert fast.voltage("pin") == pytest.approx(slow.voltage("pin"), rel=1e-12, abs=0)


def test_a_case_without_an_answer_is_flagged_and_spoils_no_other():
    circuit, values = divider(20)
    source = np.full(20, 10.0)
    source[3] = np.nan
    solution = solve_compiled(circuit, replace(values, potentials={"source": source, "ground": 0}))
    assert list(np.flatnonzero(~solution.converged)) == [3]
    with pytest.raises(InternalError, match="1 of 20 cases of a test did not converge"):
        require_converged(solution, "a test")
    assert solution.deviation["pin"][4] == solve_compiled(*divider(1)).deviation["pin"][0]


@pytest.mark.parametrize("path", [solve_plain, solve_compiled])
def test_followers_of_followers_and_of_fixed_nodes(path):
    # closed form: no clamp; R1 source-pin, R2 pin-second with second = 0.9·(0.5·pin + 1) + 2
    circuit = Circuit(
        fixed=("source", "ground"),
        resistors=(Resistor("R1", "source", "pin"), Resistor("R2", "pin", "second")),
        currents=(CurrentInto("bias", "pin"),),
        driven=(Driven("second", "first"), Driven("first", "pin"), Driven("held", "ground")),
    )
    gains = {"first": (0.5, 1.0), "second": (0.9, 2.0), "held": (0.5, 0.25)}
    values = Values(
        {"source": 4.0, "ground": 2.0}, {"R1": 1e3, "R2": 2e3}, {}, {"bias": 1e-6}, gains
    )
    solution = path(circuit, values)
    assert solution.deviation["pin"][0] == pytest.approx(
        1e-6 / (1 / 1e3 + 0.55 / 2e3), rel=1e-14, abs=0
    )
    # leak-free: (4 − v)/R1 = (v − 0.45 v − 2.9)/R2
    expected = (4.0 / 1e3 + 2.9 / 2e3) / (1 / 1e3 + 0.55 / 2e3)
    assert solution.reference["pin"][0] == pytest.approx(expected, rel=1e-14, abs=0)
    assert solution.reference["second"][0] == pytest.approx(0.45 * expected + 2.9, rel=1e-14, abs=0)
    assert solution.reference["held"][0] == pytest.approx(1.25, rel=1e-14, abs=0)
    assert solution.converged.all()


@pytest.mark.parametrize("path", [solve_plain, solve_compiled])
def test_a_follower_that_nearly_follows_keeps_every_digit(path):
    # closed form: a film of 1 kΩ to a guard of gain 1 − 1e-9 loads like 1 TΩ
    circuit = Circuit(
        fixed=("source",),
        resistors=(Resistor("R", "source", "pin"), Resistor("film", "pin", "guard")),
        currents=(CurrentInto("bias", "pin"),),
        driven=(Driven("guard", "pin"),),
    )
    gain = 1.0 - 2.0**-30
    values = Values(
        {"source": 7.0}, {"R": 1e12, "film": 1e3}, {}, {"bias": 1e-15}, {"guard": (gain, 0)}
    )
    expected = 1e-15 / (1e-12 + 2.0**-30 / 1e3)
    assert path(circuit, values).deviation["pin"][0] == pytest.approx(expected, rel=1e-14, abs=0)


@pytest.mark.parametrize("path", [solve_plain, solve_compiled])
def test_a_saturated_clamp_is_not_thrown_out_for_ever(path):
    # 20 µA saturation current behind 4.6 GΩ: nearly a short at 0 V, no slope at −300 V
    circuit = Circuit(
        fixed=("source", "ground"),
        resistors=(Resistor("R", "source", "pin"),),
        clamps=(ClampBranch("clamp", "ground", "pin"),),
    )
    law = at_conditions(ClampLaw(diffusion_current=2e-5), 298.15)
    values = Values({"source": 281.0, "ground": 0.0}, {"R": 4.6e9}, {"clamp": law}, {}, {})
    solution = path(circuit, values)
    assert solution.converged.all() and solution.iterations < 20
    # closed form: I = 281 V / 4.6 GΩ through V = −V_T·ln(1 − I/I_0), 281 V less that
    current = 281.0 / 4.6e9
    drop = -law.thermal_voltage * np.log1p(-current / 2e-5)
    assert solution.voltage("pin")[0] == pytest.approx(drop, rel=1e-6, abs=0)


@pytest.mark.parametrize("path", [solve_plain, solve_compiled])
def test_what_is_refused(path):
    circuit, values = divider(2)
    with pytest.raises(InputError, match='resistor "R" is not positive'):
        path(circuit, replace(values, resistances={"R": np.array([1.0, 0.0])}))
    with pytest.raises(InputError, match='the potential of "ground" is missing'):
        path(circuit, replace(values, potentials={"source": 1.0}))
    with pytest.raises(InputError, match='the resistance of "R" is missing'):
        path(circuit, replace(values, resistances={}))
    circle = replace(circuit, driven=(Driven("a", "b"), Driven("b", "a")))
    with pytest.raises(InputError, match='driven node "a" follows itself'):
        path(circle, replace(values, driven={"a": (1.0, 0.0), "b": (1.0, 0.0)}))


def test_chunks_equal_the_whole_batch():
    circuit, values = divider(1000)
    values = replace(values, potentials={"source": np.linspace(1, 12, 1000), "ground": 0.0})
    whole = solve_compiled(circuit, values).deviation["pin"]
    seen = []
    pieces = solve_in_chunks(
        circuit, values, chunk=300, progress=lambda done, total: seen.append((done, total))
    )
    assert np.concatenate([p.deviation["pin"] for p in pieces]) == pytest.approx(
        whole, rel=1e-12, abs=0
    )
    assert seen == [(300, 1000), (600, 1000), (900, 1000), (1000, 1000)]
    made = solve_in_chunks(circuit, compiled._slices(values), 1000, chunk=512)
    assert np.concatenate([p.deviation["pin"] for p in made]) == pytest.approx(
        whole, rel=1e-12, abs=0
    )
    with pytest.raises(InputError, match="a chunk of 0 cases is empty"):
        next(solve_in_chunks(circuit, values, chunk=0))
    with pytest.raises(InputError, match="the number of cases is missing"):
        next(solve_in_chunks(circuit, compiled._slices(values)))


@pytest.mark.parametrize("cases", [1, 3, 5000])
def test_same_question_same_bits_from_the_first_answer_of_a_process(cases):
    code = (
        "import sys, numpy as np\n"
        "from clampwright.network.circuit import Circuit, ClampBranch, Resistor\n"
        "from clampwright.network.solve import Values, solve\n"
        "from clampwright.physics.clamp import ClampLaw, at_conditions\n"
        "if sys.argv[2] == 'loaded': import clampwright.network.lanes\n"
        "c = Circuit(('source', 'ground'), (Resistor('R', 'source', 'pin'),),"
        " (ClampBranch('clamp', 'ground', 'pin'),))\n"
        "law = at_conditions(ClampLaw(generation_current=1e-12, diffusion_current=1e-15), 298.15)\n"
        "v = Values({'source': np.linspace(-9, 9, int(sys.argv[1])), 'ground': 0.0}, {'R': 1e6},"
        " {'clamp': law}, {}, {})\n"
        "print(solve(c, v).deviation['pin'].tobytes().hex())\n"
    )
    machine_code.make()
    answers = {
        subprocess.run(
            [sys.executable, "-c", code, str(cases), state], check=True, capture_output=True
        ).stdout
        for state in ("new", "loaded", "new")
    }
    circuit, values = divider(cases)
    values = replace(values, potentials={"source": np.linspace(-9, 9, cases), "ground": 0.0})
    assert len(answers) == 1
    assert machine_code.is_made()
    here = solve(circuit, values).deviation["pin"]
    assert np.array_equal(here, solve_compiled(circuit, values).deviation["pin"])


def test_until_the_code_is_made_the_plain_path_answers_at_once(monkeypatch, tmp_path):
    monkeypatch.setattr(machine_code, "_made", threading.Event())
    monkeypatch.setattr(machine_code, "_making", threading.Lock())
    monkeypatch.setattr(machine_code, "_mark", lambda: tmp_path / "made")
    circuit, values = divider(500)
    machine_code._making.acquire()  # somebody else is making it
    first = solve(circuit, values).deviation["pin"]
    assert np.array_equal(first, solve_plain(circuit, values).deviation["pin"])
    machine_code._making.release()
    deadline = time.monotonic() + 120
    while not machine_code.is_made() and time.monotonic() < deadline:
        time.sleep(0.05)
    assert (tmp_path / "made").exists()
    assert solve(circuit, values).deviation["pin"] == pytest.approx(first, rel=1e-12, abs=0)


def test_kernels_that_are_put_off_are_used_once_they_are_loaded(monkeypatch):
    machine_code.make()
    monkeypatch.setattr(machine_code, "_made", threading.Event())
    machine_code.put_off()
    circuit, values = divider(500)
    first = solve(circuit, values).deviation["pin"]
    assert not machine_code.is_made()
    assert np.array_equal(first, solve_plain(circuit, values).deviation["pin"])
    machine_code.load()
    assert machine_code.is_made()
    there = solve_compiled(circuit, values).deviation["pin"]
    assert np.array_equal(solve(circuit, values).deviation["pin"], there)


def test_the_network_room_does_not_load_the_compiler():
    code = (
        "import sys, clampwright.network.solve, clampwright.network.compiled, "
        "clampwright.network.rail_node; sys.exit('numba' in sys.modules)"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


def test_the_compiler_starts_without_the_linear_algebra_library_and_keeps_its_products():
    code = (
        "import sys\nfrom clampwright.physics.compiler import njit\nimport gc, numpy as np\n"
        "assert 'scipy.linalg' not in sys.modules and gc.isenabled()\n"
        "f = njit(lambda a, b: (np.dot(a, b), np.correlate(a, b)))\n"
        "assert f(np.ones(3), np.ones(3)) == (3.0, np.array([3.0]))\n"
        "assert 'scipy.linalg' in sys.modules\n"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


def test_leaving_while_the_compiler_still_works_is_clean():
    code = "import threading, time\nfrom clampwright.network.machine_code import make\n"
    code += "threading.Thread(target=make, daemon=True).start(); time.sleep(0.3)"
    done = subprocess.run([sys.executable, "-c", code], check=False, capture_output=True)
    assert (done.returncode, done.stderr) == (0, b"")
