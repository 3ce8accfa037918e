"""What to measure next, in rows and as text: 100 columns."""

from __future__ import annotations

from textwrap import wrap

from clampwright.record.words import (
    error_words,
    headline_words,
    interval,
    known_words,
    prose,
    verdict_shape,
)
from clampwright.verdict.next_results import NextAction, NextResult

Row = tuple[str, ...]
COLUMNS = 100
ACTION_HEADS = ("what to do", "minutes", "gain", "a minute", "PASS", "FAIL", "95 % then")
SHARE_HEADS = ("uncertain input", "share of the width", "known")
DEFINITION = (
    "Probability, plainly: each term is taken as normal with the 95 % interval it has now (log-normal "
    "where both ends have one sign). A reading narrows the interval from u to u'; what it will say is "
    "not known, so the value is moved by s·z with s = √(u² − u'²)/1.96 and 401 equally likely z, and "
    "every outcome is judged by the usual rule. Gain is the share of outcomes that end PASS or FAIL; "
    "an open verdict has 0 now. It is assumed that no other corner takes over and that the stated "
    "interval is right."
)
SHARE_WORDS = "c = h²/Σh², h half of the 95 % interval of each term of the deciding error."


def percent(probability: float) -> str:
    """A probability; small ones are bounded and never rounded to nothing or to certainty."""
    if 0 < probability < 0.005:
        return "<1\u2009%"
    if 0.995 < probability < 1:
        return ">99\u2009%"
    return f"{100 * probability:.0f}\u2009%"


def action_row(action: NextAction, ohms: float | None = None) -> Row:
    """Cells under `ACTION_HEADS`; with `volts_per_ampere` of the result the interval as a current."""
    ends = (error_words(end, ohms, signed=True) for end in (action.low, action.high))
    return (
        action.action + ("" if action.seen else " (below what this bench sees)"),
        f"{action.minutes:.0f}",
        percent(action.gain),
        f"{100 * action.per_minute:.2f}\u2009%",
        percent(action.passed),
        percent(action.failed),
        " … ".join(ends),
    )


def share_rows(result: NextResult) -> list[Row]:
    """Cells under `SHARE_HEADS`, largest first."""
    return [
        (c.input, percent(c.share), known_words(c.basis, c.known_by, short=True))
        for c in result.contributions
    ]


def judged_words(result: NextResult) -> str:
    """The error that decides, its allowance, and the chance that it lies beyond.

    Where a current is asked for, the current at the input, then the volts behind it.
    """
    ohms, allowed = result.volts_per_ampere, result.allowance
    kind = "voltage" if ohms is None else "current"
    value, low, high = (v / (ohms or 1.0) for v in (result.error, result.low, result.high))
    words = interval(value, low, high, kind, signed=True)
    if ohms is not None:
        words += f" at the input against ± {error_words(allowed, ohms)}; that is "
        words += error_words(result.error, signed=True)
    words += f" against ± {error_words(allowed)}"
    chance = f"by that interval the chance that it lies beyond is {percent(result.beyond)}"
    return f"{result.judged}: {words}; {chance}"


def next_text(result: NextResult, *, explain: bool = False) -> str:
    """The advice, the shares, and the ranked actions."""
    word = headline_words(result.verdict, result.gate)
    lines = [f"{verdict_shape(result.verdict, result.gate)} {word}"]
    lines += _folded(f"{prose(result.reason)}.") + _folded(f"{judged_words(result)}.")
    lines += ["", "What its width comes from"]
    lines += [f"  {share:>6}  {name}, {basis}" for name, share, basis in share_rows(result)]
    title = "Readings, if you take one all the same" if result.stop else "Readings, best first"
    lines += ["", title, f"  {'gain':>6} {'a minute':>9} {'minutes':>8}"]
    for action in result.actions:
        what, minutes, gain, rate, passed, failed, error = action_row(
            action, result.volts_per_ampere
        )
        head = f"  {gain:>6} {rate:>9} {minutes:>8}  "
        told = f"{what}: PASS {passed}, FAIL {failed}; {action.how}; 95 % then {error}"
        lines += wrap(told, COLUMNS, initial_indent=head, subsequent_indent=" " * len(head))
    if explain:
        lines += ["", "How it is reckoned", *_folded(DEFINITION), *_folded(SHARE_WORDS)]
    return "\n".join(lines)


def _folded(words: str) -> list[str]:
    return wrap(words, COLUMNS, initial_indent="  ", subsequent_indent="  ")
