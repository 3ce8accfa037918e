"""The laws listed once: name, symbol, unit, range and source, for sweeps, fits and documentation.

`PARAMETERS` describes every field of a `ClampLaw`, `MECHANISMS` says which fields switch each
mechanism of it on, `LAWS` lists the plain functions. Ranges are where the law is checked and means
something; a function outside its range still returns a number.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

from clampwright.physics import depletion, gate, light, noise, temperature, thermal
from clampwright.physics.source_resistance import source_resistance


@dataclass(frozen=True)
class Quantity:
    """One number of a law: keyword, printed symbol, SI unit ("" is a pure number), range."""

    name: str
    symbol: str
    unit: str
    low: float
    high: float


@dataclass(frozen=True)
class Mechanism:
    """One mechanism of the clamp law and the field whose zero (or infinity) removes it."""

    name: str
    equation: str
    switch: str
    example: Mapping[str, float]
    source: str


@dataclass(frozen=True)
class Law:
    """A plain function of SI numbers; `slope` names the argument of its second value, if any."""

    function: Callable[..., Any]
    equation: str
    unit: str
    arguments: tuple[Quantity, ...]
    source: str
    slope: str = ""

    @property
    def name(self) -> str:
        """The function's own name in words."""
        return self.function.__name__.replace("_", " ")


SZE = "Sze, Physics of Semiconductor Devices"
_T = Quantity("temperature", "T", "K", 100.0, 500.0)
_V_R = Quantity("reverse_voltage", "V_R", "V", 0.0, 1e4)
_V_BI = Quantity("built_in", "V_bi", "V", 0.2, 1.5)
_N_A = Quantity("acceptors", "N_A", "1/m³", 1e18, 1e26)
_N_D = Quantity("donors", "N_D", "1/m³", 1e18, 1e26)
_E_A = Quantity("activation_energy", "E", "eV", 0.0, 2.0)
_EXPONENT = Quantity("exponent", "γ", "", 0.0, 4.0)
_REFERENCE = Quantity("reference", "T0", "K", 100.0, 500.0)
_R_TH = Quantity("thermal_resistance", "R_th", "K/W", 0.0, 1e4)
_W = Quantity("width", "W", "m", 1e-9, 1e-3)

PARAMETERS: tuple[Quantity, ...] = (
    Quantity("diffusion_current", "I_D", "A", 0.0, 1e-2),
    Quantity("diffusion_ideality", "n_D", "", 1.0, 2.0),
    Quantity("diffusion_activation_energy", "E_D", "eV", 0.3, 3.5),
    Quantity("diffusion_temperature_exponent", "γ_D", "", 0.0, 4.0),
    Quantity("generation_current", "I_G", "A", 0.0, 1e-2),
    Quantity("generation_ideality", "n_G", "", 1.0, 2.5),
    Quantity("generation_activation_energy", "E_G", "eV", 0.0, 2.0),
    Quantity("generation_temperature_exponent", "γ_G", "", 0.0, 4.0),
    Quantity("built_in_voltage", "V_bi", "V", 0.2, 3.5),
    Quantity("grading", "m", "", 0.0, 0.9),
    Quantity("film_conductance", "G", "S", 0.0, 1e-2),
    Quantity("film_activation_energy", "E_f", "eV", 0.0, 1.0),
    Quantity("responsivity", "S_E", "A/lx", 0.0, 1e-6),
    Quantity("series_resistance", "R_S", "ohm", 0.0, 1e9),
    Quantity("zero_bias_capacitance", "C_0", "F", 0.0, 1e-6),
    Quantity("reference_temperature", "T_0", "K", 100.0, 500.0),
    Quantity("image_force_lowering", "c", "V^¾", 0.0, 0.1),
    Quantity("breakdown_voltage", "V_BR", "V", 2.0, 1e4),
    Quantity("breakdown_exponent", "n", "", 2.0, 8.0),
    Quantity("breakdown_temperature_coefficient", "β_BR", "1/K", -2e-3, 2e-3),
    Quantity("breakdown_resistance", "R_BR", "ohm", 1e-3, 1e4),
    Quantity("tunnelling_current", "I_Z", "A", 0.0, 1.0),
    Quantity("tunnelling_voltage", "V_Z", "V", 1.0, 50.0),
    Quantity("tunnelling_width", "V_k", "V", 0.1, 1.0),
    Quantity("tunnelling_temperature_coefficient", "β_Z", "1/K", -2e-3, 2e-3),
    Quantity("symmetric_current", "I_ref", "A", 0.0, 1.0),
    Quantity("symmetric_voltage", "V_ref", "V", 1.0, 1e4),
    Quantity("symmetric_exponent", "α", "", 1.5, 100.0),
    Quantity("symmetric_temperature_coefficient", "β_ref", "1/K", -2e-3, 2e-3),
    Quantity("transit_time", "τ", "s", 0.0, 1e-4),
    Quantity("valid_temperature_minimum", "T_min", "K", 0.0, 500.0),
    Quantity("valid_temperature_maximum", "T_max", "K", 0.0, 1e3),
    Quantity("valid_reverse_voltage_maximum", "V_R,max", "V", 0.0, 1e4),
    Quantity("valid_illuminance_maximum", "E_max", "lx", 0.0, 2e5),
)


