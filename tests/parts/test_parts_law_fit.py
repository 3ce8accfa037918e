"""From sparse evidence to a law: each pair of readings moves what it determines, and honestly.

Truth is synthetic (made with the law itself plus noise), so the right answer is known.
"""

from dataclasses import replace

import numpy as np
import pytest
from law_truth import HOT, PRIOR, ROOM, TRUTH, WARM, point

from clampwright.errors import InputError
from clampwright.parts.law_fit import fit_law, noise_covariance
from clampwright.parts.law_interval import leakage_interval
from clampwright.parts.law_model import law_with, leakage_and_gradient, parameters, reverse_leakage
from clampwright.physics.constants import BOLTZMANN_PER_CHARGE


def deviations(fitted):
    return dict(zip(fitted.names, np.sqrt(np.diag(fitted.covariance)), strict=True))


def narrowed(fitted, share=0.5):
    """Names whose deviation fell below `share` of the prior's."""
    prior = np.sqrt(np.diag(PRIOR.covariance))
    return {
        name
        for name, before, after in zip(
            fitted.names, prior, deviations(fitted).values(), strict=True
        )
        if after < share * before
    }


def assert_recovers(fitted, name):
    """The fitted value lies within its own 95 % of the truth."""
    index = fitted.names.index(name)
    target = replace(fitted.law, **{name: getattr(TRUTH, name)})
    wanted = parameters(target, fitted.names)[index]
    assert abs(fitted.values[index] - wanted) <= 1.96 * deviations(fitted)[name]


def test_one_point_fixes_the_leakage_there_and_nothing_else():
    fitted = fit_law(PRIOR, [point(5.0, ROOM)])
    interval = leakage_interval(fitted, 5.0, ROOM)
    assert interval.median == pytest.approx(
        float(reverse_leakage(TRUTH, 5.0, ROOM)), rel=1e-3, abs=0
    )
    assert interval.high / interval.low < 1.05
    assert narrowed(fitted, 0.9) == {"generation_current"}
    assert fitted.basis == "measured"


def test_voltage_pair_fixes_the_grading():
    fitted = fit_law(PRIOR, [point(5.0, ROOM), point(1.0, ROOM), point(20.0, ROOM)])
    assert "grading" in narrowed(fitted)
    assert not {"generation_activation_energy", "responsivity"} & narrowed(fitted)
    assert_recovers(fitted, "grading")


def test_temperature_pair_fixes_the_activation_energy():
    fitted = fit_law(PRIOR, [point(5.0, ROOM), point(5.0, HOT)])
    assert "generation_activation_energy" in narrowed(fitted)
    assert not {"grading", "generation_ideality", "responsivity"} & narrowed(fitted)
    assert_recovers(fitted, "generation_activation_energy")


def test_two_point_activation_energy_is_the_closed_form():
    """k·ln(I₂/I₁)/(1/T₁ − 1/T₂), Arrhenius; the prior must not pull visibly at 0.1 %."""
    prior = replace(PRIOR, law=replace(PRIOR.law, diffusion_current=0.0))
    truth = replace(TRUTH, diffusion_current=0.0)
    cold, hot = (
        replace(p, standard_uncertainty=1e-4 * p.leakage)
        for p in (point(5.0, ROOM, law=truth), point(5.0, HOT, law=truth))
    )
    fitted = fit_law(prior, [cold, hot])
    closed = BOLTZMANN_PER_CHARGE * np.log(hot.leakage / cold.leakage) / (1 / ROOM - 1 / HOT)
    assert fitted.law.generation_activation_energy == pytest.approx(closed, abs=2e-4)


def test_slope_pair_fixes_the_ideality():
    tight = [
        replace(p, standard_uncertainty=2e-16)
        for p in (point(0.01, ROOM), point(-0.01, ROOM), point(5.0, ROOM), point(1.0, ROOM))
    ]
    fitted = fit_law(PRIOR, [*tight[:2], *(point(v, ROOM) for v in (5.0, 1.0, 20.0))])
    assert "generation_ideality" in narrowed(fitted)
    assert "generation_activation_energy" not in narrowed(fitted)
    assert_recovers(fitted, "generation_ideality")


