"""The generic classes against data sheets, trade facts and invented demo parts.

Data-sheet figures are from the makers' published data sheets (those marked "memory" are values from
memory). Trade facts are marked `common practice, no source`: reverse leakage at room temperature and
about 15 V, and what a torch of 0.1–50 klx does.
"""

from dataclasses import replace

import numpy as np
import pytest
from scipy.special import ndtri

from clampwright.errors import InputError
from clampwright.parts.amplifiers import amplifier_class, amplifier_classes
from clampwright.parts.catalogue import (
    catalogue,
    class_law,
    class_prior,
    combined_class,
    junction_class,
)
from clampwright.parts.evidence import MaximumFigure, TypicalFigure
from clampwright.parts.law_fit import fit_law
from clampwright.parts.law_interval import leakage_interval, lowest_bound, maximum_bound
from clampwright.parts.law_model import LOG_PARAMETERS, parameters, reverse_leakage
from clampwright.physics.clamp import at_conditions, current_and_slope
from clampwright.physics.constants import BOLTZMANN_PER_CHARGE

ROOM = 296.15  # [K] 23 °C
BAND = float(ndtri(0.975))  # a two-sided 95 % band in standard deviations

CLASSES = list(catalogue().values())
BY_NAME = pytest.mark.parametrize("found", CLASSES, ids=lambda c: c.name)


def band(name, voltage, temperature=298.15, illuminance=0.0):
    """The class's 95 % band of leakage (median, low, high)."""
    return leakage_interval(
        fit_law(class_prior(junction_class(name))), voltage, temperature, illuminance
    )


@BY_NAME
def test_class_law_gives_its_own_median(found):
    leakage = found.leakage
    model = float(reverse_leakage(class_law(found), leakage.voltage, leakage.temperature))
    assert model == pytest.approx(
        leakage.median, rel=2e-3, abs=0
    )  # varistors: plus their power law


@BY_NAME
def test_every_number_of_a_class_has_a_source(found):
    parts = (found.leakage, found.activation_energy, found.grading, found.ideality, found.light)
    for part in (*parts, found.forward, found.knee):
        if part is not None:
            assert part.source
    assert found.ratings_source


@BY_NAME
def test_prior_is_usable_by_a_fit(found):
    prior = class_prior(found)
    assert np.all(np.linalg.eigvalsh(prior.covariance) > 0)
    fitted = fit_law(prior)
    interval = leakage_interval(fitted, found.leakage.voltage, 298.15)
    width = np.log(interval.high / interval.median) / BAND
    assert width == pytest.approx(found.leakage.log_standard_deviation, rel=0.25, abs=0)


# Common practice, no source: 0.6–0.7 V at 1 mA in silicon, a little more in small gates, Schottky
# 0.2–0.45 V, red light-emitting diode 1.6–2 V but never more than its forward point.
@pytest.mark.parametrize(
    ("name", "low", "high"),
    [
        ("npn collector-base", 0.6, 0.7),
        ("npn emitter-base", 0.6, 0.7),
        ("plastic rectifier", 0.5, 0.7),
        ("glass switching diode", 0.6, 0.75),
        ("jfet gate small", 0.65, 0.85),
        ("low-leakage diode", 0.65, 0.9),
        ("schottky plastic", 0.2, 0.32),
        ("schottky clear glass", 0.25, 0.41),
        ("led blue", 1.4, 2.8),
    ],
)
def test_forward_drop_at_one_milliampere(name, low, high):
    law = class_law(junction_class(name))
    state = at_conditions(law, 298.15)
    for voltage, below in ((low, True), (high, False)):
        current, _ = current_and_slope(voltage - 1e-3 * float(law.series_resistance), state)
        assert (float(current) < 1e-3) is below


