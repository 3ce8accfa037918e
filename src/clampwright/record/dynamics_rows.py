"""Rows of noise, bandwidth and settling, written once for page and terminal."""

from __future__ import annotations

from clampwright.record.sensor_unit import SensorUnit
from clampwright.record.words import error_words, noise_words, nominal, quantity
from clampwright.verdict.results import Dynamics

Row = tuple[str, ...]


def dynamics_rows(dynamics: Dynamics, unit: SensorUnit | None = None) -> list[Row]:
    """Noise, bandwidth and settling with what was asked for."""
    rms, limit, ohms = dynamics.integrated_noise, dynamics.allowed_noise, dynamics.volts_per_ampere
    equal = f" = {unit.text(rms)}" if unit else ""
    allowed = _allowed(limit, "voltage")
    density = quantity(dynamics.noise_density, "voltage_noise")
    if ohms is not None:
        equal = f" ({quantity(rms, 'voltage')} at the output)"
        allowed = _allowed(None if limit is None else limit / ohms, "current")
        density = f"{noise_words(dynamics.noise_density, ohms)} ({density} at the output)"
    noise = (
        f"{error_words(rms, ohms)}{equal} rms in "
        f"{quantity(dynamics.noise_bandwidth, 'frequency')} noise bandwidth, {allowed}"
    )
    bandwidth = (
        f"{quantity(dynamics.bandwidth, 'frequency')}, "
        f"needed {nominal(dynamics.required_bandwidth, 'frequency')}"
    )
    settling = (
        f"{quantity(dynamics.settling_time, 'time')}, "
        f"{_allowed(dynamics.allowed_settling_time, 'time')}"
    )
    by_size = sorted(dynamics.noise_terms, key=lambda term: -term.value)
    causes = ", ".join(f"{t.name} {noise_words(t.value, ohms)}" for t in by_size)
    return [
        ("noise density", density),
        ("noise, integrated", noise),
        ("shot noise", quantity(dynamics.shot_noise, "current_noise")),
        ("bandwidth", bandwidth),
        (f"settling to {dynamics.settle_to:g}", settling),
        ("capacitance at the node", _capacitance_words(dynamics)),
        *_rejection_rows(dynamics),
        *([("noise density by cause", causes)] if causes else []),
    ]


def _capacitance_words(dynamics: Dynamics) -> str:
    """All that loads the node, and the clamps' own share where they sit."""
    words = quantity(dynamics.capacitance, "capacitance")
    whole, loading = dynamics.clamp_capacitance, dynamics.clamp_loading
    if not whole:
        return words
    own = f"{words}, of which the clamps {quantity(loading, 'capacitance')}"
    carried = f" of {quantity(whole, 'capacitance')}: the guard carries the rest"
    return own + (carried if loading < whole else "")


def _rejection_rows(dynamics: Dynamics) -> list[Row]:
    """Common-mode rejection of a differential input; nothing for any other."""
    if dynamics.common_mode_rejection is None:
        return []
    needed = dynamics.required_rejection
    asked = "no limit stated" if needed is None else f"needed {needed:g} dB"
    words = f"{dynamics.common_mode_rejection:.3g} dB at the mains frequency, {asked}"
    return [("common-mode rejection", words)]


def _allowed(value: float | None, kind: str) -> str:
    return "no limit stated" if value is None else f"allowed {nominal(value, kind)}"