def test_light_pair_fixes_the_responsivity():
    fitted = fit_law(PRIOR, [point(5.0, ROOM), point(5.0, ROOM, 1000.0)])
    assert "responsivity" in narrowed(fitted)
    assert not {"grading", "generation_activation_energy", "generation_ideality"} & narrowed(fitted)
    assert_recovers(fitted, "responsivity")


def test_fit_does_not_depend_on_the_start():
    """The same posterior from a general-purpose minimiser of another kind (scipy, Nelder–Mead)."""
    from scipy.optimize import minimize

    points = [point(5.0, ROOM), point(5.0, WARM), point(5.0, ROOM, 1000.0)]
    fitted = fit_law(PRIOR, points)
    inverse = np.linalg.inv(noise_covariance(fitted.law, points))
    prior_inverse = np.linalg.inv(PRIOR.covariance)

    def cost(theta):
        law = law_with(PRIOR.law, PRIOR.names, theta)
        misfit = np.array(
            [
                float(reverse_leakage(law, p.reverse_voltage, p.temperature, p.illuminance))
                - p.leakage
                for p in points
            ]
        )
        step = theta - PRIOR.values
        return misfit @ inverse @ misfit + step @ prior_inverse @ step

    other = minimize(
        cost,
        PRIOR.values,
        method="Nelder-Mead",
        options={
            "xatol": 1e-9,
            "fatol": 1e-12,
            "maxiter": 20000,
            "maxfev": 20000,
            "adaptive": True,
        },
    )
    assert cost(fitted.values) <= other.fun + 1e-6
    assert np.abs(other.x - fitted.values).max() < 1e-3


def test_hot_readings_rescue_an_undetected_cold_one():
    cold = replace(point(5.0, ROOM), standard_uncertainty=1e-11, leakage=-4e-12)
    alone = fit_law(PRIOR, [cold])
    assert alone.basis == "assumed"
    assert "no reading stands out" in alone.flags[0]
    rescued = fit_law(PRIOR, [cold, point(5.0, 333.15), point(5.0, HOT)])
    assert rescued.basis == "measured"
    interval = leakage_interval(rescued, 5.0, ROOM)
    assert interval.low <= float(reverse_leakage(TRUTH, 5.0, ROOM)) <= interval.high


def test_undetected_reading_still_bounds_from_above():
    silent = replace(point(5.0, ROOM), standard_uncertainty=2e-13, leakage=0.0)
    before = leakage_interval(fit_law(PRIOR), 5.0, ROOM)
    after = leakage_interval(fit_law(PRIOR, [silent]), 5.0, ROOM)
    assert after.high < before.high / 10
    assert after.median > 0


def test_shared_scale_stays_in_the_answer_however_many_readings():
    many = [point(5.0, ROOM, scale_uncertainty=0.05) for _ in range(20)]
    interval = leakage_interval(fit_law(PRIOR, many), 5.0, ROOM)
    assert np.log(interval.high / interval.median) == pytest.approx(1.96 * 0.05, rel=0.05, abs=0)
    apart = [replace(p, session=str(i)) for i, p in enumerate(many)]
    independent = leakage_interval(fit_law(PRIOR, apart), 5.0, ROOM)
    assert np.log(independent.high / independent.median) < 1.96 * 0.05 / 4


def test_one_kelvin_costs_its_share_of_leakage():
    """E/(kT²): 8.7 % for each kelvin at 0.66 eV and 23 °C (Arrhenius)."""
    many = [point(5.0, ROOM, temperature_uncertainty=1.0) for _ in range(20)]
    interval = leakage_interval(fit_law(PRIOR, many), 5.0, ROOM)
    share = 0.66 / (BOLTZMANN_PER_CHARGE * ROOM**2)
    assert np.log(interval.high / interval.median) / 1.96 == pytest.approx(share, rel=0.06, abs=0)


