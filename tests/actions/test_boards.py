"""Boards by the actions and commands: told apart, compared with a design, kept, watched over months."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from board_truth import true_terms
from clampwright import actions
from clampwright.bench.board_readings import read_board
from clampwright.bench.pretend import demo_truth
from clampwright.bench.pretend_board import HiddenBoard
from clampwright.errors import InputError
from clampwright.workspace.database import open_store
from clampwright.workspace.store import marks, session_named
from command_line import clampwright

BAD_INPUT = 64
DAYS = ("march", "june", "september")
DESIGN = Path("designs") / "orchard-rails-npn.toml"


@pytest.fixture(scope="module")
def kept(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The orchard demonstration with its three sittings kept."""
    root = tmp_path_factory.mktemp("boards") / "orchard"
    actions.demo_workspace(root)
    for day in DAYS:
        actions.separate_board(file_of(root, day), keep=True, who="a person")
    return root


def file_of(root: Path, day: str) -> Path:
    return root / "boards" / f"board-7-{day}.csv"


def test_a_design_sharpens_the_answer_and_is_compared(kept: Path) -> None:
    """The clamp's own law, fitted to its bench readings, halves the doubt; truth stays inside."""
    plain = actions.separate_board(file_of(kept, "march"))
    found = actions.separate_board(file_of(kept, "march"), design=kept / DESIGN)
    truth = demo_truth("orchard")
    board = HiddenBoard.model_validate(truth.boards[0])
    expected = true_terms(truth, board, board.sittings[0], found.stated_voltage)
    for term in found.terms:
        assert term.value is not None and term.uncertainty is not None
        assert abs(term.value - expected[term.name]) <= term.uncertainty, term
    upper, wide = found.terms[1], plain.terms[1]
    assert upper.name == "upper clamp" and upper.unit == "A" and upper.outcome == "found"
    assert upper.uncertainty < 0.75 * wide.uncertainty
    assert found.agreement is not None and found.agreement.agrees
    assert "agrees with the prediction of Orchard probe" in found.text()
    assert any("as is usual for silicon" in text for text in plain.assumed) and not found.assumed


def test_another_part_departs_from_the_board(kept: Path) -> None:
    """The readings of transistor clamps against a design with JFETs, which leak a fifth."""
    other = kept / "designs" / "orchard-rails-jfet.toml"
    found = actions.separate_board(file_of(kept, "march"), design=other)
    assert found.agreement is not None and not found.agreement.agrees
    assert "departs from the prediction" in found.text()
    assert "the upper clamp is not as its law says" in found.text()


def test_a_guarded_design_is_refused(kept: Path) -> None:
    with pytest.raises(InputError, match="clamps of T5 do not sit between signal and rails"):
        actions.separate_board(
            file_of(kept, "march"), design=kept / "designs" / "orchard-probe.toml"
        )


def test_a_sitting_is_kept_with_what_it_gave(kept: Path) -> None:
    listed = actions.list_sessions(kept).sessions
    assert [(s.count, s.kind) for s in listed] == [(190, "board")] * 3
    assert "190 readings of a board" in clampwright("sessions", "--in", kept)[1]
    with open_store(kept) as store:
        (result,) = marks(store, session_named(store, "board-7-june"))
    assert result.kind == "result" and "upper clamp" in result.words
    again = actions.separate_board(kept / "board-7-june")
    file = actions.separate_board(file_of(kept, "june"))
    assert [t.value for t in again.terms] == pytest.approx(
        [t.value for t in file.terms], rel=1e-9, abs=0
    )
    with pytest.raises(InputError, match="holds readings of an assembled board"):
        actions.reduce_file(kept / "board-7-june")
    with pytest.raises(InputError, match="holds readings of an assembled board"):
        actions.correct_readings(
            "board-7-june", kept, rows="1", field="note", value="x", why="for the test"
        )
    with pytest.raises(InputError, match='there is a session "board-7-june" already'):
        actions.separate_board(file_of(kept, "june"), keep=True)
    with pytest.raises(
        InputError, match='the same readings are there already as session "board-7-'
    ):
        actions.separate_board(file_of(kept, "june"), keep=True, session="twice")


def test_the_film_of_september_is_found(kept: Path) -> None:
    """Hidden: 0.4 pS from the upper rail in September; clamps and bias as they were."""
    found = actions.board_trend(kept, design=kept / DESIGN)
    assert [s.time[:7] for s in found.sittings] == ["2026-03", "2026-06", "2026-09"]
    changed = {t.name for t in found.trends if t.changed}
    assert changed == {"current into the node", "offset", "film to upper rail"}
    film = next(t for t in found.trends if t.name == "film to upper rail")
    assert abs(film.change - 0.4e-12) <= film.change_uncertainty
    assert film.unit == "S" and film.change_uncertainty < film.uncertainties[0]
    net = found.trends[0]
    assert net.change_uncertainty < 0.05 * net.change
    assert "from first to last" in found.text() and "CHANGED" in found.text()


