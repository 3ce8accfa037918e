"""The record page: complete, self-contained, well-formed, escaped, reproducible."""

from __future__ import annotations

import re
from functools import cache
from html.parser import HTMLParser
from math import inf
from xml.etree import ElementTree

import pytest
from sample_results import AMBER_GATE, NO_GATE, sample_check, sample_design
from sample_stresses import sample_faults, sample_rank

from clampwright.record.explain import explain_check, explain_faults
from clampwright.record.page import record_html
from clampwright.record.terminal import check_text, faults_text, rank_text
from clampwright.verdict.results import Gate, Verdict

VOID = {"meta", "br", "link", "img", "hr", "input", "col"}  # HTML standard, void elements
SVG_NAMESPACE = "http://www.w3.org/2000/svg"
TOPOLOGIES = ("T1", "T2", "T5", "T6")
AVOIDED = (
    r"\bsafe\b",
    r"\bcertified\b",
    r"\bguaranteed\b",
    r"\bnetlist",
    r"\bdirective",
    r"model card",
    r"\bdeck\b",
    r"\bstudio\b",
    r"\bworkbench\b",
    r"\bwizard\b",
    r"\btoolkit\b",
    r"\bselector\b",
    r"\bexplorer\b",
    r"schematic capture",
    r"parametric search",
)


@cache
def page(topology: str = "T5", verdict: Verdict = Verdict.PASS, gate: Gate = NO_GATE) -> str:
    check = sample_check(topology, verdict, gate)
    return record_html(
        check, sample_faults(topology), sample_rank(verdict), made_on="25 November 2026"
    )


class Balanced(HTMLParser):
    """Fails on any end tag that does not close the element that is open."""

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.seen: list[str] = []
        self.ids: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.seen.append(tag)
        self.ids += [value or "" for name, value in attrs if name == "id"]
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.seen.append(tag)
        self.ids += [value or "" for name, value in attrs if name == "id"]

    def handle_endtag(self, tag: str) -> None:
        assert self.open, tag
        assert self.open.pop() == tag


@pytest.mark.parametrize("topology", TOPOLOGIES)
def test_the_page_is_well_formed_with_unique_ids(topology: str) -> None:
    text = page(topology)
    parser = Balanced()
    parser.feed(text)
    parser.close()
    assert parser.open == []
    assert len(parser.ids) == len(set(parser.ids))
    pictures = re.findall(r"<svg.*?</svg>", text, re.DOTALL)
    assert len(pictures) >= 7
    for svg in pictures:
        ElementTree.fromstring(svg)


def test_every_reference_inside_the_page_has_its_target() -> None:
    text = page()
    targets = set(re.findall(r'\bid="([^"]+)"', text))
    wanted = re.findall(r'href="#([^"]+)"|url\(#([^)]+)\)', text)
    names = re.findall(r'aria-labelledby="([^"]+)"', text)
    assert wanted and names
    assert {a or b for a, b in wanted} <= targets
    assert {name for both in names for name in both.split()} <= targets


def test_nothing_is_loaded_from_outside_and_nothing_runs() -> None:
    text = page().replace(SVG_NAMESPACE, "")
    assert "http://" not in text
    assert "https://" not in text
    assert not re.search(r"<script|<link|<iframe|@import|\bon\w+=|src=", text, re.IGNORECASE)


def test_hostile_texts_are_escaped_everywhere() -> None:
    bad = '<script>alert(1)</script>"><img src=x onerror=y> $\\frac{$ {{ 7 * 7 }}'
    design = sample_design(title=bad, note=bad)
    check = sample_check()
    clamp = check.clamp
    assert clamp is not None
    judgement = check.judgements[0]
    term = judgement.terms[0].model_copy(update={"name": bad, "source": bad})
    check = check.model_copy(
        update={
            "design": design,
            "clamp": clamp.model_copy(update={"part": bad, "title": bad, "wiring": f"C{bad}/B"}),
            "judgements": (judgement.model_copy(update={"name": bad, "terms": (term,)}),),
            "inputs": {bad: bad},
            "open_risks": (bad,),
            "flags": (bad,),
            "topology_title": bad,
        }
    )
    faults = sample_faults()
    case = faults.cases[0]
    line = case.stresses[0].model_copy(update={"part": bad})
    case = case.model_copy(update={"name": bad, "words": bad, "stresses": (line,)})
    rank = sample_rank()
    candidate = rank.candidates[0].model_copy(update={"part": bad, "reason": bad})
    wall = rank.window.walls[0].model_copy(update={"name": bad})
    rank = rank.model_copy(
        update={
            "candidates": (candidate,),
            "window": rank.window.model_copy(update={"walls": (wall,)}),
        }
    )
    text = record_html(
        check, faults.model_copy(update={"cases": (case,)}), rank, made_on=bad, author=bad
    )
    parser = Balanced()
    parser.feed(text)
    assert not {"script", "img"} & set(parser.seen)
    assert text.count("{{ 7 * 7 }}") > 10
    for svg in re.findall(r"<svg.*?</svg>", text, re.DOTALL):
        ElementTree.fromstring(svg)


