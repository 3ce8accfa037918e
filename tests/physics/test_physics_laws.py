"""The list of laws covers every parameter, and every listed function keeps its promises."""

from dataclasses import fields

import numpy as np
import pytest

from clampwright.physics.clamp import ClampLaw, at_conditions, current_and_slope
from clampwright.physics.laws import LAWS, MECHANISMS, PARAMETERS


def test_every_field_of_the_clamp_law_is_described_once():
    assert [q.name for q in PARAMETERS] == [f.name for f in fields(ClampLaw)]
    assert len({q.symbol for q in PARAMETERS}) == len(PARAMETERS)
    for quantity in PARAMETERS:
        default = getattr(ClampLaw(), quantity.name)
        assert quantity.low <= default or default == 0
        assert default <= quantity.high or np.isinf(default)


@pytest.mark.parametrize("mechanism", MECHANISMS, ids=lambda m: m.name)
def test_the_switch_removes_the_mechanism(mechanism):
    neutral = getattr(ClampLaw(), mechanism.switch)
    off = {**mechanism.example, mechanism.switch: neutral}
    v = np.array([-35.0, -5.0, 0.3])
    with_it = current_and_slope(v, at_conditions(ClampLaw(**mechanism.example), 298.15, 1e4))[0]
    without = current_and_slope(v, at_conditions(ClampLaw(**off), 298.15, 1e4))[0]
    assert not np.allclose(with_it, without, rtol=1e-6, atol=0)


@pytest.mark.parametrize("law", LAWS, ids=lambda law: law.name)
def test_functions_take_arrays_and_slopes_are_derivatives(law):
    random = np.random.default_rng(3)
    for _ in range(20):
        values = {}
        for q in law.arguments:
            if q.low > 0 and q.high / q.low > 1e3:
                values[q.name] = float(np.exp(random.uniform(np.log(q.low), np.log(q.high))))
            else:
                values[q.name] = float(random.uniform(q.low, q.high))
        single = law.function(**values)
        many = law.function(**{name: np.full(3, value) for name, value in values.items()})
        assert np.all(np.isfinite(single))
        assert np.shape(many)[-1] == 3
        assert np.allclose(np.asarray(many)[..., 1], single, rtol=1e-13, atol=0)
        if law.slope:
            step = 1e-5 * max(abs(values[law.slope]), 1e-3)
            ahead, behind = (
                law.function(**{**values, law.slope: values[law.slope] + d})[0]
                for d in (step, -step)
            )
            difference = (ahead - behind) / (2 * step)
            rounding = 1e-9 * single[0] / step
            assert single[1] == pytest.approx(difference, rel=1e-4, abs=rounding)
