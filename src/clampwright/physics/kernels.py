"""The clamp law compiled: one case for other kernels, and batches in SIMD lanes on every core.

Same formula as `clamp.current_and_slope`, equal to it within 1e-13 of the sum of its terms. Import
this module only where a batch is large: it pulls in the compiler (compiled code is cached).

The compiler brings no vector mathematics, so exponential and logarithm are our own: branch-free
range reduction (Cody and Waite) and a polynomial, which it can spread over SIMD lanes. Parameters
lie in blocks of LANES cases, each parameter contiguous, so that lanes load without gathering.
"""

# mypy: disable-error-code="untyped-decorator, import-untyped"

from __future__ import annotations

from dataclasses import dataclass
from math import factorial
from typing import Any

import numpy as np
from llvmlite import ir
from numpy.typing import NDArray

from clampwright.physics.compiler import intrinsic, njit, prange, types
from clampwright.physics.law import (
    FARTHEST_BREAKDOWN,
    LARGEST_EXPONENT,
    LARGEST_GAP,
    TINY,
    ClampState,
    Numbers,
)

LANES = 64
PARAMETERS = (
    "thermal_voltage",
    "diffusion_current",
    "diffusion_ideality",
    "generation_current",
    "generation_ideality",
    "built_in_voltage",
    "grading",
    "film_conductance",
    "photocurrent",
    "image_force_lowering",
    "breakdown_voltage",
    "breakdown_exponent",
    "breakdown_knee",
    "breakdown_conductance",
    "tunnelling_current",
    "tunnelling_width",
    "tunnelling_knee",
    "symmetric_current",
    "symmetric_voltage",
    "symmetric_exponent",
    "symmetric_knee",
)
COUNT = len(PARAMETERS)
BLOCK = COUNT * LANES
machine: Any = intrinsic
compiled: Any = njit(cache=True, error_model="numpy", fastmath={"contract"})
inlined: Any = njit(error_model="numpy", fastmath={"contract"}, forceinline=True)
parallel: Any = njit(cache=True, error_model="numpy", fastmath={"contract"}, parallel=True)

LOG2_E = 1.4426950408889634
LN2_HIGH = 6.93147180369123816490e-01  # upper 33 bits of ln 2, so that k·LN2_HIGH is exact
LN2_LOW = 1.90821492927058770002e-10
ROUNDER = 6755399441055744.0  # 1.5·2^52: adding it rounds to a whole number in the low bits
E2, E3, E4, E5, E6, E7 = (1.0 / factorial(k) for k in range(2, 8))
E8, E9, E10, E11, E12, E13 = (1.0 / factorial(k) for k in range(8, 14))
SMALLEST_EXPONENT = -690.0  # exp is still normal; below, expm1 is −1 to double precision
MANTISSA, BIAS_SHIFT = 52, 1023
ROOT_HALF_BITS = 0x3FE6A09E667F3BCD  # bits of √½: the logarithm's mantissa lies in [√½, √2)


@dataclass(frozen=True)
class PackedStates:
    """Clamp states of many cases laid out for `evaluate`; make one with `pack`."""

    cases: int
    silicon: bool  # junction, film and light only: the SIMD path
    values: NDArray[np.float64]  # blocks × parameters × lanes, flat


def parameters(state: ClampState) -> NDArray[np.float64]:
    """The parameters of one case (scalar fields) as the row `current_and_slope` takes."""
    limited = [min(float(getattr(state, name)), FARTHEST_BREAKDOWN) for name in PARAMETERS]
    return np.array(limited)