MAXIMA = [
    # class, A, V, °C — maximum figures are bounds: never below the middle of their class
    ("low-leakage diode", 1e-9, 125, 25),  # BAS45A, up to 100 lx
    ("low-leakage diode", 300e-9, 30, 125),  # BAS45A
    ("low-leakage diode", 500e-9, 125, 125),  # BAS45A
    ("low-leakage diode", 2e-6, 125, 150),  # BAS45A
    ("low-leakage diode", 5e-9, 75, 25),  # BAS116
    ("low-leakage diode", 80e-9, 75, 150),  # BAS116
    ("low-leakage diode", 1e-9, 125, 25),  # 1N3595, memory
    ("low-leakage diode", 3e-6, 125, 150),  # 1N3595, memory
    ("low-leakage diode", 25e-9, 60, 25),  # 1N457A, memory
    ("jfet gate small", 1e-12, 20, 25),  # 2N4117A
    ("jfet gate small", 2.5e-9, 20, 150),  # 2N4117A, memory
    ("jfet gate switching", 100e-12, 20, 25),  # 2N4393
    ("jfet gate switching", 200e-9, 20, 150),  # 2N4393
    ("jfet gate switching", 100e-12, 20, 25),  # J201, memory
    ("npn collector-base", 50e-9, 30, 25),  # 2N3904
    ("npn emitter-base", 50e-9, 3, 25),  # 2N3904, base cut-off
    ("schottky plastic", 2e-6, 25, 25),  # BAT54
    ("schottky power", 1e-3, 20, 25),  # 1N5817
    ("schottky power", 10e-3, 20, 100),  # 1N5817
    ("schottky clear glass", 200e-9, 50, 25),  # 1N5711, memory
    ("schottky plastic high barrier", 100e-9, 50, 25),  # BAS70
    ("zener 5 to 7 V", 2e-6, 2, 25),  # BZX84-C5V1, memory
    ("suppressor 5 V", 800e-6, 5, 25),  # SMBJ5.0A class
]


@pytest.mark.parametrize(("name", "maximum", "voltage", "celsius"), MAXIMA)
def test_maxima_lie_above_the_middle_of_their_class(name, maximum, voltage, celsius):
    assert maximum >= band(name, voltage, celsius + 273.15).median


TYPICALS = [
    ("low-leakage diode", 3e-12, 75, 25),  # BAS116
    ("low-leakage diode", 3e-9, 75, 150),  # BAS116
    ("jfet gate small", 0.2e-12, 20, 25),  # 2N4117A
    ("schottky plastic", 500e-9, 25, 25),  # BAT54
    ("schottky power", 12e-6, 20, 25),  # 1N5817
    ("schottky power", 2e-3, 20, 100),  # 1N5817
]


@pytest.mark.parametrize(("name", "typical", "voltage", "celsius"), TYPICALS)
def test_typical_figures_lie_inside_their_class(name, typical, voltage, celsius):
    _, low, high = band(name, voltage, celsius + 273.15)
    assert low <= typical <= high


# Common practice, no source: room temperature, about 15 V reverse, dark.
@pytest.mark.parametrize(
    ("name", "low", "high"),
    [
        ("glass switching diode", 2e-9, 9e-9),  # several nanoamperes
        ("plastic rectifier", 0.5e-9, 9e-9),  # low nanoamperes
        ("npn collector-base", 1e-12, 10e-12),  # low picoamperes
        ("jfet gate small", 0.3e-12, 9e-12),  # single-digit picoamperes at most
        ("schottky clear glass", 20e-9, 90e-9),  # about ten times the glass switching diode
        ("schottky painted glass", 30e-9, 300e-9),  # up to a few hundred nanoamperes
        ("low-leakage diode", 0.1e-12, 1e-9),  # bounded by about 1 nA
    ],
)
def test_trade_facts_in_the_dark(name, low, high):
    assert low <= band(name, 15.0, ROOM).median <= high


@pytest.mark.parametrize(
    ("name", "least", "most"),
    [
        # Added by a torch of 10 klx, in shares of the dark leakage at 15 V.
        ("glass switching diode", 2.0, np.inf),  # visibly raised
        ("schottky clear glass", 0.05, 0.2),  # about +10 %
        ("schottky painted glass", 0.0, 0.02),  # hardly light-sensitive
        ("plastic rectifier", 0.0, 0.03),  # not light-sensitive
    ],
)
def test_trade_facts_under_a_torch(name, least, most):
    dark = band(name, 15.0, ROOM).median
    added = band(name, 15.0, ROOM, 10e3).median - dark
    assert least <= added / dark <= most


def test_glass_diode_notices_even_a_dim_torch():
    """Common practice, no source: from 0.1 klx on it can be seen."""
    assert band("glass switching diode", 15.0, ROOM, 100.0).median > 1.1 * (
        band("glass switching diode", 15.0, ROOM).median
    )


def test_precision_junctions_beat_a_rectifier_by_hundreds():
    """Common practice, no source: precision inputs need 100–1000 times less than a rectifier."""
    rectifier = band("plastic rectifier", 15.0, ROOM).median
    for name in ("npn collector-base", "low-leakage diode", "jfet gate small"):
        assert rectifier / band(name, 15.0, ROOM).median > 100


