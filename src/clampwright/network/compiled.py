"""Large batches through the compiled solver, and batches larger than memory in chunks.

`solve` in the module of that name decides between the plain and the compiled path.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator, Mapping
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from functools import cache, lru_cache, reduce
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from clampwright.errors import InputError
from clampwright.network.batch import Array, Solution, Values, check_laws, count_cases
from clampwright.network.circuit import Circuit, Driven
from clampwright.network.solve import solve
from clampwright.physics.law import ClampState

Indices = NDArray[np.int64]

SHARE = 2048  # cases a thread takes at a time; a multiple of the lanes
COPIED = 1000  # cases up to which all values are copied side by side
CHUNK = 100_000  # cases solved at once when a batch is cut in pieces


def solve_compiled(circuit: Circuit, values: Values) -> Solution:
    """Solve a circuit for a batch by the compiled solver, whatever the size of the batch.

    Same answers as the plain path of `solve` within rounding, same errors, same rules of convergence;
    loads the compiler on first use (seconds when nothing is cached). Threads share the cases; the
    answers do not depend on how many there are.
    """
    from clampwright.network.lanes import solve_cases

    plan = _plan(circuit)
    check_laws(circuit, values)
    cases = count_cases(values)
    given = _given(circuit, plan, values)
    address, stride, _held = _addresses(given, cases)
    out = np.empty((plan.rows, cases))
    counted = np.empty(cases, np.int64)
    fixed = len(circuit.fixed)
    clamps = plan.clamps.copy()
    clamps[:, 2] = _distinct_laws(circuit, values)[1]

    def work(start: int) -> None:
        order = _alike(circuit, values, start, min(start + SHARE, cases))
        solve_cases(
            order, address, stride, plan.source, plan.inputs, plan.pattern, plan.resistors, clamps,
            plan.injections, fixed, out, counted,
        )  # fmt: skip

    share_out(work, cases, SHARE)
    return _solution(circuit, plan, values, out, counted)


def _alike(circuit: Circuit, values: Values, start: int, stop: int) -> Indices:
    """Cases start…stop − 1, similar faults together: lanes wait for the slowest among them."""
    potentials = [np.asarray(values.potentials[name], float) for name in circuit.fixed]
    parts = [p[start:stop] if p.size > 1 else p for p in potentials]
    base = parts[circuit.fixed.index(circuit.base)]
    beyond = base - np.clip(base, *_reach(parts, base))
    cases = np.arange(start, stop)
    return cases if beyond.size != cases.size else cases[np.argsort(beyond, kind="stable")]


def _reach(parts: list[Array], base: Array) -> tuple[Any, Any]:
    """Lowest and highest of the potentials that are not the base."""
    others = [p for p in parts if p is not base] or [base]
    return reduce(np.minimum, others), reduce(np.maximum, others)


def solve_in_chunks(
    circuit: Circuit,
    values: Values | Callable[[int, int], Values],
    cases: int | None = None,
    *,
    chunk: int = CHUNK,
    progress: Callable[[int, int], None] | None = None,
) -> Iterator[Solution]:
    """Solve a batch piece by piece, so that memory stays bounded; yields the pieces in order.

    values   : the whole batch, or a function that makes the values of cases start…stop − 1
    cases    : how many; needed with a function
    progress : called with (cases done, cases in all) after each piece
    Raises InputError for a chunk below 1 or a missing number of cases.
    """
    if chunk < 1:
        raise InputError(f"a chunk of {chunk} cases is empty", expected="1 or more")
    if callable(values):
        if cases is None:
            raise InputError("the number of cases is missing", where="solve_in_chunks")
        total, piece = cases, values
    else:
        total, piece = count_cases(values), _slices(values)
    for start in range(0, total, chunk):
        stop = min(start + chunk, total)
        yield solve(circuit, piece(start, stop))
        if progress is not None:
            progress(stop, total)


def share_out(work: Callable[[int], None], count: int, share: int) -> None:
    """Run work(start) for each share of `count` on every core; kernels release Python's lock."""
    starts = range(0, count, share)
    cores = len(os.sched_getaffinity(0))
    if min(cores, len(starts)) < 2:
        for start in starts:
            work(start)
        return
    for done in [_threads(cores).submit(work, start) for start in starts]:
        done.result()


@cache
def _threads(count: int) -> ThreadPoolExecutor:
    """Threads that stay between batches: starting them costs as much as a small batch."""
    return ThreadPoolExecutor(count, thread_name_prefix="clampwright solver")


@dataclass(frozen=True)
class _Plan:
    """A circuit as index arrays, see `lanes`."""

    unknown: tuple[str, ...]
    driven: tuple[Driven, ...]  # each after the one it follows
    source: Indices
    inputs: Indices
    pattern: NDArray[np.bool_]  # couplings between unknowns, after elimination too
    resistors: Indices
    clamps: Indices  # the law is filled in later
    injections: Indices
    rows: int


@lru_cache(maxsize=256)
def _plan(circuit: Circuit) -> _Plan:
    """Index arrays of a circuit; InputError where nothing holds one of its nodes."""
    circuit.check()
    unknown, driven = circuit.unknown, circuit.driven_in_order
    n, fixed = len(unknown), len(circuit.fixed)
    names = [*unknown, *circuit.fixed, *(d.name for d in driven)]
    number = {name: i for i, name in enumerate(names)}
    source = [*range(n), *[n] * fixed]
    for d in driven:
        source.append(source[number[d.input]])
    return _Plan(
        unknown,
        driven,
        np.array(source, np.int64),
        np.array([number[d.input] for d in driven], np.int64),
        _pattern(circuit, number, source, n),
        np.array([(number[r.a], number[r.b]) for r in circuit.resistors], np.int64).reshape(-1, 2),
        np.array(
            [(number[c.anode], number[c.cathode], 0) for c in circuit.clamps], np.int64
        ).reshape(-1, 3),
        np.array([min(number[c.node], n) for c in circuit.currents], np.int64),
        2 * (n + len(driven)) + 2 * len(circuit.clamps) + len(circuit.resistors) + 1,
    )


