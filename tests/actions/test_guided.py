"""A guided session against a real pretend bench on a socket, and typed; all of it from the database."""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from clampwright import actions
from clampwright.bench.instruments.pretend_instrument import PretendInstrument, demo_bench
from clampwright.bench.pretend import demo_truth, true_leakage
from clampwright.errors import ConflictError, InputError

ADDRESS = "TCPIP::127.0.0.1::5025::SOCKET"
QUICK = {"voltages": ("5 V",), "light": "0 lx", "warm": (), "wait_share": 0.0, "why": "pretend"}


@pytest.fixture
def bench() -> Iterator[PretendInstrument]:
    with demo_bench("orchard", pace=0.005) as found:
        yield found


@pytest.fixture
def workspace(tmp_path: Path, bench: PretendInstrument) -> Path:
    """The orchard demonstration without evidence of its transistor, its pretend bench listening."""
    actions.demo_workspace(tmp_path / "orchard", "orchard")
    root = tmp_path / "orchard"
    sheet = root / "instruments" / "P1.toml"
    text = sheet.read_text("utf-8").replace(ADDRESS, bench.address)
    sheet.write_text(text.replace("SOAK 1e-14", "SOAK 2e-15"), "utf-8")  # settles sooner
    part = root / "parts" / "npn-small.toml"
    part.write_text(part.read_text("utf-8").split("[[evidence]]")[0] + "# by hand\n", "utf-8")
    return root


def opened(root: Path, **changes: object) -> actions.GuidedState:
    return actions.open_guided(root, "P1", "npn-small", "C/B+E", **{**QUICK, **changes})


def walked(root: Path, state: actions.GuidedState) -> actions.GuidedState:
    """Every step done, readings live."""
    while not state.complete:
        if state.kind != "do":
            state = actions.take_live(root, state.session, at=state.at)
        reason = "pretend bench" if state.missing else ""
        state = actions.move(root, state.session, "next", at=state.at, reason=reason)
    return state


def test_a_whole_session_becomes_evidence_and_flips_the_verdict(workspace: Path) -> None:
    design = workspace / "designs" / "orchard-probe.toml"
    assert actions.check(actions.open_case(design)).verdict.value == "NOT MEASURED"
    assert actions.suggested_voltages(design) == ("0.01 V", "-0.01 V")
    state = opened(
        workspace, design=design, voltages=("10 mV", "-10 mV"), warm=("45 °C",), light=""
    )  # fmt: skip
    assert [s.status for s in state.steps].count("now") == 1 and state.title == "cautions"
    state = walked(workspace, state)
    result = actions.finish_session(workspace, state.session)
    assert (result.before, result.after) == ("NOT MEASURED", "PASS")
    first = next(x for x in result.leakages if x.reverse_voltage == 0.01)  # at 23 °C
    truth = next(p for p in demo_truth("orchard").parts if p.wiring == "C/B+E")
    wide = 2 * first.expanded_uncertainty
    assert first.value == pytest.approx(true_leakage(truth, 0.01, 296.15), abs=wide)
    sheet = (workspace / "parts" / "npn-small.toml").read_text("utf-8")
    assert "# by hand" in sheet and f'readings = "{state.session}"' in sheet
    assert "was NOT MEASURED and is PASS" in actions.evidence_words(result)
    again = actions.finish_session(workspace, state.session)
    assert not again.added and sheet == (workspace / "parts" / "npn-small.toml").read_text("utf-8")
    with pytest.raises(InputError, match="finished"):
        actions.take_values(workspace, state.session, "1 mV", at=state.at)