def test_suppressors_and_varistors_leak_microamperes_at_stand_off():
    """Common practice, no source: microamperes to milliamperes at stand-off."""
    for name, stand_off in (("suppressor 5 V", 5.0), ("varistor multilayer", 14.0)):
        _, low, high = band(name, stand_off, ROOM)
        assert low < 1e-3
        assert high > 10e-6


def test_breakdowns_of_transistor_junctions():
    """Common practice, no source: collector–base to tens of volts, emitter–base 5–7 V."""
    assert junction_class("npn collector-base").breakdown_minimum >= 30
    emitter = junction_class("npn emitter-base")
    assert emitter.breakdown_minimum >= 5
    assert emitter.breakdown_typical <= 7
    state = at_conditions(class_law(emitter), ROOM)
    assert -float(current_and_slope(-8.0, state)[0]) > 1e-3


DEMO = [
    # Invented demo parts: class, A at V and 23 °C in the dark, apparent eV, exponent, A/lx, ideality
    ("npn collector-base", 3.7e-12, 5.0, 0.66, 0.5, 4e-15, 1.6),
    ("jfet gate small", 0.8e-12, 5.0, 0.64, 0.4, 2e-15, 1.5),
    ("npn emitter-base", 1.9e-12, 5.0, 0.60, 0.8, 4e-15, None),
    ("glass switching diode", 2.1e-9, 5.0, 0.58, 0.5, 12e-12, 1.9),
    ("esd array", 38e-12, 5.0, 0.62, 0.5, 2e-14, None),
    ("schottky plastic", 420e-9, 5.0, 0.55, 0.0, None, 1.05),
    ("led red", 0.05e-12, 5.0, 0.90, 0.0, 20e-12, 2.0),
    ("npn collector-base", 4.4e-12, 2.5, 0.66, None, None, None),
    ("glass switching diode", 1.9e-9, 2.5, 0.58, None, None, None),
    ("lifetime-killed collector-base", 1.2e-9, 2.5, 0.56, None, None, None),
    ("esd array", 30e-12, 2.5, 0.62, None, None, None),
    ("schottky plastic", 310e-9, 2.5, 0.55, None, None, None),
    ("suppressor 5 V", 1.4e-6, 2.5, 0.45, None, None, None),
]


@pytest.mark.parametrize(
    ("name", "leakage", "voltage", "energy", "grading", "light", "ideality"), DEMO
)
def test_demo_parts_lie_inside_their_class(
    name, leakage, voltage, energy, grading, light, ideality
):
    prior = class_prior(junction_class(name))
    _, low, high = band(name, voltage, ROOM)
    assert low <= leakage <= high
    given = {
        "generation_activation_energy": energy,
        "grading": grading,
        "responsivity": light,
        "generation_ideality": ideality,
    }
    stated = {key: value for key, value in given.items() if value is not None}
    theta = parameters(replace(prior.law, **stated), prior.names)
    deviation = np.sqrt(np.diag(prior.covariance))
    for key in stated:
        index = prior.names.index(key)
        assert abs(theta[index] - prior.values[index]) <= BAND * deviation[index], key


def test_a_part_blind_to_light_differs_by_nothing_that_counts():
    """A demo Schottky has no photocurrent at all: the class's band must reach insignificance."""
    prior = class_prior(junction_class("schottky plastic"))
    index = prior.names.index("responsivity")
    lowest = prior.values[index] - BAND * np.sqrt(prior.covariance[index, index])
    assert prior.names[index] in LOG_PARAMETERS
    assert np.exp(lowest) * 2000.0 < 1e-5 * 420e-9  # at 2 klx, against its dark leakage


def test_image_force_lowering_lies_inside_the_schottky_exponent():
    """Barrier lowering raises leakage about ×1.7 between 0 and 5 V (textbook image force)."""
    spread = junction_class("schottky plastic").grading
    exponent = np.log(1.7) / np.log1p(5.0 / 0.7)
    assert abs(exponent - spread.mean) <= BAND * spread.standard_deviation
    assert abs(0.0 - spread.mean) <= BAND * spread.standard_deviation


def test_typical_pair_at_two_temperatures_gives_its_activation_energy():
    """BAS116 typical 3 pA → 3 nA from 25 to 150 °C at 75 V: 0.6008 eV (Arrhenius)."""
    prior = class_prior(junction_class("low-leakage diode"))
    pair = [
        TypicalFigure(75.0, 298.15, 3e-12, log_standard_deviation=0.05),
        TypicalFigure(75.0, 423.15, 3e-9, log_standard_deviation=0.05),
    ]
    energy = fit_law(prior, typical=pair).law.generation_activation_energy
    assert energy == pytest.approx(0.6008, abs=0.012)  # 5 % of the hot figure is diffusion
    spread = junction_class("low-leakage diode").activation_energy
    assert abs(0.6008 - spread.mean) < BAND * spread.standard_deviation