def pack(state: ClampState, cases: int) -> PackedStates:
    """Lay out a state whose fields are scalars or arrays of `cases` values."""
    blocks = -(-cases // LANES)
    table = np.empty((blocks, COUNT, LANES))
    for row, name in enumerate(PARAMETERS):
        value = np.broadcast_to(getattr(state, name), (cases,))
        if name == "breakdown_voltage":
            value = np.minimum(value, FARTHEST_BREAKDOWN)
        whole = cases // LANES
        table[:whole, row] = value[: whole * LANES].reshape(whole, LANES)
        if whole < blocks:
            table[whole, row] = value[-1]
            table[whole, row, : cases - whole * LANES] = value[whole * LANES :]
    silicon = not (
        np.any(state.image_force_lowering)
        or np.any(np.asarray(state.breakdown_voltage) < FARTHEST_BREAKDOWN)
        or np.any(state.tunnelling_current)
        or np.any(state.symmetric_current)
    )
    return PackedStates(cases, silicon, table.reshape(-1))


def evaluate(voltage: Numbers, packed: PackedStates) -> tuple[Any, Any]:
    """Current (A) and slope (S) of every packed case at its `voltage` (V, one per case).

    Runs on all cores; ±10 kV and 100…500 K as the array form.
    """
    padded = np.zeros(packed.values.size // COUNT)
    padded[: packed.cases] = voltage
    current, slope = np.empty_like(padded), np.empty_like(padded)
    run = _evaluate_silicon if packed.silicon else _evaluate_all
    run(padded, packed.values, current, slope)
    return current[: packed.cases], slope[: packed.cases]


@compiled
def current_and_slope(voltage: Any, row: Any) -> Any:
    """Current and slope of one case; `row` holds PARAMETERS in order (see `parameters`)."""
    return _whole_law(voltage, row, 0, 1)


@inlined
def _whole_law(v: Any, row: Any, at: Any, stride: Any) -> Any:
    """Every mechanism, branch-free; parameter k of the case is row[at + k·stride]."""
    current, slope = _lowered_silicon(v, row, at, stride)
    factor, factor_slope, extra, extra_slope = _avalanche(v, row, at, stride)
    slope = factor * slope + factor_slope * current + extra_slope
    current = factor * current + extra
    width = row[at + 15 * stride]
    shape, growth = _grown(-v / width, row[at + 16 * stride])
    current -= row[at + 14 * stride] * shape
    slope += row[at + 14 * stride] * growth / width
    power, rise = _symmetric(v, row, at, stride)
    current += row[at + 17 * stride] * power
    slope += row[at + 17 * stride] * rise
    film = row[at + 7 * stride]
    return current + film * v, slope + film


@inlined
def _silicon(v: Any, row: Any, at: Any, stride: Any) -> Any:
    """Diffusion + generation − photocurrent."""
    vt, i_d, i_g = row[at], row[at + stride], row[at + 3 * stride]
    scale_d, scale_g = row[at + 2 * stride] * vt, row[at + 4 * stride] * vt
    vbi, m = row[at + 5 * stride], row[at + 6 * stride]
    shape_d, growth_d = _grown(v / scale_d, LARGEST_EXPONENT)
    shape_g, growth_g = _grown(v / scale_g, LARGEST_EXPONENT)
    reverse = max(-v, 0.0)
    _, width = _exponential(m * _logarithm(1.0 + reverse / vbi))
    width_slope = -m * width / (vbi + reverse) if v < 0.0 else 0.0
    current = i_d * shape_d + i_g * width * shape_g - row[at + 8 * stride]
    slope = i_d * growth_d / scale_d + i_g * (width * growth_g / scale_g + width_slope * shape_g)
    return current, slope


@inlined
def _lowered_silicon(v: Any, row: Any, at: Any, stride: Any) -> Any:
    """The same with the diffusion current raised by image-force lowering."""
    current, slope = _silicon(v, row, at, stride)
    vt, vbi, lowering = row[at], row[at + 5 * stride], row[at + 9 * stride]
    i_d, scale_d = row[at + stride], row[at + 2 * stride] * vt
    reverse = max(-v, 0.0)
    root = np.sqrt(np.sqrt(reverse + vbi))
    lowered, growth = _grown(lowering / vt * (root - np.sqrt(np.sqrt(vbi))), LARGEST_EXPONENT)
    shape, steep = _grown(v / scale_d, LARGEST_EXPONENT)
    change = -growth * lowering / vt * 0.25 * root / (reverse + vbi) if v < 0.0 else 0.0
    return (
        current + i_d * lowered * shape,
        slope + i_d * (lowered * steep / scale_d + change * shape),
    )


@inlined
def _avalanche(v: Any, row: Any, at: Any, stride: Any) -> Any:
    """Multiplication and its slope, current and slope added past the knee."""
    limit, exponent = row[at + 10 * stride], row[at + 11 * stride]
    gap = (limit - max(-v, 0.0)) / limit
    inside = min(max(gap, row[at + 12 * stride]), LARGEST_GAP)
    less_one, power = _exponential(exponent * _logarithm_one_less(inside))
    factor = -1.0 / less_one
    rise = exponent * power / (1.0 - inside) * factor * factor
    beyond = max(inside - gap, 0.0)
    added = row[at + 13 * stride] if inside > gap else 0.0
    return factor + rise * beyond, -rise / limit, -added * beyond * limit, added


@inlined
def _symmetric(v: Any, row: Any, at: Any, stride: Any) -> Any:
    """sign(V)·(|V|/V_ref)^α and its slope, linear past the knee."""
    voltage, exponent = row[at + 18 * stride], row[at + 19 * stride]
    ratio = abs(v) / voltage
    inside = min(ratio, row[at + 20 * stride])
    logarithm = exponent * _logarithm(max(inside, TINY))
    _, power = _exponential(logarithm)
    power = power if logarithm > SMALLEST_EXPONENT else 0.0
    rise = exponent * power / max(inside, TINY)
    value = power + rise * (ratio - inside)
    return (value if v > 0.0 else -value), rise / voltage


@inlined
def _grown(x: Any, knee: Any) -> Any:
    """expm1 and exp of x, the first continued linearly and the second constant above `knee`."""
    top = min(x, knee)
    less_one, growth = _exponential(top)
    return less_one + growth * (x - top), growth


@inlined
def _exponential(x: Any) -> Any:
    """expm1(x) and exp(x) for x ≤ 700, branch-free, within about 1e-15 relative."""
    x = max(x, SMALLEST_EXPONENT)
    shifted = x * LOG2_E + ROUNDER
    k = shifted - ROUNDER
    r = (x - k * LN2_HIGH) - k * LN2_LOW
    p = E11 + r * (E12 + r * E13)
    p = E8 + r * (E9 + r * (E10 + r * p))
    p = E5 + r * (E6 + r * (E7 + r * p))
    p = r + r * r * (E2 + r * (E3 + r * (E4 + r * p)))
    power = _float_of((_bits_of(shifted) + BIAS_SHIFT) << MANTISSA)
    return power * p + (power - 1.0), power * p + power


@inlined
def _logarithm(z: Any) -> Any:
    """ln z for finite normal z > 0, branch-free: 2·artanh((f − 1)/(f + 1)) + k·ln 2."""
    bits = _bits_of(z) - ROOT_HALF_BITS
    k = bits >> MANTISSA
    f = _float_of((bits - (k << MANTISSA)) + ROOT_HALF_BITS)
    s = (f - 1.0) / (f + 1.0)
    q = s * s
    p = 1 / 15 + q * (1 / 17 + q * (1 / 19 + q * (1 / 21 + q * (1 / 23))))
    p = 1 / 7 + q * (1 / 9 + q * (1 / 11 + q * (1 / 13 + q * p)))
    p = s * q * (1 / 3 + q * (1 / 5 + q * p))
    whole = float(k)
    return whole * LN2_HIGH + (2.0 * (s + p) + whole * LN2_LOW)


@inlined
def _logarithm_one_less(d: Any) -> Any:
    """ln(1 − d) for 0 ≤ d < 1, also precise for tiny d."""
    z = 1.0 - d
    return _logarithm(z) - (d - (1.0 - z)) / z


@parallel
def _evaluate_silicon(voltage: Any, values: Any, current: Any, slope: Any) -> None:
    for block in prange(voltage.size // LANES):
        start, stop = block * LANES, (block + 1) * LANES
        row = values[block * BLOCK : (block + 1) * BLOCK]  # indices from 0: no wrap-around tests
        v, out_current, out_slope = voltage[start:stop], current[start:stop], slope[start:stop]
        for lane in range(LANES):
            i, g = _silicon(v[lane], row, lane, LANES)
            out_current[lane] = i + row[lane + 7 * LANES] * v[lane]
            out_slope[lane] = g + row[lane + 7 * LANES]


@parallel
def _evaluate_all(voltage: Any, values: Any, current: Any, slope: Any) -> None:
    for block in prange(voltage.size // LANES):
        start, stop = block * LANES, (block + 1) * LANES
        row = values[block * BLOCK : (block + 1) * BLOCK]  # indices from 0: no wrap-around tests
        v, out_current, out_slope = voltage[start:stop], current[start:stop], slope[start:stop]
        for lane in range(LANES):
            i, g = _whole_law(v[lane], row, lane, LANES)
            out_current[lane] = i
            out_slope[lane] = g


@machine
def _float_of(context: Any, bits: Any) -> Any:
    """The double with these 64 bits."""

    def generate(context: Any, builder: Any, signature: Any, arguments: Any) -> Any:
        return builder.bitcast(arguments[0], ir.DoubleType())

    return types.float64(types.int64), generate


@machine
def _bits_of(context: Any, value: Any) -> Any:
    """The 64 bits of a double."""

    def generate(context: Any, builder: Any, signature: Any, arguments: Any) -> Any:
        return builder.bitcast(arguments[0], ir.IntType(64))

    return types.int64(types.float64), generate