def test_only_what_had_settled_counts_and_everything_is_kept(workspace: Path) -> None:
    state = opened(workspace)
    while state.title != "open-lead zero":
        state = actions.move(workspace, state.session, "skip", at=state.at, reason="not now")
    state = actions.take_live(workspace, state.session, at=state.at)
    assert state.run.enough and state.run.settled and state.run.first > 1
    taken, first = state.last, state.run.first
    state = actions.move(workspace, state.session, "next", at=state.at)
    zero = state.zeros[0]
    assert zero.count == taken - first + 1
    assert state.steps[state.at - 1].settled == first, "the chart marks where it settled"
    assert zero.expanded is not None and zero.expanded > 0 and "±" in zero.meter + zero.as_current
    assert state.steps[state.at].zero == zero.volts and state.steps[state.at - 1].zero is None
    raw = actions.export_readings(
        state.session, workspace, workspace / "raw.csv", corrected=False
    ).read_text("utf-8")  # fmt: skip
    assert len(raw.splitlines()) == taken + 1


def test_a_step_taken_again_replaces_what_was_before(workspace: Path) -> None:
    state = opened(workspace)
    while state.title != "open-lead zero":
        state = actions.move(workspace, state.session, "skip", at=state.at, reason="not now")
    at = state.at
    actions.take_values(workspace, state.session, "1 mV\n" * 10, at=at)
    state = actions.move(workspace, state.session, "next", at=at)
    assert state.zeros[0].volts == pytest.approx(1e-3, abs=1e-12)
    state = actions.move(workspace, state.session, "back", at=at + 1)
    assert state.at == at and state.run.count == 0
    actions.take_values(workspace, state.session, "2 mV\n" * 10, at=at)
    state = actions.move(workspace, state.session, "next", at=at)
    assert state.zeros[0].volts == pytest.approx(2e-3, abs=1e-12) and state.zeros[0].count == 10


def test_nothing_is_taken_twice_or_for_another_step(workspace: Path) -> None:
    state = opened(workspace)
    while state.title != "open-lead zero":
        state = actions.move(workspace, state.session, "skip", at=state.at, reason="not now")
    before = state.last
    actions.take_values(workspace, state.session, "1 mV", at=state.at, last=before)
    with pytest.raises(ConflictError):
        actions.take_values(workspace, state.session, "1 mV", at=state.at, last=before)
    with pytest.raises(ConflictError):
        actions.move(workspace, state.session, "next", at=state.at - 1)
    with pytest.raises(InputError, match="line 2"):
        actions.take_values(workspace, state.session, "1 mV\nx", at=state.at)
    assert actions.guided_state(workspace, state.session).last == 1
    with pytest.raises(InputError, match="more readings are wanted"):
        actions.move(workspace, state.session, "next", at=state.at)
    with pytest.raises(InputError, match="needs a reason"):
        actions.move(workspace, state.session, "skip", at=state.at)
    with pytest.raises(InputError, match="no kind of mark"):
        actions.mark_session(state.session, workspace, "step", "done 1")


def test_the_usual_waits_hold_a_step(workspace: Path) -> None:
    """Waiting times of default_wait: 5 min for picoamperes, 30 min of warming up."""
    state = opened(workspace, wait_share=1.0, why="")
    state = actions.move(workspace, state.session, "next", at=0)
    assert state.missing == "wait 30 more minutes"
    with pytest.raises(InputError, match="wait 30 more minutes"):
        actions.move(workspace, state.session, "next", at=1)
    with pytest.raises(InputError, match="reason"):
        opened(workspace, why="")


def test_a_swapped_part_and_a_wrong_sign_stop_the_session(workspace: Path) -> None:
    sheet = workspace / "instruments" / "P1.toml"
    sheet.write_text(sheet.read_text("utf-8").replace("id =", "inverting = true\nid =", 1), "utf-8")
    state = opened(workspace)
    while state.kind != "known current":
        state = actions.move(workspace, state.session, "skip", at=state.at, reason="not now")
    state = actions.take_live(workspace, state.session, at=state.at)
    assert "sign is reversed" in state.check
    with pytest.raises(InputError, match="sign is reversed"):
        actions.move(workspace, state.session, "next", at=state.at)
    while not state.title.startswith("polarity"):
        state = actions.move(workspace, state.session, "skip", at=state.at, reason="not now")
    actions.take_values(workspace, state.session, "-5 mV", at=state.at)
    state = actions.move(workspace, state.session, "next", at=state.at)
    state = actions.take_values(workspace, state.session, "1 mV", at=state.at)
    assert "leads are swapped" in state.missing


