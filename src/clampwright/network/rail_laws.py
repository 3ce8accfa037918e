"""The plain junction law with its derivatives for the lanes of `rail_kernel`; imports the compiler.

Each gives current, slope, curvature and a bound on the third derivative of a junction at voltage x.
Its nine parameters are row[at + k·stride]: saturation and scale of diffusion, the same of generation,
built-in voltage, grading, film, photocurrent, series resistance. `junction` holds everywhere; the other
two leave out what is below rounding in their range, the exponentials far in reverse, or not there, the
widening of the depletion layer in conduction.
"""

# mypy: disable-error-code="untyped-decorator, import-untyped"

from __future__ import annotations

from typing import Any

from clampwright.physics.compiler import njit
from clampwright.physics.kernels import _exponential, _grown, _logarithm
from clampwright.physics.law import LARGEST_EXPONENT

FAR = 40.0  # exponential scales below 0 V: exp(−40) is 4e-18, a fiftieth of what rounds to 1
inlined: Any = njit(error_model="numpy", fastmath={"contract"}, forceinline=True)


@inlined
def junction(x: Any, row: Any, at: Any, stride: Any) -> Any:
    """The law at any voltage."""
    i_d, s_d = row[at], 1.0 / row[at + stride]
    i_g, s_g = row[at + 2 * stride], 1.0 / row[at + 3 * stride]
    film, reverse = row[at + 6 * stride], max(-x, 0.0)
    shape, growth = _grown(x * s_d, LARGEST_EXPONENT)
    form, rise = _grown(x * s_g, LARGEST_EXPONENT)
    m, depth = row[at + 5 * stride], 1.0 / (row[at + 4 * stride] + reverse)
    _, w = _exponential(m * _logarithm(1.0 + reverse / row[at + 4 * stride]))
    depth = depth if x < 0.0 else 0.0
    a, b, c = s_g * rise, s_g * s_g * rise, s_g * s_g * s_g * rise
    one, two, three = m * depth, m * (1.0 - m) * depth * depth, (2.0 - m) * depth
    diffusion = i_d * s_d * growth
    generation = i_g * w
    current = (i_d * shape + generation * form) + (film * x - row[at + 7 * stride])
    slope = diffusion + generation * (a - one * form) + film
    curvature = diffusion * s_d + generation * (b - 2.0 * one * a - two * form)
    third = diffusion * s_d * s_d
    third += generation * (c + 3.0 * one * b + 3.0 * two * a + two * three * abs(form))
    return current, slope, curvature, third


@inlined
def forward(x: Any, row: Any, at: Any, stride: Any) -> Any:
    """The law for x ≥ 0."""
    s_d, s_g = 1.0 / row[at + stride], 1.0 / row[at + 3 * stride]
    shape, growth = _grown(x * s_d, LARGEST_EXPONENT)
    form, rise = _grown(x * s_g, LARGEST_EXPONENT)
    film = row[at + 6 * stride]
    fast, slow = row[at] * s_d * growth, row[at + 2 * stride] * s_g * rise
    current = row[at] * shape + row[at + 2 * stride] * form + (film * x - row[at + 7 * stride])
    curvature = fast * s_d + slow * s_g
    return current, fast + slow + film, curvature, fast * s_d * s_d + slow * s_g * s_g


@inlined
def far_in_reverse(x: Any, row: Any, at: Any, stride: Any) -> Any:
    """The law for x below −FAR of both exponential scales."""
    built_in, m, film = row[at + 4 * stride], row[at + 5 * stride], row[at + 6 * stride]
    depth = 1.0 / (built_in - x)
    _, w = _exponential(m * _logarithm(1.0 - x / built_in))
    generation = row[at + 2 * stride] * w
    current = -(row[at] + generation) + (film * x - row[at + 7 * stride])
    steep = generation * m * depth
    bent = steep * (1.0 - m) * depth
    return current, steep + film, bent, bent * (2.0 - m) * depth
