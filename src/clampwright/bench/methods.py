"""Ways to measure a small current, what each sees, and the errors it makes.

Feedback adapter, shunt, the bare input resistance of a meter, and the timed charge of a capacitor.
The numbers are for planning; the uncertainty of a reading comes from the reading itself.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import inf, log, sqrt

from clampwright.bench.instrument import METER_BIAS, THROUGH_THE_METER, Profile
from clampwright.errors import InputError
from clampwright.physics.constants import BOLTZMANN, ELEMENTARY_CHARGE, ROOM_TEMPERATURE
from clampwright.quantities import write

METER_RESISTANCE = 10e6  # [Ω] input of a common multimeter
METER_TOLERANCE = 0.01  # [1] of it; common practice
METER_BIAS_KNEE = 303.15  # [K]
METER_BIAS_DOUBLING = 8.0  # [K]
FULL_SCALE = 2.0  # [V] of adapter output or meter range
LARGEST_BURDEN = 0.01  # [V] across the part before its voltage is another
DETECTION = 3.29  # [1] standard uncertainties of a net zero (Currie, Anal. Chem. 40 (1968) 586)
SOAKAGE = {"film or air": 0.0002, "class 1 ceramic": 0.006, "class 2 ceramic": 0.025}
# [1] share of the charge that comes back (IEC 60384-1 method); handbook values
SOAKAGE_SPAN = log(900.0 / 10.0)  # [1] from 10 s to 15 min, over which that share was measured
LARGEST_CHANGE = 0.05  # [1] of the bias: a timed charge must not change the voltage more


@dataclass(frozen=True)
class Errors:
    """Standard uncertainties (A) of one current by one method."""

    scatter: float  # falls with more readings
    resolution: float
    drift: float  # of the zero, in a session
    floor: float  # that looks like leakage and no averaging removes: bias, soakage
    scale: float  # proportional to the current

    @property
    def zero(self) -> float:
        """Of a net reading of no current: scatter twice, for reading and zero."""
        return sqrt(2 * self.scatter**2 + self.resolution**2 + self.drift**2 + self.floor**2)

    @property
    def total(self) -> float:
        """Of the current."""
        return sqrt(self.zero**2 + self.scale**2)


@dataclass(frozen=True)
class Method:
    """A way to measure: what it needs to know to plan with it. Currents in A, times in s."""

    name: str
    smallest_step: float  # [A] that the display resolves
    noise: float  # [A/√Hz] white
    drift: float  # [A] standard
    floor: float  # [A] standard, left after the zero is subtracted
    scale: float  # [1] standard
    largest: float  # [A]
    burden_resistance: float  # [Ω] in series with the part
    burden_offset: float  # [V]
    settling: float  # [s] of the reading itself

    def burden(self, current: float) -> float:
        """Voltage (V) the method takes from the part."""
        return self.burden_offset + self.burden_resistance * abs(current)

    def errors(self, current: float, gate: float = 0.2, count: int = 10) -> Errors:
        """For the mean of `count` readings integrated over `gate` seconds each."""
        if not (gate > 0 and count >= 1):
            raise InputError("a reading needs a gate above 0 s and one reading or more")
        shot = 2 * ELEMENTARY_CHARGE * abs(current)
        scatter = sqrt((self.noise**2 + shot) / (2 * gate * count))
        step = self.smallest_step / sqrt(12)
        return Errors(scatter, step, self.drift, self.floor, self.scale * abs(current))

    def smallest_seen(self, gate: float = 0.2, count: int = 10) -> float:
        """Detection limit (A): a current that large is missed in 5 % of cases."""
        return DETECTION * self.errors(0.0, gate, count).zero


def feedback_adapter(profile: Profile, scatter: float | None = None) -> Method:
    """The method of an instrument sheet: adapter, shunt or meter as its owner describes it.

    scatter : V, standard deviation of one reading of the zero as it was measured (200 ms gate);
        without it the thermal noise of the feedback resistor stands in, which is hopeful
    The output is V_os·(1 + R_f/R_x) + scale·I, so the offset grows when the part has a low resistance.
    """
    resistance = profile.feedback_resistance or profile.scale
    noise = sqrt(4 * BOLTZMANN * ROOM_TEMPERATURE / resistance)
    if scatter is not None:
        noise = scatter / profile.scale * sqrt(2 * 0.2)
    shunt = profile.method in THROUGH_THE_METER
    return Method(
        name=profile.title or profile.id,
        smallest_step=profile.resolution / profile.scale,
        noise=noise,
        drift=profile.offset_drift * profile.bench_change / sqrt(3) / profile.scale,
        floor=profile.bias_change / sqrt(3) if shunt else 0.0,
        scale=profile.tolerance / sqrt(3),
        largest=FULL_SCALE / profile.scale,
        burden_resistance=profile.scale if shunt else 0.0,
        burden_offset=profile.offset_voltage,
        settling=1.0,
    )


def shunt(
    resistance: float,
    *,
    tolerance: float = METER_TOLERANCE,
    meter_resistance: float = inf,
    resolution: float = 1e-6,
    temperature: float = ROOM_TEMPERATURE,
) -> Method:
    """A resistor (Ω) read by a meter: R_sh beside the meter's own input, through which its bias flows.

    The bias looks like leakage; the zero removes it as far as it stays the same, a third is kept.
    """
    effective = (
        resistance if meter_resistance == inf else 1 / (1 / resistance + 1 / meter_resistance)
    )
    return Method(
        name=f"shunt of {write(effective, 'resistance')}",
        smallest_step=resolution / effective,
        noise=sqrt(4 * BOLTZMANN * temperature / effective),
        drift=resolution / effective / sqrt(3),
        floor=meter_bias(temperature) / 3,
        scale=tolerance / sqrt(3),
        largest=FULL_SCALE / effective,
        burden_resistance=effective,
        burden_offset=0.0,
        settling=1.0,
    )


def meter_alone(*, resolution: float = 10e-6, temperature: float = ROOM_TEMPERATURE) -> Method:
    """A multimeter's 10 MΩ input in series with the part: 0.1 nA for each millivolt.

    In a range with "> 10 GΩ" input the bias charges the input instead: no ammeter.
    """
    made = shunt(METER_RESISTANCE, resolution=resolution, temperature=temperature)
    return Method(**(vars(made) | {"name": "meter alone (10 MΩ)"}))


def meter_bias(temperature: float) -> float:
    """Bias (A) of a common meter: 30 pA, doubling for each 8 °C above 30 °C."""
    doublings = max(0.0, (temperature - METER_BIAS_KNEE) / METER_BIAS_DOUBLING)
    return METER_BIAS * float(2.0**doublings)


def timed_charge(
    capacitance: float,
    seconds: float,
    *,
    bias: float = 5.0,
    dielectric: str = "film or air",
    resolution: float = 10e-6,
    noise: float = 30e-6,
    tolerance: float = 0.02,
    buffer_bias: float = 0.0,
    rest: float = 600.0,
) -> Method:
    """Let the part charge a capacitor (F) for `seconds` and read I = C·ΔV/Δt.

    noise       : V, of one voltage reading; buffer_bias: A, largest, of what reads the capacitor
    rest        : s between applying `bias` (V) and starting, during which the soakage dies away as 1/t
    dielectric  : "film or air", "class 1 ceramic"; class 2 is refused
    """
    if dielectric == "class 2 ceramic":
        raise InputError(
            "a class 2 capacitor gives back more charge than the part leaks",
            expected="film, air or class 1 ceramic",
        )
    if dielectric not in SOAKAGE:
        raise InputError(f'no dielectric "{dielectric}"', expected=", ".join(SOAKAGE))
    per_volt = capacitance / seconds
    floor = soakage_current(capacitance, bias, rest, dielectric)
    return Method(
        name=f"timed charge of {write(capacitance, 'capacitance')} for {write(seconds, 'time')}",
        smallest_step=resolution * per_volt,
        noise=0.0,
        drift=noise * sqrt(2) * per_volt,
        floor=sqrt(floor**2 / 3 + buffer_bias**2 / 3),
        scale=tolerance / sqrt(3),
        largest=LARGEST_CHANGE * bias * per_volt,
        burden_resistance=0.0,
        burden_offset=0.0,
        settling=rest,
    )


def soakage_current(
    capacitance: float, step: float, seconds: float, dielectric: str = "film or air"
) -> float:
    """Soakage (A) `seconds` after a step (V): β·C·ΔV/t, β the returned share over the decades.

    Source: Curie–von Schweidler law with exponent 1; a decade less for each decade of time.
    """
    return SOAKAGE[dielectric] / SOAKAGE_SPAN * capacitance * abs(step) / seconds


__all__ = [
    "LARGEST_BURDEN",
    "Errors",
    "Method",
    "feedback_adapter",
    "meter_alone",
    "meter_bias",
    "shunt",
    "soakage_current",
    "timed_charge",
]
