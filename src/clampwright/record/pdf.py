"""The record as PDF: blocks of plain data set by a typesetting library, on A4 or Letter.

Text goes in as strings of a JSON object and is never read as markup. The font comes from the plotting
library, so that a record looks the same on every machine.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from importlib import resources
from pathlib import Path
from typing import Any, Literal

from clampwright.errors import InputError, InternalError
from clampwright.record.print_blocks import record_blocks
from clampwright.record.words import SCOPE_LINE
from clampwright.verdict.results import CheckResult, FaultsResult, RankResult

PREVIEW = 96.0  # [dots per inch]
PAPERS = {"a4": "a4", "letter": "us-letter"}


def record_pdf(
    check: CheckResult,
    faults: FaultsResult,
    rank: RankResult,
    *,
    made_on: str,
    kept: str = "",
    paper: str = "a4",
) -> bytes:
    """The whole record as a PDF file.

    kept : number under which the record is kept, "" when it is not
    Raises InputError for another paper than A4 or Letter.
    """
    if paper not in PAPERS:
        raise InputError(f'there is no paper "{paper[:20]}"', expected=" or ".join(PAPERS))
    return typeset(_data(check, faults, rank, made_on, kept, paper))


def first_page_png(
    check: CheckResult, faults: FaultsResult, rank: RankResult, *, made_on: str
) -> bytes:
    """The first printed page as a picture, to look at before it is taken along."""
    found = _set(_data(check, faults, rank, made_on, "", "a4"), "png", PREVIEW)
    return found[0]


def _data(
    check: CheckResult, faults: FaultsResult, rank: RankResult, made_on: str, kept: str, paper: str
) -> str:
    """Everything that is printed, as JSON."""
    design = check.design
    number = f", record {kept}" if kept else ""
    data = {
        "title": design.title,
        "kind": f"Protection design record, revision {design.revision}{number}, {made_on}",
        "footer": f"{design.title}, {made_on}{number}, inputs {check.design_hash[:16]}. {SCOPE_LINE}",
        "paper": PAPERS[paper],
        "blocks": record_blocks(check, faults, rank),
    }
    return json.dumps(data, ensure_ascii=False)


def typeset(data: str) -> bytes:
    """PDF of one record given as JSON."""
    return _set(data, "pdf", None)[0]


def _set(data: str, kind: Literal["pdf", "png"], dots: float | None) -> list[bytes]:
    """One PDF, or a picture of every page with `dots` per inch."""
    import matplotlib
    import typst

    source = resources.files("clampwright.record").joinpath("templates/record.typ").read_bytes()
    fonts = str(Path(matplotlib.get_data_path()) / "fonts" / "ttf")
    compiled: Callable[..., Any] = typst.compile
    try:
        made = compiled(
            source, font_paths=[fonts], ignore_system_fonts=True, format=kind, ppi=dots,
            sys_inputs={"record": data},
        )  # fmt: skip
    except typst.TypstError as error:
        raise InternalError(f"the record could not be typeset: {error}") from None
    return list(made) if isinstance(made, list) else [bytes(made)]
