"""A ranking that runs beside the pages: started, watched and cancelled from the browser."""

from __future__ import annotations

from dataclasses import dataclass, field
from threading import Event, Lock, Thread
from typing import Literal

from clampwright import actions
from clampwright.errors import ClampwrightError

State = Literal["running", "done", "cancelled", "failed"]
MOST_KEPT = 20  # finished rankings, the oldest go first


class _Cancelled(Exception):
    """Raised inside the ranking to leave it."""


@dataclass
class Ranking:
    """One ranking: how far it is and what it found."""

    state: State = "running"
    done: int = 0
    total: int = 0
    error: str = ""
    result: actions.RankResult | None = None
    stop: Event = field(default_factory=Event)


class Rankings:
    """Rankings by the hash of their inputs, at most one running at a time."""

    def __init__(self) -> None:
        self._by_hash: dict[str, Ranking] = {}
        self._lock = Lock()

    def get(self, case_hash: str) -> Ranking | None:
        """The ranking of these inputs, if one was started."""
        return self._by_hash.get(case_hash)

    def start(self, case: actions.Case) -> Ranking:
        """Start ranking a case, or return the one that runs or is done; others are cancelled."""
        with self._lock:
            known = self._by_hash.get(case.hash)
            if known is not None and known.state in ("running", "done"):
                return known
            self.cancel_all()
            ranking = self._by_hash[case.hash] = Ranking()
            for old in list(self._by_hash)[:-MOST_KEPT]:
                del self._by_hash[old]
        Thread(target=_run, args=(ranking, case), daemon=True).start()
        return ranking

    def cancel(self, case_hash: str) -> None:
        """Ask a running ranking to stop; it does at its next step."""
        if ranking := self._by_hash.get(case_hash):
            ranking.stop.set()

    def cancel_all(self) -> None:
        """Ask every running ranking to stop."""
        for ranking in self._by_hash.values():
            ranking.stop.set()


def _run(ranking: Ranking, case: actions.Case) -> None:
    def step(done: int, total: int) -> None:
        ranking.done, ranking.total = done, total
        if ranking.stop.is_set():
            raise _Cancelled

    try:
        ranking.result = actions.rank(case, step)
        ranking.state = "done"
    except _Cancelled:
        ranking.state = "cancelled"
    except ClampwrightError as error:
        ranking.error, ranking.state = str(error), "failed"
    except Exception as error:
        ranking.error = f"an error of ours: {type(error).__name__}: {error}"
        ranking.state = "failed"