def _mechanism(name: str, equation: str, switch: str, source: str, **example: float) -> Mechanism:
    return Mechanism(name, equation, switch, MappingProxyType(example), source)


MECHANISMS: tuple[Mechanism, ...] = (
    _mechanism(
        "diffusion",
        "I_D·(exp(V/n_D·V_T) − 1)",
        "diffusion_current",
        f"{SZE}, ch. 2; Shockley 1949",
        diffusion_current=1e-14,
    ),
    _mechanism(
        "thermionic emission with image force",
        "I_D·exp(c·((V_R + V_bi)^¼ − V_bi^¼)/V_T)·(exp(V/n_D·V_T) − 1)",
        "image_force_lowering",
        f"{SZE}, ch. 3",
        diffusion_current=1e-7,
        diffusion_activation_energy=0.7,
        diffusion_temperature_exponent=2.0,
        image_force_lowering=0.026,
    ),
    _mechanism(
        "generation",
        "I_G·(1 + V_R/V_bi)^m·(exp(V/n_G·V_T) − 1)",
        "generation_current",
        "Sah, Noyce and Shockley, Proc. IRE 45 (1957) 1228",
        generation_current=1e-12,
    ),
    _mechanism("film", "G·V", "film_conductance", "Ohm's law", film_conductance=1e-12),
    _mechanism(
        "photocurrent",
        "−S_E·E",
        "responsivity",
        f"{SZE}, ch. 13",
        responsivity=1e-14,
        generation_current=1e-13,
    ),
    _mechanism(
        "avalanche",
        "M = 1/(1 − (V_R/V_BR)^n)",
        "breakdown_voltage",
        "Miller, Phys. Rev. 99 (1955) 1234",
        generation_current=1e-10,
        breakdown_voltage=30.0,
        breakdown_temperature_coefficient=1e-3,
    ),
    _mechanism(
        "tunnelling",
        "−I_Z·(exp((V_R − V_Z)/V_k) − exp(−V_Z/V_k))",
        "tunnelling_current",
        "empirical soft knee",
        tunnelling_current=1e-3,
        tunnelling_voltage=4.7,
        tunnelling_width=0.3,
        tunnelling_temperature_coefficient=-5e-4,
    ),
    _mechanism(
        "symmetric power law",
        "sign(V)·I_ref·(|V|/V_ref)^α",
        "symmetric_current",
        "empirical, as used for metal-oxide varistors",
        symmetric_current=1e-3,
        symmetric_voltage=18.0,
        symmetric_exponent=30.0,
    ),
)

