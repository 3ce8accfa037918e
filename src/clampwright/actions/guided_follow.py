"""Follow a guided session while readings come in: only what is new is read each time.

Part of `actions`. Floor 6; may import floors 0 to 5.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from clampwright.actions.guided_open import must_know
from clampwright.actions.session_state import GuidedState, state_of
from clampwright.errors import InputError
from clampwright.workspace.folder import open_workspace

if TYPE_CHECKING:
    from clampwright.bench.instrument import Profile
    from clampwright.workspace.guided import Sitting


@dataclass(frozen=True)
class Points:
    """Readings that are new since the last look, to be drawn."""

    numbers: tuple[int, ...]
    seconds: tuple[float, ...]  # since waiting began at their step
    volts: tuple[float, ...]  # as the meter showed them
    steps: tuple[int, ...]
    left: int  # how many more there are


class Follower:
    """One watcher of a session; it keeps what it has seen."""

    def __init__(self, root: Path, session: str, *, after: int = 0) -> None:
        """after : number of the last reading that is known already.

        Raises InputError for a session that is not there or not guided.
        """
        from clampwright.workspace.database import has_store

        if not has_store(root):
            raise InputError(f'there is no session "{session}"')
        self._root, self._session, self._given = root, session, after
        self._sitting: Sitting | None = None
        self._profile: Profile | None = None
        self.look()

    def look(self) -> GuidedState:
        """How the session stands now."""
        from clampwright.workspace.database import open_store
        from clampwright.workspace.guided import sitting

        with open_store(self._root) as store:
            self._sitting = sitting(store, self._session, self._sitting)
        if self._profile is None:
            there = open_workspace(self._root).instruments
            must_know(there, self._sitting.plan.instrument, "instrument")
            self._profile = there[self._sitting.plan.instrument]
        return state_of(self._sitting, self._profile)

    def points(self, most: int) -> Points:
        """Up to `most` readings that were not given yet, as of the last look."""
        assert self._sitting is not None
        rows, visits = self._sitting.rows, self._sitting.visits
        first = int(rows.numbers.searchsorted(self._given, side="right"))
        end = min(first + most, len(rows.numbers))
        places = self._sitting.visit_of[first:end].tolist()
        if end > first:
            self._given = int(rows.numbers[end - 1])
        times = rows.times[first:end].tolist()
        begun = [visits[p].start if p >= 0 else times[k] for k, p in enumerate(places)]
        return Points(
            numbers=tuple(rows.numbers[first:end].tolist()),
            seconds=tuple(round(t - b, 3) for t, b in zip(times, begun, strict=True)),
            volts=tuple(rows.volts[first:end].tolist()),
            steps=tuple(visits[p].step if p >= 0 else 0 for p in places),
            left=len(rows.numbers) - end,
        )


__all__ = ["Follower", "Points"]
