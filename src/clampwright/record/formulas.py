"""The formulas a record rests on, each with its published source, chosen by circuit."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from clampwright.record.network_text import is_pair
from clampwright.verdict.results import CheckResult


@dataclass(frozen=True)
class Formula:
    """One formula in plain symbols.

    topologies : where it holds; empty for everywhere
    when       : only for a pair of legs, or only where a zero was taken
    """

    name: str
    equation: str
    source: str
    topologies: tuple[str, ...] = ()
    when: Literal["", "pair", "calibrated"] = ""


TO_RAILS = ("T2", "T3", "T6", "T7", "T8", "T10", "T11", "T12", "T15", "T16")
CLAMPED = (*TO_RAILS, "T4", "T5", "T9", "T13", "T17", "own")
VOLTAGE = (*(f"T{n}" for n in range(1, 19) if n != 13), "own")
FORMULAS = (
    Formula(
        "allowed net leakage",
        "I_allow = share · E / (R_S + R_P)",
        "Ohm's law; the share is common practice, no source",
        VOLTAGE,
    ),
    Formula(
        "allowed net leakage at a summing node",
        "I_allow = share · E / R_f",
        "Ohm's law; the share is common practice, no source",
        ("T13",),
    ),
    Formula(
        "error at the pin, one resistor",
        "ΔV = (R_S + R_P) · I_B",
        "Kirchhoff's current law",
        ("T1", "T14", "T18"),
    ),
    Formula(
        "error at the pin, two resistors",
        "ΔV = (R_S + R_P1) · I_net + (R_S + R_P1 + R_P2) · I_B",
        "Kirchhoff's current law",
        tuple(t for t in CLAMPED if t not in ("T13", "own")),
    ),
    Formula(
        "feedback resistor with clamps across the inputs",
        "ΔV = (R_S + R_P) · I + R_f · I, the clamp current through both",
        "Kirchhoff's current law",
        ("T4",),
    ),
    Formula(
        "divider",
        "R = R_upper ∥ R_lower; referred to the source × (R_upper + R_lower)/R_lower",
        "Thévenin's theorem",
        ("T16",),
    ),
    Formula(
        "error at the output of a summing node",
        "ΔV = R_f · (I_clamp(V_os) − I_B + V_os/(R_S + R_P))",
        "Kirchhoff's current law",
        ("T13",),
    ),
    Formula(
        "noise gain of a summing node",
        "1 + R_f · (1/(R_S + R_P) + 2/r_0)",
        "feedback theory, low frequencies",
        ("T13",),
    ),
    Formula(
        "junction current",
        "I = I_S (exp(V/nV_T) − 1) + I_G w(V) (exp(V/2V_T) − 1) + V/R_sh − I_ph",
        "Shockley, Bell Syst. Tech. J. 28 (1949) 435; "
        "Sah, Noyce and Shockley, Proc. IRE 45 (1957) 1228",
        CLAMPED,
    ),
    Formula(
        "clamp on a guard",
        "I = V_guard · 2/r_0 for the pair; 1/r_0 is the slope at 0 V",
        "first-order expansion of the junction current",
        ("T5",),
    ),
    Formula(
        "clamp at the amplifier's offset voltage",
        "I = V_os · 2/r_0 for the pair; 1/r_0 is the slope at 0 V",
        "first-order expansion of the junction current",
        ("T4", "T13"),
    ),
    Formula(
        "temperature",
        "I(T) = I(T_0) · (T/T_0)^γ · exp(−E_a/k · (1/T − 1/T_0))",
        "Sah, Noyce and Shockley (1957), generation in the depletion layer",
        CLAMPED,
    ),
    Formula(
        "after the zero",
        "E(T) − E(T_zero), each term of its own",
        "the same part leaks in both states; light is not taken away",
        when="calibrated",
    ),
    Formula(
        "two legs",
        "ΔV = ΔI · R + I · ΔR",
        "Kirchhoff's current law on each leg, differences to first order",
        when="pair",
    ),
    Formula(
        "common-mode rejection",
        "1/CMRR = ΔR · g + R · Δg at rest, 2πf · (R · ΔC + C · ΔR) above",
        "one-pole legs, differences to first order; the network is solved exactly",
        when="pair",
    ),
    Formula(
        "noise density",
        "e² = 4kTR + e_n² + R² (i_n² + shot noise of every clamp)",
        "Johnson, Phys. Rev. 32 (1928) 97; Nyquist, Phys. Rev. 32 (1928) 110; "
        "Schottky, Ann. Phys. 362 (1918) 541",
    ),
    Formula(
        "bandwidth and settling",
        "f = 1/(2πRC), t = RC · ln(1/ε)",
        "one-pole network, elementary circuit theory",
        VOLTAGE,
    ),
    Formula(
        "bandwidth and settling of a summing node",
        "f = 1/(2πR_f C_f), t = R_f C_f · ln(1/ε)",
        "one-pole feedback, elementary circuit theory",
        ("T13",),
    ),
    Formula(
        "fault current and power",
        "I_F = (|V_F| − V_clamp) / (R_F + R_P), P = I_F² R_P",
        "Ohm's and Joule's laws",
    ),
    Formula(
        "rail under fault",
        "dV/dt = (ΣI_F − I_load,min − I_sink) / C_rail",
        "charge balance",
        ("T1", *TO_RAILS, "T18", "own"),
    ),
    Formula(
        "expanded uncertainty",
        "U = t_95(ν) · u_c, ν = u_c⁴ / Σ(u_i⁴/ν_i)",
        "JCGM 100:2008, annex G",
    ),
    Formula(
        "verdict",
        "PASS if E + U ≤ L, FAIL if E − U > L, else UNDECIDED",
        "decision rule with a guard band, after JCGM 106:2012",
    ),
)


def formulas_used(check: CheckResult) -> tuple[Formula, ...]:
    """The formulas that the circuit of this check needs."""
    design = check.design
    topology = design.network.topology
    states = {
        "": True,
        "pair": is_pair(design),
        "calibrated": design.requirement.calibration_temperature is not None,
    }
    return tuple(
        f for f in FORMULAS if states[f.when] and (not f.topologies or topology in f.topologies)
    )