def test_a_session_of_another_kind_is_refused(workspace: Path) -> None:
    actions.log_readings(
        workspace / "P1", {"state": "zero open"}, session="plain", count=3
    )  # fmt: skip
    with pytest.raises(InputError, match="not guided"):
        actions.guided_state(workspace, "plain")
    assert actions.guided_sessions(workspace) == ()
    with pytest.raises(InputError, match="no part sheet"):
        actions.open_guided(workspace, "P1", "nobody", "C/B+E", **QUICK)
    with pytest.raises(InputError, match="voltages at which the circuit"):
        opened(workspace, voltages=())


def test_every_wrong_field_is_told_at_once(workspace: Path) -> None:
    wrong = {
        "voltages": ("five", "5 V", "2 kV"), "warm": ("900 °C",), "light": "dark",
        "wait_share": "2", "session": "orchard-bench",
    }  # fmt: skip
    with pytest.raises(InputError) as told:
        opened(workspace, **wrong)
    lines = str(told.value).splitlines()
    fields = [line.split(":")[0].removeprefix("new session, ") for line in lines]
    assert sorted(fields) == sorted(wrong)
    assert (
        '"five"' in lines[0]
        and '"2 kV"' in lines[0]
        and "-1.00\u2009kV to 1.00\u2009kV" in lines[0]
    )
    assert 'write "2 %" if that is meant' in lines[fields.index("wait_share")]
    assert actions.guided_sessions(workspace) == ()
    state = opened(workspace, wait_share="2 %", session="monday")
    assert state.wait_share == pytest.approx(0.02, abs=1e-12)
    with pytest.raises(InputError, match='session: there is a session "monday" already'):
        opened(workspace, session="monday")
    with pytest.raises(InputError, match="why: waiting 0 % of the usual times needs a reason"):
        opened(workspace, why=" ")


def test_only_a_bench_on_this_computer_may_be_arranged(workspace: Path) -> None:
    sheet = workspace / "instruments" / "P1.toml"
    text = sheet.read_text("utf-8")
    sheet.write_text(text.replace("TCPIP::127.0.0.1", "TCPIP::192.0.2.7"), "utf-8")
    with pytest.raises(InputError, match="a real source is switched by hand"):
        opened(workspace)


def asked(workspace: Path, typed: str, *more: str) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-m", "clampwright.cli", "session", "--in", str(workspace), *more]
    return subprocess.run(command, input=typed, capture_output=True, text=True, timeout=120)


def test_the_command_walks_the_steps_and_goes_on_after_it_was_left(workspace: Path) -> None:
    begin = ["P1", "--part", "npn-small", "--wiring", "C/B+E", "--voltage", "5 V", "--light", "0 lx",
             "--no-warm", "--waits", "0", "--why", "pretend bench", "--session", "tuesday"]  # fmt: skip
    first = asked(workspace, "\n\n\n\nm touch lid\nq\n", *begin)
    assert first.returncode == 0, first.stderr
    assert "5/" in first.stdout and "known current" in first.stdout
    assert 'goes on with: --session "tuesday"' in first.stdout
    rest = asked(workspace, "\nn as it is\n" * 40, "--session", "tuesday")
    assert rest.returncode == 0, rest.stderr
    assert "size and sign are right" in rest.stdout
    assert "tuesday is evidence of npn-small C/B+E" in rest.stdout
    state = actions.guided_state(workspace, "tuesday")
    assert state.finished and [m.words for m in state.marks if m.kind == "touch"] == ["lid"]
    shown = asked(workspace, "", "--session", "tuesday", "--json")
    assert json.loads(shown.stdout)["finished"] is True
    missing = asked(workspace, "", "P1")
    assert missing.returncode == 64 and "--part" in missing.stderr