LAWS: tuple[Law, ...] = (
    Law(
        temperature.temperature_factor,
        "(T/T0)^γ·exp(−E/k·(1/T − 1/T0))",
        "",
        (_T, _REFERENCE, _E_A, _EXPONENT),
        f"{SZE}, ch. 2",
    ),
    Law(temperature.thermal_voltage, "kT/q", "V", (_T,), "SI 2019"),
    Law(temperature.apparent_activation_energy, "E + γkT", "eV",
        (_E_A, _EXPONENT, _T), "d ln I/d(−1/kT)"),
    Law(temperature.doubling_interval, "ln 2·kT²/(E + γkT)", "K",
        (_T, Quantity("activation_energy", "E", "eV", 0.05, 2.0)), "d ln I/dT"),
    Law(temperature.silicon_band_gap, "1.17 − 4.73e-4·T²/(T + 636)", "eV", (_T,), f"{SZE}"),
    Law(temperature.silicon_intrinsic_concentration, "5.29e25·(T/300)^2.54·exp(−6726/T)", "1/m³",
        (_T,), "Misiakos and Tsamakis, J. Appl. Phys. 74 (1993) 3293"),
    Law(depletion.built_in_voltage, "kT/q·ln(N_A·N_D/n_i²)", "V",
        (_N_A, _N_D, _T), f"{SZE}, ch. 2"),
    Law(depletion.depletion_width, "√(2ε(V_bi + V_R)/q·(1/N_A + 1/N_D))", "m",
        (_V_R, _V_BI, _N_A, _N_D), f"{SZE}, ch. 2"),
    Law(depletion.largest_field, "2(V_bi + V_R)/W", "V/m", (_V_R, _V_BI, _W), f"{SZE}, ch. 2"),
    Law(depletion.depletion_capacitance, "εA/W", "F",
        (Quantity("area", "A", "m²", 1e-12, 1e-4), _W), f"{SZE}, ch. 2"),
    Law(depletion.image_force_lowering, "√(q/4πε)·(2qN/ε)^¼", "V^¾", (_N_D,), f"{SZE}, ch. 3"),
    Law(noise.resistor_voltage_noise, "√(4kTR)", "V/√Hz",
        (Quantity("resistance", "R", "ohm", 0.0, 1e15), _T), "Nyquist, Phys. Rev. 32 (1928) 110"),
    Law(noise.resistor_current_noise, "√(4kT/R)", "A/√Hz",
        (Quantity("resistance", "R", "ohm", 1e-3, 1e15), _T), "Nyquist, Phys. Rev. 32 (1928) 110"),
    Law(noise.shot_noise, "√(2qI)", "A/√Hz", (Quantity("current", "I", "A", -10.0, 10.0),),
        "Schottky 1918"),
    Law(noise.capacitor_noise, "√(kT/C)", "V",
        (Quantity("capacitance", "C", "F", 1e-16, 1.0), _T), "equipartition"),
    Law(light.photocurrent, "S_E·E", "A",
        (Quantity("responsivity", "S_E", "A/lx", 0.0, 1e-6),
         Quantity("illuminance", "E", "lx", 0.0, 2e5)),
        f"{SZE}, ch. 13"),
    Law(thermal.junction_temperature, "T_a + P·R_th", "K",
        (Quantity("ambient", "T_a", "K", 100.0, 500.0), Quantity("power", "P", "W", 0.0, 1e3),
         _R_TH), "definition of R_th"),
    Law(thermal.thermal_impedance, "R_th·(1 − exp(−t/τ))", "K/W",
        (Quantity("time", "t", "s", 0.0, 1e6), _R_TH,
         Quantity("time_constant", "τ", "s", 1e-9, 1e5)), "one thermal pole"),
    Law(gate.operating_gate_current, "I_G0 + I_D·c1·exp(−c2/(V_DG − V_knee))", "A",
        (Quantity("drain_gate_voltage", "V_DG", "V", 0.0, 40.0),
         Quantity("drain_current", "I_D", "A", 0.0, 0.1),
         Quantity("quiet_current", "I_G0", "A", 0.0, 1e-6),
         Quantity("ionisation", "c1", "", 0.0, 100.0),
         Quantity("fall", "c2", "V", 10.0, 1e3)),
        "Chynoweth, Phys. Rev. 109 (1958) 1537 (form of the ionisation rate)",
        "drain_gate_voltage"),
    Law(source_resistance, "R0·2^(−(T − T0)/interval)", "ohm",
        (_T, Quantity("resistance", "R0", "ohm", 0.0, 1e13),
         Quantity("reference_temperature", "T0", "K", 100.0, 500.0)), "common practice, no source"),
)  # fmt: skip