def _pattern(
    circuit: Circuit, number: Mapping[str, int], source: list[int], n: int
) -> NDArray[np.bool_]:
    """Which unknowns couple to which, with what elimination from the last to the first fills in."""
    pattern = np.zeros((n, n + 1), np.bool_)
    pairs = [(r.a, r.b) for r in circuit.resistors]
    pairs += [(c.anode, c.cathode) for c in circuit.clamps]
    for a, b in pairs:
        for here, there in ((number[a], number[b]), (number[b], number[a])):
            if here < n:
                pattern[here, source[there]] = True
    for k in range(n - 1, -1, -1):
        for i in range(k):
            if pattern[i, k]:
                pattern[i, :k] |= pattern[k, :k]
    return pattern[:, :n].copy()


def _given(circuit: Circuit, plan: _Plan, values: Values) -> list[ArrayLike]:
    """Every value, one or one per case, in the order the kernel wants."""
    resistances = [_value(values.resistances, r.name, "resistance") for r in circuit.resistors]
    for r, resistance in zip(circuit.resistors, resistances, strict=True):
        if not bool((np.asarray(resistance) > 0).all()):
            raise InputError(
                f'resistor "{r.name}" is not positive', expected="a resistance above 0 Ω"
            )
    given: list[ArrayLike] = [_value(values.potentials, circuit.base, "potential")]
    given += [_value(values.potentials, name, "potential") for name in circuit.fixed]
    given += resistances
    given += [_value(values.currents, c.name, "current") for c in circuit.currents]
    for d in plan.driven:
        given += _value(values.driven, d.name, "gain and offset")
    for state in _distinct_laws(circuit, values)[0]:
        given += [getattr(state, name) for name in _parameter_names()]
    return given


def _addresses(given: list[ArrayLike], cases: int) -> tuple[Indices, Indices, list[Array]]:
    """Where each value lies, its distance in bytes from case to case, and the arrays they lie in.

    Few cases are copied side by side, which is quicker than a view of each; of many nothing is copied.
    The caller keeps the arrays.
    """
    if cases <= COPIED:
        rows = np.empty((len(given), cases))
        for row, value in zip(rows, given, strict=True):
            row[:] = value
        first = rows.__array_interface__["data"][0]
        address = first + rows.strides[0] * np.arange(len(given))
        return address, np.full(len(given), rows.itemsize), [rows]
    held = [np.broadcast_to(np.asarray(value, float), (cases,)) for value in given]
    address = np.array([row.__array_interface__["data"][0] for row in held], np.int64)
    return address, np.array([row.strides[0] for row in held], np.int64), held


def _value(given: Mapping[str, Any], name: str, kind: str) -> Any:
    if name not in given:
        raise InputError(f'the {kind} of "{name}" is missing', where="network")
    return given[name]


def _distinct_laws(circuit: Circuit, values: Values) -> tuple[list[ClampState], list[int]]:
    """Each law once, and which of them each clamp has."""
    laws = [_value(values.laws, c.name, "law") for c in circuit.clamps]
    distinct = list({id(law): law for law in laws}.values())
    place = {id(law): k for k, law in enumerate(distinct)}
    return distinct, [place[id(law)] for law in laws]


@cache
def _parameter_names() -> tuple[str, ...]:
    from clampwright.physics.kernels import PARAMETERS

    return (*PARAMETERS, "series_resistance")


def _solution(
    circuit: Circuit, plan: _Plan, values: Values, out: Array, counted: Indices
) -> Solution:
    """The rows of the kernel under their names."""
    cases = counted.size
    zero = np.broadcast_to(0.0, (cases,))
    deviation = dict.fromkeys(circuit.fixed, zero)
    reference = {
        name: np.broadcast_to(np.asarray(values.potentials[name], float), (cases,))
        for name in circuit.fixed
    }
    base = reference[circuit.base]
    rows = iter(out)
    for name in (*plan.unknown, *(d.name for d in plan.driven)):
        deviation[name] = next(rows)
        reference[name] = base + next(rows)
    voltage, current = {}, {}
    for c in circuit.clamps:
        voltage[c.name], current[c.name] = next(rows), next(rows)
    return Solution(
        deviation=deviation,
        reference=reference,
        clamp_voltage=voltage,
        clamp_current=current,
        resistor_current={r.name: next(rows) for r in circuit.resistors},
        residual=next(rows),
        converged=counted > 0,
        iterations=int(np.abs(counted).max(initial=0)),
    )


def _slices(values: Values) -> Callable[[int, int], Values]:
    """A function that cuts cases start…stop − 1 out of a batch; views, nothing is copied."""

    def piece(start: int, stop: int) -> Values:
        def cut(value: Any) -> Any:
            array = np.asarray(value, float)
            return array[start:stop] if array.ndim and array.size > 1 else value

        laws = {
            id(law): ClampState(**{name: cut(value) for name, value in vars(law).items()})
            for law in values.laws.values()
        }
        return Values(
            {name: cut(value) for name, value in values.potentials.items()},
            {name: cut(value) for name, value in values.resistances.items()},
            {name: laws[id(law)] for name, law in values.laws.items()},
            {name: cut(value) for name, value in values.currents.items()},
            {name: (cut(gain), cut(offset)) for name, (gain, offset) in values.driven.items()},
        )

    return piece
