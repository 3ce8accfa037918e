"""The table at which one server works: workspaces below a folder, cases read once, results kept.

A case is read again for every page, so that sheets changed by hand show up; results are kept by the
hash of all inputs and computed once.
"""

from __future__ import annotations

import math
import time
from collections import OrderedDict
from collections.abc import Callable, Mapping
from contextlib import suppress
from dataclasses import dataclass, field
from hashlib import sha256
from pathlib import Path
from threading import Lock, RLock
from typing import Any, TypeVar

from clampwright import actions
from clampwright.actions.candidates import Candidates, open_candidates
from clampwright.errors import ClampwrightError
from clampwright.web.ranking import Rankings

Found = TypeVar("Found")
MOST_KEPT = 60  # results and cases
LATELY = 1.0  # [s]


class NotThere(Exception):
    """A workspace, design or part that is not in the folder served."""


@dataclass(frozen=True)
class Opened:
    """One design as it is now."""

    place: str
    name: str
    path: Path
    case: actions.Case


@dataclass
class Table:
    """Workspaces below `root`, and what was computed of them."""

    root: Path
    rankings: Rankings = field(default_factory=Rankings)
    _kept: OrderedDict[Any, Any] = field(default_factory=OrderedDict)
    _making: dict[Any, Lock] = field(default_factory=dict)
    _lock: RLock = field(default_factory=RLock)
    _age: int = 0

    def workspaces(self) -> dict[str, actions.Shelved]:
        """Every workspace by name."""
        return actions.find_workspaces(self.root)

    def workspace(self, place: str) -> actions.Shelved:
        """One workspace; NotThere when there is none of that name."""
        try:
            return self.workspaces()[place]
        except KeyError:
            raise NotThere("there is no such workspace in the folder that is served") from None

    def state(self) -> str:
        """A sign that changes whenever a sheet or readings file of the folder does."""
        seen = repr(
            [(name, shelf.state(designs=True)) for name, shelf in self.workspaces().items()]
        )
        return sha256(seen.encode()).hexdigest()

    def open(self, place: str, name: str) -> Opened:
        """A design with its workspace, read now; its evidence is kept while nothing changes."""
        shelf = self.workspace(place)
        if name not in shelf.designs:
            raise NotThere("there is no such design in this workspace")
        path = shelf.design(name)
        case = actions.open_case(path)
        opened = Opened(place, name, path, self._once(("case", path, case.hash), lambda: case))
        self._keep(("opened", place, name), opened)
        return opened

    def reopen(self, place: str, name: str, base: str) -> Opened:
        """A design that a page was made of, without looking at every sheet again.

        Where the sheet is no longer the one with the hash `base`, it is opened afresh.
        """
        with self._lock:
            found: Opened | None = self._kept.get(("opened", place, name))
            if found is not None:  # what is found of its moves must not push it out
                self._kept.move_to_end(("opened", place, name))
                self._kept[("case", found.path, found.case.hash)] = found.case
        if found is not None and found.case.design_hash == base:
            return found
        return self.open(place, name)

    def what_if(self, opened: Opened, changes: Mapping[str, str]) -> Opened:
        """The same design with some fields changed and nothing written."""
        varied = actions.what_if(opened.case, opened.path, changes)
        return Opened(opened.place, opened.name, opened.path, varied)

    def check(self, opened: Opened) -> Any:
        """What `actions.check` finds of the verdict: quick enough for a slider."""
        return self._once(
            ("check", opened.case.hash), lambda: actions.check(opened.case, further=False)
        )

    def check_further(self, opened: Opened) -> Any:
        """The same with every further answer."""
        return self._once(("check further", opened.case.hash), lambda: actions.check(opened.case))

    def faults(self, opened: Opened) -> Any:
        """What `actions.faults` finds."""
        return self._once(("faults", opened.case.hash), lambda: actions.faults(opened.case))

    def window(self, opened: Opened) -> Any:
        """What `actions.window` finds."""
        return self._once(("window", opened.case.hash), lambda: actions.window(opened.case))

    def part_faults(self, opened: Opened) -> Any:
        """What `actions.part_faults` finds."""
        return self._once(("parts", opened.case.hash), lambda: actions.part_faults(opened.case))

    def waves(self, opened: Opened, number: int) -> Any:
        """What `actions.fault_waves` finds for one fault."""
        key = ("waves", opened.case.hash, number)
        return self._once(key, lambda: actions.fault_waves(opened.case, number))

    def next_readings(self, opened: Opened) -> Any:
        """What `actions.next_readings` finds."""
        return self._once(
            ("next", opened.case.hash),
            lambda: actions.next_readings(opened.case, self.check(opened)),
        )

    def kept(self, what: str, opened: Opened) -> Any:
        """What was found before under this name for this very case, None where nobody asked yet."""
        with self._lock:
            return self._kept.get((what, opened.case.hash))

    def part(self, place: str, name: str) -> Any:
        """What `actions.part` finds; kept while no sheet or readings file of its workspace changes."""
        shelf = self.workspace(place)
        if name not in shelf.parts:
            raise NotThere("there is no such part in this workspace")
        path = shelf.part(name)
        return self._once(
            ("part", path, shelf.state()), lambda: actions.part(path, self.candidates(place))
        )

    def candidates(self, place: str) -> Candidates:
        """Every clamp of a workspace; kept while no sheet or readings file of it changes."""
        shelf = self.workspace(place)
        key = ("candidates", shelf.folder, shelf.state())
        return self._once(key, lambda: open_candidates(shelf.folder))

    def candidates_lately(self, place: str) -> Candidates:
        """The same as it was a moment ago: sheets are not looked at again at every move of a hand."""
        with self._lock:
            looked, known = self._kept.get(("lately", place), (-math.inf, None))
        found: Candidates | None = known if time.monotonic() - looked < LATELY else None
        if found is None:
            found = self.candidates(place)
            self._keep(("lately", place), (time.monotonic(), found))
        return found

    def study(self, place: str, file: str) -> Any:
        """What `actions.study` finds of a readings file, or of the session of that name."""
        shelf = self.workspace(place)
        path = shelf.folder / "readings" / file
        return self._once(("study", path, shelf.state()), lambda: actions.study(path))

    def first(self) -> Opened | None:
        """The design that is looked at first, None where none can be opened."""
        for place, shelf in self.workspaces().items():
            for name in shelf.designs:
                with suppress(ClampwrightError, NotThere):
                    return self.open(place, name)
        return None

    def forget_results(self) -> None:
        """Keep designs as they were read and nothing found of them, nor what is being found now."""
        with self._lock:
            self._age += 1
            for key in [key for key in self._kept if key[0] not in ("case", "opened")]:
                del self._kept[key]

    def _once(self, key: Any, make: Callable[[], Found]) -> Found:
        with self._lock:
            if key in self._kept:
                self._kept.move_to_end(key)
                return self._kept[key]  # type: ignore[no-any-return]
            line, age = self._making.setdefault(key, Lock()), self._age
        with line:  # two that ask for the same at once do not both work it out
            with self._lock:
                if key in self._kept:
                    return self._kept[key]  # type: ignore[no-any-return]
            try:
                made = make()
                if age == self._age:
                    self._keep(key, made)
                return made
            finally:
                with self._lock:
                    self._making.pop(key, None)

    def _keep(self, key: Any, made: Any) -> None:
        with self._lock:
            self._kept[key] = made
            self._kept.move_to_end(key)
            while len(self._kept) > MOST_KEPT:
                self._kept.popitem(last=False)