@pytest.mark.parametrize(
    ("name", "cold", "hot", "temperature", "energy"),
    [
        ("jfet gate switching", 100e-12, 200e-9, 423.15, 0.6611),  # 2N4393 at 20 V
        ("low-leakage diode", 1e-9, 2e-6, 423.15, 0.6611),  # BAS45A at 125 V
    ],
)
def test_maximum_pairs_are_no_steeper_than_their_class_allows(name, cold, hot, temperature, energy):
    """Arrhenius on two maxima; a bound moved from the cold figure may not undercut the hot one."""
    closed = BOLTZMANN_PER_CHARGE * np.log(hot / cold) / (1 / 298.15 - 1 / temperature)
    assert closed == pytest.approx(energy, abs=5e-4)
    spread = junction_class(name).activation_energy
    assert abs(closed - spread.mean) <= BAND * spread.standard_deviation
    prior = class_prior(junction_class(name))
    moved = maximum_bound(MaximumFigure(20.0, 298.15, cold), prior, 20.0, temperature)
    assert moved >= hot


def test_two_alike_in_a_row_leak_like_one_at_half_the_voltage():
    found = junction_class("glass switching diode")
    one, row = class_prior(found).law, class_prior(found, series=2).law
    for voltage in (0.02, 1.0, 10.0, -0.4):
        assert float(reverse_leakage(row, voltage, ROOM)) == pytest.approx(
            float(reverse_leakage(one, voltage / 2, ROOM)),
            rel=1e-12,
            abs=0,
        )


def test_two_alike_side_by_side_leak_twice():
    found = junction_class("glass switching diode")
    one, two = class_prior(found).law, class_prior(found, scale=2.0).law
    for voltage, light in ((5.0, 0.0), (-0.4, 0.0), (5.0, 300.0)):
        assert float(reverse_leakage(two, voltage, ROOM, light)) == pytest.approx(
            2 * float(reverse_leakage(one, voltage, ROOM, light)),
            rel=1e-12,
            abs=0,
        )


def test_different_junctions_in_parallel():
    assert combined_class(("npn emitter-base", "npn collector-base")).name == "npn both junctions"
    assert combined_class(("esd array", "suppressor 5 V")).name == "suppressor 5 V"  # the leakier


def test_unknown_names_list_the_known_ones():
    with pytest.raises(InputError, match=r"x.toml: no class .*one of .*glass switching diode"):
        junction_class("glass", "x.toml")
    with pytest.raises(InputError, match=r"one of .*super-beta"):
        amplifier_class("valve")


@pytest.mark.parametrize(
    ("name", "low", "high", "doubling"),
    [
        # Ranges of typical members; common practice, no source.
        ("bipolar precision", 1e-9, 1e-8, None),
        ("super-beta", 1e-11, 1e-10, None),
        ("jfet", 1e-12, 5e-11, 10.0),
        ("cmos electrometer", 3e-15, 2e-13, 10.0),
        ("zero-drift", 2e-11, 3e-10, None),
    ],
)
def test_amplifier_bias_ranges(name, low, high, doubling):
    family = amplifier_class(name)
    assert family.bias_current == (
        pytest.approx(low, abs=0, rel=1e-9),
        pytest.approx(high, abs=0, rel=1e-9),
    )
    assert family.bias_doubling == doubling


def test_amplifier_ranges_are_in_order():
    for family in amplifier_classes().values():
        for field, value in family:
            if isinstance(value, tuple):
                assert 0 < value[0] < value[1], (family.name, field)


def test_low_leakage_glass_diode_needs_its_light_condition():
    """BAS45A: 1 nA maximum at 125 V, 25 °C holds up to 100 lx; a bench lamp may break it."""
    assert band("low-leakage diode", 125.0, 298.15, 100.0).median < 1e-9
    assert band("low-leakage diode", 125.0, 298.15, 10e3).median > 1e-9


def test_a_maximum_says_nothing_of_more_light_than_it_is_stated_for():
    prior = class_prior(junction_class("low-leakage diode"))
    stated = MaximumFigure(125.0, 298.15, 1e-9, illuminance=100.0)  # BAS45A
    assert lowest_bound([stated], prior, 5.0, 298.15, 100.0) == 1e-9
    assert lowest_bound([stated], prior, 5.0, 298.15, 1e3) > 1e-8
