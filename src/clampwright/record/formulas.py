"""The formulas a record rests on, each with its published source, chosen by circuit."""

from __future__ import annotations

from dataclasses import dataclass

from clampwright.verdict.results import CheckResult


@dataclass(frozen=True)
class Formula:
    """One formula in plain symbols; `topologies` empty means it is always used."""

    name: str
    equation: str
    source: str
    topologies: tuple[str, ...] = ()


CLAMPED = ("T2", "T5", "T6")
FORMULAS = (
    Formula(
        "allowed net leakage",
        "I_allow = share · E / (R_S + R_P)",
        "Ohm's law; the share is common practice, no source",
    ),
    Formula(
        "error at the pin, one resistor",
        "ΔV = (R_S + R_P) · I_B",
        "Kirchhoff's current law",
        ("T1",),
    ),
    Formula(
        "error at the pin, two resistors",
        "ΔV = (R_S + R_P1) · I_net + (R_S + R_P1 + R_P2) · I_B",
        "Kirchhoff's current law",
        CLAMPED,
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
        "temperature",
        "I(T) = I(T_0) · (T/T_0)^γ · exp(−E_a/k · (1/T − 1/T_0))",
        "Sah, Noyce and Shockley (1957), generation in the depletion layer",
        CLAMPED,
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
        ("T1", "T2", "T6"),
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
    topology = check.design.network.topology
    return tuple(f for f in FORMULAS if not f.topologies or topology in f.topologies)
