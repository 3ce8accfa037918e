"""Meters that are read beside the pages: one take at most for each session, stopped from the browser.

What was taken is in the readings database; here is only which thread is at it, and why one ended.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path
from threading import Event, Lock, Thread

from clampwright import actions
from clampwright.errors import ClampwrightError, ConflictError


@dataclass
class Take:
    """One run of the meter."""

    stop: Event = field(default_factory=Event)
    running: bool = True
    error: str = ""


class Takes:
    """Takes by workspace and session."""

    def __init__(self) -> None:
        self._by_session: dict[tuple[Path, str], Take] = {}
        self._lock = Lock()

    def get(self, root: Path, session: str) -> Take | None:
        """The latest take of a session since this server began."""
        return self._by_session.get((root, session))

    def start(self, root: Path, session: str, at: int, typed: dict[str, str]) -> Take:
        """Begin to read the meter for a step; ConflictError when it is read already."""
        with self._lock:
            known = self.get(root, session)
            if known and known.running:
                raise ConflictError("the meter is being read already", mend="stop it first")
            take = self._by_session[root, session] = Take()
        Thread(target=_run, args=(take, root, session, at, typed), daemon=True).start()
        return take

    def stop(self, root: Path, session: str) -> None:
        """Ask the take of a session to end; what was read is kept."""
        if take := self.get(root, session):
            take.stop.set()


def _run(take: Take, root: Path, session: str, at: int, typed: dict[str, str]) -> None:
    try:
        actions.take_live(root, session, at=at, typed=typed, stop=take.stop)
    except ClampwrightError as error:
        take.error = str(error)
    except Exception as error:
        take.error = f"An error of ours: {type(error).__name__}: {error}"
    finally:
        take.running = False
