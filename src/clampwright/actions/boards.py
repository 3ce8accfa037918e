"""Assembled boards: clamps, amplifier and film told apart, kept as evidence, watched over months.

Part of `actions`, which gives these on to every face. Floor 6; may import floors 0 to 5.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import sqrt
from pathlib import Path

from clampwright.actions.case import open_case
from clampwright.bench.board_readings import BoardReadings, Conditions, conditions, read_board
from clampwright.bench.board_solve import Sitting
from clampwright.bench.board_terms import TERMS, Doubt, Shape
from clampwright.bench.board_trend import seconds, trends
from clampwright.bench.board_views import (
    BoardAgreement,
    SeparationResult,
    SittingView,
    TrendResult,
    net_of,
    term_view,
    trend_view,
    usual_condition,
    usual_terms,
)
from clampwright.bench.separation import Separation, chance_of, separate
from clampwright.errors import InputError
from clampwright.uncertain import coverage_factor
from clampwright.workspace.folder import content_hash, read_bytes, workspace_of

TOLERANCE = 0.01  # [1] of a test resistor whose file does not state it; common practice


@dataclass(frozen=True)
class _Board:
    """Readings of one sitting and what they are solved with."""

    readings: BoardReadings
    conditions: Conditions
    sitting: Sitting
    assumed: tuple[str, ...]


def separate_board(
    file: Path,
    *,
    design: Path | None = None,
    without: Sequence[str] = (),
    keep: bool = False,
    session: str = "",
    who: str = "",
) -> SeparationResult:
    """Tell apart what leaks on an assembled board, from a CSV file or a kept session.

    file : readings of the board, or the folder of a workspace and the name of a kept session
    design : its clamp's own law says how clamps go with heat and voltage, and the readings are
        compared with its prediction
    without : terms that are known to be absent
    keep : keep a file as a session of its workspace, named `session` or as the file
    """
    data = read_bytes(file) if file.is_file() else None
    readings = _kept(file) if data is None else read_board(data, file.name)
    board = _board(readings, file.stem)
    some = board.conditions.readings
    shape, doubt, assumed = _shape(board, design)
    separation = _separated(board, without, shape, doubt)
    net, net_words = net_of(separation, usual_condition(some))
    assert net.value is not None and net.expanded is not None
    absent = [f"no {term}, as you say" for term in without]
    result = SeparationResult(
        board=readings.board,
        readings=file.name,
        readings_hash=content_hash(data) if data is not None else "",
        rows=len(readings),
        conditions=len(some),
        stated_voltage=shape.stated_voltage,
        terms=tuple(term_view(found) for found in separation.found),
        net_current=net.value,
        net_uncertainty=net.expanded,
        net_words=net_words,
        mixed=separation.mixed,
        chance=separation.chance,
        degrees_of_freedom=separation.degrees_of_freedom,
        assumed=(*board.assumed, *assumed, *absent),
        agreement=_agreement(board, design, separation) if design else None,
    )
    if not keep:
        return result
    if data is None:
        raise InputError("this sitting is kept already", where=file.name)
    return _keep(result, board, workspace_of(file), session or file.stem, who)


def _separated(
    board: _Board, without: Sequence[str], shape: Shape, doubt: Doubt | None
) -> Separation:
    """The terms of a board that its conditions suggest, but those known to be absent."""
    readings = board.conditions.readings
    return separate(
        readings,
        usual_terms(readings, _known_terms(without)),
        shape,
        doubt=doubt,
        scale_uncertainty=board.sitting.scale_uncertainty,
        coverage_factor=coverage_factor(board.conditions.degrees_of_freedom),
    )


def board_trend(root: Path, *, board: str = "", design: Path | None = None) -> TrendResult:
    """Kept sittings of a board over months: values, slopes, and what changed beyond its uncertainty.

    board : which, as written in its readings; may be left out where the workspace knows one only
    """
    found = _sittings(root, board)
    boards = [_board(readings, name) for name, readings in found]
    every = [r for b in boards for r in b.conditions.readings]
    at = usual_condition(boards[0].conditions.readings)
    terms = [
        t
        for t in usual_terms(every)
        if all(t in usual_terms(b.conditions.readings) for b in boards)
    ]
    shape, doubt, assumed = _shape(boards[0], design)
    freedom = min(b.conditions.degrees_of_freedom for b in boards)
    some, solved = trends(
        [b.sitting for b in boards],
        [seconds(b.readings.time) for b in boards],
        terms,
        shape,
        doubt,
        at=at,
        coverage_factor=coverage_factor(freedom),
    )
    return TrendResult(
        board=found[0][1].board,
        sittings=tuple(
            SittingView(session=name, time=r.time, rows=len(r), resistor=r.resistor)
            for name, r in found
        ),
        trends=tuple(trend_view(t) for t in some),
        chance=chance_of(solved.chi_square, solved.degrees_of_freedom),
        assumed=tuple(dict.fromkeys([*(a for b in boards for a in b.assumed), *assumed])),
    )


def _known_terms(without: Sequence[str]) -> Sequence[str]:
    for name in without:
        if name not in TERMS:
            raise InputError(f'there is no term "{name}"', expected=", ".join(TERMS))
    return without


def _board(readings: BoardReadings, name: str) -> _Board:
    taken = conditions(readings, name)
    tolerance = readings.tolerance
    assumed: tuple[str, ...] = ()
    if tolerance is None:
        tolerance = TOLERANCE
        assumed = (f"the test resistor is within {100 * TOLERANCE:g} %, its file does not say",)
    return _Board(readings, taken, taken.sitting(readings.resistor, tolerance / sqrt(3)), assumed)


def _shape(board: _Board, design: Path | None) -> tuple[Shape, Doubt, tuple[str, ...]]:
    """How the terms go with heat and voltage: from the clamp of the design, or the usual values."""
    some = board.conditions.readings
    if design is not None:
        from clampwright.verdict.board_prediction import law_shape

        case = open_case(design)
        clamp = case.chosen_clamp()
        if clamp is not None:
            return *law_shape(case.design, clamp, some), ()
    volts = sorted(r.upper_rail - r.signal for r in some)
    shape, doubt = Shape(stated_voltage=volts[len(volts) // 2]), Doubt()
    words = (
        f"clamps of {shape.clamp_energy:g} ± {doubt.clamp_energy:g} eV and an exponent of "
        f"{shape.clamp_exponent:g} ± {doubt.clamp_exponent:g}, as is usual for silicon "
        "(a design gives those of its part)"
    )
    return shape, doubt, (words,)


def _agreement(board: _Board, design: Path, separation: Separation) -> BoardAgreement:
    from clampwright.verdict.board_prediction import compare, predicted_board

    case = open_case(design)
    some = board.conditions.readings
    clamp = case.chosen_clamp()
    found = compare(some, separation, predicted_board(case.design, clamp, some), clamp)
    title = case.design.title
    return BoardAgreement(
        design=title,
        agrees=found.agrees,
        inside=found.inside,
        conditions=found.conditions,
        words=found.words(title),
    )


def _kept(path: Path) -> BoardReadings:
    from clampwright.workspace.boards import board_readings_of
    from clampwright.workspace.database import has_store, open_store
    from clampwright.workspace.store import session_named

    if not has_store(path.parent):
        raise InputError("there is no such file, and no such session", where=str(path))
    with open_store(path.parent) as store:
        return board_readings_of(store, session_named(store, path.name))


def _keep(
    result: SeparationResult, board: _Board, root: Path, name: str, who: str
) -> SeparationResult:
    from clampwright.workspace.boards import keep_board
    from clampwright.workspace.database import open_store, read_settings

    _dated(board.readings, result.readings)
    with open_store(root) as store:
        keep_board(
            store,
            name,
            board.readings,
            who=who or read_settings(root).owner,
            source_hash=result.readings_hash,
            words=result.text(),
        )
    return result.model_copy(update={"kept": name})


def _dated(readings: BoardReadings, where: str) -> None:
    try:
        seconds(readings.time)
    except ValueError:
        wrong = (
            f'the time "{readings.time}" cannot be read' if readings.time else "no time is written"
        )
        raise InputError(
            wrong,
            where=f"{where}, column time",
            expected='when it was read, such as "2026-03-10" or "2026-03-10T09:00:00Z"',
        ) from None


def _sittings(root: Path, board: str) -> list[tuple[str, BoardReadings]]:
    """Kept sittings of one board, the earliest first; InputError unless there are two on two days."""
    from clampwright.workspace.boards import board_readings_of, board_sessions
    from clampwright.workspace.database import has_store, open_store

    every: list[tuple[str, BoardReadings]] = []
    if has_store(root):
        with open_store(root) as store:
            every = [(s.name, board_readings_of(store, s)) for s in board_sessions(store)]
    names = sorted({r.board for _, r in every})
    if board not in names if board else len(names) > 1:
        wrong = f'there is no board "{board}"' if board else "the workspace knows several boards"
        raise InputError(wrong, where=str(root), expected=", ".join(names) or "a kept sitting")
    found = sorted(
        (pair for pair in every if not board or pair[1].board == board),
        key=lambda pair: seconds(pair[1].time),
    )
    if len({seconds(r.time) for _, r in found}) < 2:
        raise InputError(
            "a trend needs two kept sittings of a board at different times",
            where=str(root),
            mend="keep them with: clampwright separate FILE --keep",
        )
    return found


__all__ = ["board_trend", "separate_board"]
