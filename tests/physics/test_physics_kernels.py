"""The compiled law equals the array law to 1e-13 of the sum of its terms."""

import numpy as np
import pytest
from hypothesis import given, settings
from test_physics_clamp import laws, temperatures, voltages

from clampwright.physics import kernels
from clampwright.physics.clamp import (
    ClampLaw,
    at_conditions,
    current_and_slope,
    mechanism_currents,
)


@settings(max_examples=300, deadline=None, derandomize=True)
@given(laws, temperatures, voltages)
def test_scalar_kernel_equals_array_function(law, temperature, v):
    state = at_conditions(law, temperature, 500.0)
    current, slope = current_and_slope(v, state)
    got, steep = kernels.current_and_slope(v, kernels.parameters(state))
    terms = sum(abs(part) for part in mechanism_currents(v, state).values())
    assert abs(got - current) <= 1e-13 * terms + 1e-299  # underflow
    assert steep == pytest.approx(slope, rel=1e-13, abs=1e-290)


def batch(n, kinds):
    random = np.random.default_rng(11)
    some = (lambda value: np.where(random.random(n) < 0.4, value, 0.0)) if kinds else None
    more = {}
    if some is not None:
        more = {
            "breakdown_voltage": np.where(random.random(n) < 0.5, 30.0, np.inf),
            "tunnelling_current": some(1e-3),
            "symmetric_current": some(1e-3),
            "symmetric_voltage": 20.0,
            "image_force_lowering": some(0.026),
        }
    law = ClampLaw(
        diffusion_current=10 ** random.uniform(-18, -9, n),
        generation_current=10 ** random.uniform(-15, -9, n),
        grading=random.uniform(0.0, 0.9, n),
        film_conductance=10 ** random.uniform(-15, -8, n),
        responsivity=1e-14,
        **more,
    )
    state = at_conditions(law, random.uniform(200, 450, n), 100.0)
    wide = np.sign(random.random(n) - 0.5) * 10 ** random.uniform(-12, 4, n)
    return state, np.where(random.random(n) < 0.3, wide, random.uniform(-35, 0.9, n))


@pytest.mark.parametrize("kinds", [False, True], ids=["silicon", "every kind"])
@pytest.mark.parametrize("n", [1, 63, 64, 20_001])
def test_batch_equals_array_function(kinds, n):
    state, v = batch(n, kinds)
    packed = kernels.pack(state, n)
    assert packed.silicon is not kinds or n == 1
    current, slope = kernels.evaluate(v, packed)
    expected, steep = current_and_slope(v, state)
    terms = sum(np.abs(part) for part in mechanism_currents(v, state).values())
    assert np.all(np.abs(current - expected) <= 1e-13 * terms)
    assert slope == pytest.approx(steep, rel=1e-13, abs=1e-290)


def test_own_exponential_and_logarithm():
    # against the platform's mathematics library: three roundings at most
    for x in (*np.linspace(-690, 600, 977), *np.geomspace(1e-300, 1, 301)):
        less_one, growth = kernels._exponential(x)
        assert less_one == pytest.approx(np.expm1(x), rel=7e-16, abs=0)
        assert growth == pytest.approx(np.exp(x), rel=7e-16, abs=0)
    for z in (*np.geomspace(1e-290, 1e290, 977), 1.0, np.nextafter(1, 2)):
        assert kernels._logarithm(z) == pytest.approx(np.log(z), rel=7e-16, abs=1e-300)


def test_importing_the_laws_does_not_load_the_compiler():
    import subprocess
    import sys

    code = (
        "import sys, clampwright.physics.laws, clampwright.physics.terminal, "
        "clampwright.physics.ranges; sys.exit('numba' in sys.modules or 'scipy' in sys.modules)"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
