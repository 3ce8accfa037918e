"""One fault of a design over time, and first-order figures of impulses.

Part of `actions`, which gives these on to every face. Floor 6; may import floors 0 to 5.
"""

from __future__ import annotations

from clampwright.actions.case import Case
from clampwright.actions.judging import judged_clamp
from clampwright.errors import InputError
from clampwright.verdict.fault_waves import FaultWaves
from clampwright.verdict.fault_waves import fault_waves as waves_of
from clampwright.verdict.impulses import ImpulseFacts
from clampwright.verdict.impulses import impulses as impulses_of


def fault_waves(case: Case, number: int) -> FaultWaves:
    """Currents, voltages and powers of fault `number` (from 1, as on the sheet) over time.

    Raises InputError for a number that is not there and for impulses, which are not solved in time.
    """
    faults = case.design.faults
    if not 1 <= number <= len(faults):
        raise InputError(
            f"there is no fault {number}",
            where=f"{case.name}, faults",
            expected=f"1 … {len(faults)}" if faults else "a fault on the sheet",
        )
    name = faults[number - 1].name
    return waves_of(case.design, judged_clamp(case), name, design_hash=case.hash)


def impulses(case: Case) -> dict[str, ImpulseFacts]:
    """First-order figures of every impulse of a design by the name of its fault; no verdict."""
    return {found.fault: found for found in impulses_of(case.design, judged_clamp(case))}