@pytest.mark.parametrize("verdict", list(Verdict))
def test_all_verdict_words_are_printed_alike(verdict: Verdict) -> None:
    found = re.findall(r'<li>\s*<svg.*?<span class="word"><span class="of">[^<]*</span>([A-Z ]+)</span>',
                       page("T5", verdict), re.DOTALL)  # fmt: skip
    assert found == [verdict.value, "FAIL", verdict.value]


def test_a_held_gate_takes_the_place_of_the_verdict() -> None:
    text = page(gate=AMBER_GATE)
    assert "HELD by a safety gate" in text
    assert "the numbers say PASS" in text
    assert "Amber gate: the verdict is held" in text
    assert AMBER_GATE.reasons[0] in text


def test_behind_a_red_gate_no_verdict_badge_appears() -> None:
    red = Gate(level="red", reasons=("explosive",), cautions=(), acknowledged="", held=True)
    check = sample_check(gate=red)
    faults = sample_faults(gate=red)
    text = record_html(check, faults, sample_rank(gate=red), made_on="today")
    assert "NUMBERS SHOWN" in text
    badges = re.findall(r"[●⊗◐○] (?:PASS|FAIL|UNDECIDED|NOT MEASURED)", text)
    assert badges == []
    assert not re.search(r'class="word">.*?(PASS|FAIL)</span>', text)


def test_the_contents_stand_in_their_order() -> None:
    text = page()
    order = [
        "Not a safety certification",
        'class="verdicts"',
        'class="window"',
        "Assumed in place of a measurement",
        "Cautions",
        "Requirement",
        'class="schematic"',
        "Clamp wiring",
        'class="budget"',
        'class="leakage"',
        "Noise, bandwidth, settling",
        'class="stress"',
        "Shortlist",
        "Rejected",
        "Open risks",
        "97b00d1155aa0c3e",
        "JCGM 100:2008",
        "clamp returned to the guard follower",
    ]
    places = [text.index(words) for words in order]
    assert places == sorted(places)


def test_numbers_are_not_rounded_to_nothing() -> None:
    text = page()
    assert "35.0\u202ffA" in text
    assert "stand-off 5.6 V above breakdown" in text
    assert "not stated" in text


def test_words_to_avoid_are_absent() -> None:
    texts = [page(t) for t in TOPOLOGIES]
    texts += [check_text(sample_check()), faults_text(sample_faults()), rank_text(sample_rank())]
    red = Gate(level="red", reasons=("explosive",), cautions=(), acknowledged="", held=True)
    texts += [page(gate=red), check_text(sample_check(gate=red))]
    texts += [explain_check(sample_check()), explain_faults(sample_faults())]
    for text in texts:
        visible = re.sub(r"<style>.*?</style>", "", text, flags=re.DOTALL)
        for words in AVOIDED:
            assert not re.search(words, visible, re.IGNORECASE), words


def test_the_same_results_give_the_same_page() -> None:
    again = record_html(sample_check(), sample_faults(), sample_rank(), made_on="25 November 2026")
    assert again == page()


def test_dark_is_for_screens_only() -> None:
    text = page()
    assert "@media screen and (prefers-color-scheme: dark)" in text
    assert not re.search(r"@media \(prefers-color-scheme", text)


def test_unbounded_and_missing_numbers_still_draw_and_say_so() -> None:
    """Infinite resistance, an unbounded interval, no stress, no allowance: words, not a crash."""
    check = sample_check("T2")
    clamp, judgement = check.clamp, check.judgements[0]
    assert clamp is not None
    term = judgement.terms[0].model_copy(update={"low": -inf, "high": inf})
    points = tuple(p.model_copy(update={"leakage": 0.0, "low": 0.0}) for p in clamp.points)
    curve = tuple(p.model_copy(update={"low": 0.0, "high": inf}) for p in clamp.curve)
    update = {"zero_bias_resistance": inf, "points": points, "curve": curve}
    unbounded = judgement.model_copy(update={"terms": (term,), "high": inf, "worst_case": inf})
    nothing = judgement.model_copy(update={"allowance": 0.0})
    faults = sample_faults()
    case = faults.cases[0]
    lines = tuple(
        line.model_copy(update={"ratio": r})
        for line, r in zip(case.stresses, (inf, 0.0), strict=True)
    )
    faults = faults.model_copy(
        update={"cases": (case.model_copy(update={"stresses": lines}),), "deratings": {}}
    )
    rank = sample_rank()
    window = rank.window.model_copy(update={"walls": (), "minimum": 0.0, "maximum": None})
    rank = rank.model_copy(update={"window": window, "candidates": ()})
    for judged in (unbounded, nothing):
        changed = check.model_copy(
            update={"clamp": clamp.model_copy(update=update), "judgements": (judged,)}
        )
        text = record_html(changed, faults, rank, made_on="today")
        assert "unlimited" in text
        assert ("not bounded" in text) == (judged is unbounded)
        assert ('class="budget"' in text) == (judged is unbounded)
        assert rank_text(rank) and faults_text(faults) and check_text(changed)
    bare = check.model_copy(update={"judgements": (), "allowances": (), "transfers": ()})
    empty = faults.model_copy(update={"cases": ()})
    assert "No fault was stated" in record_html(bare, empty, rank, made_on="today")