def test_temperatures_of_one_soak_share_their_error():
    """23.0 and 23.2 °C of one session are one setting; another session is another setting."""
    warm = {"temperature_uncertainty": 1.0}
    points = [
        point(5.0, ROOM, **warm),
        point(5.0, ROOM + 0.2, **warm),
        point(5.0, HOT, **warm),
        point(5.0, ROOM, session="two", **warm),
    ]
    correlated = noise_covariance(TRUTH, points) > 0
    assert correlated[0].tolist() == [True, True, False, False]


def test_readings_that_no_law_explains_are_flagged():
    wrong = replace(point(5.0, HOT), leakage=0.3 * float(reverse_leakage(TRUTH, 5.0, ROOM)))
    fitted = fit_law(PRIOR, [point(5.0, ROOM), wrong, point(1.0, ROOM)])
    assert fitted.lack_of_fit is not None
    assert fitted.lack_of_fit < 0.01
    assert any("does not explain" in flag for flag in fitted.flags)
    assert fit_law(PRIOR, [point(5.0, ROOM), point(5.0, HOT)]).flags == ()


def test_far_forward_readings_are_left_out_and_said_so():
    fitted = fit_law(PRIOR, [point(5.0, ROOM), point(-0.5, ROOM)])
    assert len(fitted.residuals) == 1
    assert "1 readings beyond 0.15 V forward" in fitted.flags[0]


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"standard_uncertainty": 0.0}, "no standard uncertainty"),
        ({"standard_uncertainty": float("nan")}, "no standard uncertainty"),
        ({"temperature": -1.0}, "kelvin above 0"),
        ({"leakage": float("inf")}, "finite numbers"),
    ],
)
def test_unusable_point_is_refused(change, words):
    with pytest.raises(InputError, match=words):
        fit_law(PRIOR, [replace(point(5.0, ROOM), **change)])


def test_gradient_agrees_with_a_plain_difference():
    """Central difference in one batched evaluation against one-sided differences one by one."""
    conditions = ([5.0, 1.0, 5.0, -0.01], [ROOM, HOT, ROOM, ROOM], [0.0, 0.0, 500.0, 0.0])
    value, gradient = leakage_and_gradient(TRUTH, PRIOR.names, PRIOR.values, *conditions)
    for i in range(len(PRIOR.names)):
        theta = PRIOR.values
        theta[i] += 1e-6
        moved = reverse_leakage(law_with(TRUTH, PRIOR.names, theta), *conditions)
        assert gradient[:, i] == pytest.approx((moved - value) / 1e-6, rel=1e-3, abs=1e-18)


def test_law_says_what_its_evidence_covers():
    law = fit_law(PRIOR, [point(5.0, ROOM), point(2.0, HOT), point(1.0, ROOM, 50.0)]).law
    assert (law.valid_temperature_minimum, law.valid_temperature_maximum) == (ROOM, HOT)
    assert (law.valid_reverse_voltage_maximum, law.valid_illuminance_maximum) == (5.0, 50.0)
    assert np.isinf(fit_law(PRIOR).law.valid_temperature_maximum)


def test_known_and_assumed_are_words_with_values():
    fitted = fit_law(PRIOR, [point(5.0, ROOM), point(5.0, HOT)])
    assert any(
        text.startswith("activation energy (apparent) 0.66") and " ± " in text
        for text in fitted.known
    )
    assert any(
        "photocurrent" in text and "as for any collector–base" in text for text in fitted.assumed
    )
    assert len(fitted.known) + len(fitted.assumed) == len(fitted.names)


def test_swapped_leads_and_contradictions_end_in_a_flag_and_not_in_an_error():
    swapped = [
        replace(p, leakage=-p.leakage)
        for p in (point(5.0, ROOM), point(5.0, WARM), point(5.0, HOT))
    ]
    assert any("does not explain" in flag for flag in fit_law(PRIOR, swapped).flags)
    wild = [
        replace(point(5.0, ROOM), leakage=value, scale_uncertainty=0.5, temperature_uncertainty=5.0)
        for value in (1e-9, 1e-13, -1e-10, 3e-12)
    ]
    fitted = fit_law(PRIOR, wild)
    assert fitted.flags
    assert np.all(np.isfinite(fitted.values))
    assert np.all(np.linalg.eigvalsh(fitted.covariance) > 0)