def test_what_a_trend_needs_is_said(tmp_path: Path) -> None:
    actions.demo_workspace(tmp_path / "d")
    with pytest.raises(InputError, match=r"two kept sittings.*separate FILE --keep"):
        actions.board_trend(tmp_path / "d")
    actions.separate_board(file_of(tmp_path / "d", "march"), keep=True)
    with pytest.raises(InputError, match="two kept sittings"):
        actions.board_trend(tmp_path / "d")
    with pytest.raises(InputError, match='no board "9"; expected board 7'):
        actions.board_trend(tmp_path / "d", board="9")


def test_a_file_without_time_or_tolerance(tmp_path: Path) -> None:
    text = (
        "signal (V);upper rail (V);lower rail (V);resistance (MΩ);temperature (°C);light (lx);"
        "error (µV)\n"
    )
    rows = [
        f"{s};2,5;{lower};{r};{t};0;{90 + k + 2 * float(r.replace(',', '.'))}".replace(".", ",")
        for k in range(3)
        for s in ("-0,2", "0,0", "0,2")
        for lower in ("-2,5", "-1,5")
        for r in ("0,94", "100,94")
        for t in (23, 45)
    ]
    (tmp_path / "b.csv").write_text(text + "\n".join(rows), "utf-8")
    found = actions.separate_board(tmp_path / "b.csv", without=("film to ground",))
    assert any("test resistor is within 1 %" in text for text in found.assumed)
    assert "no film to ground, as you say" in found.assumed
    assert any(text.startswith("upper clamp and") for text in found.mixed)  # its rail never moved
    assert {t.outcome for t in found.terms} >= {"not told apart"}
    with pytest.raises(InputError, match="no time is written"):
        actions.separate_board(tmp_path / "b.csv", keep=True)
    with pytest.raises(InputError, match='no term "dirt"'):
        actions.separate_board(tmp_path / "b.csv", without=("dirt",))


def test_commands(kept: Path) -> None:
    code, out, complaint = clampwright("separate", file_of(kept, "march"), "--json")
    assert code == 0 and not complaint
    assert json.loads(out)["net_current"]["unit"] == "A"
    code, out, _ = clampwright("separate", kept / "board-7-june", "--design", kept / DESIGN)
    assert code == 0 and "lower clamp:" in out
    code, out, _ = clampwright("trend", "--in", kept)
    assert code == 0 and "board 7: 3 sittings" in out
    assert (
        json.loads(clampwright("trend", "board 7", "--in", kept, "--json")[1])["board"] == "board 7"
    )
    told = clampwright("trend", "--in", kept, "--design", kept / DESIGN)[1]
    assert "film to upper rail: CHANGED, a step rather than a creep" in told
    assert "is the one to believe" in told
    for command in ("separate", "trend"):
        assert json.loads(clampwright(command, "--schema")[1])["type"] == "object"
    for words in (("separate",), ("separate", kept / "nothing.csv"), ("trend", "x", "--in", kept)):
        code, out, complaint = clampwright(*words)
        assert code == BAD_INPUT and not out and complaint.count("\n") == 1


def test_a_sitting_is_exported_as_it_was_given(kept: Path, tmp_path: Path) -> None:
    """The same rows back, which separate reads again; Parquet, and folders that are not there, refused."""
    target = tmp_path / "out.csv"
    code, out, complaint = clampwright("export", "board-7-march", "--in", kept, "-o", target)
    assert code == 0 and "The readings are in" in out and not complaint
    given = read_board(file_of(kept, "march").read_bytes()).rows()
    for row, back in zip(given, read_board(target.read_bytes()).rows(), strict=True):
        assert back.keys() == row.keys()
        for field, value in row.items():
            number = isinstance(value, float)
            assert back[field] == (pytest.approx(value, rel=1e-11, abs=0) if number else value)
    for place, told in (
        (tmp_path / "out.parquet", "export writes it as CSV"),
        (tmp_path / "not" / "there.csv", "there is no folder"),
    ):
        code, out, complaint = clampwright("export", "board-7-march", "--in", kept, "-o", place)
        assert code == BAD_INPUT and not out and told in complaint
        assert not place.parent.joinpath(place.name).exists()
    assert not (tmp_path / "not").exists()
