"""The clamps of a user's own network that are not the design's clamp: each a part of its own.

An element names a part and wiring of the workspace, with that part's evidence, or a class of the
catalogue, with the whole spread of its class.
"""

from __future__ import annotations

from collections.abc import Mapping
from difflib import get_close_matches

from clampwright.errors import InputError
from clampwright.network.own import ClampElement, Element, ResistorElement
from clampwright.parts.catalogue import catalogue
from clampwright.parts.clamp_part import Clamp, clamp_part
from clampwright.parts.sheet import read_sheet
from clampwright.verdict.design import Design


def other_elements(design: Design) -> tuple[ClampElement, ...]:
    """The clamp elements whose part is not the design's clamp, in the order written."""
    network = design.network
    clamps = [e for e in network.elements if isinstance(e, ClampElement)]
    judged = (network.clamp or "").strip()
    return tuple(e for e in clamps if e.part.strip() != judged)


def elements_with(design: Design, part: str) -> tuple[Element, ...]:
    """The elements with another part wherever the design's clamp stands."""
    others = {e.name for e in other_elements(design)}
    return tuple(
        e.model_copy(update={"part": part})
        if isinstance(e, ClampElement) and e.name not in others
        else e
        for e in design.network.elements
    )


def with_parts(design: Design, parts: Mapping[str, Clamp]) -> Design:
    """The design with what its elements are made of, by their names; its sheet stays the same."""
    network = design.network.model_copy()
    network._parts = dict(parts)
    return design.model_copy(update={"network": network})


def part_of(design: Design, name: str) -> Clamp:
    """What the clamp element of that name is made of, with the law its evidence supports.

    Raises InputError where it is neither a part that was found nor a class of the catalogue.
    """
    found: Clamp | None = design.network._parts.get(name)
    if found is not None:
        return found
    element = next(e for e in other_elements(design) if e.name == name)
    return class_clamp(element.part, f"network.elements, {name}.part")


def is_class(part: str) -> bool:
    """Whether a text is a class of the catalogue."""
    return part.strip() in catalogue()


def class_clamp(name: str, where: str = "") -> Clamp:
    """A part of which nothing is known but its class; InputError for a text that is none."""
    name = name.strip()
    if not is_class(name):
        close = get_close_matches(name, catalogue(), n=1)
        raise InputError(
            f'"{name}" is neither a part of the workspace nor a class of the catalogue',
            where=where,
            expected='a part id and a wiring, such as "npn-small C/B+E", or a class, such as '
            '"suppressor 12 V"',
            mend=f'did you mean "{close[0]}"' if close else "",
        )
    sheet = {
        "id": "".join(c if c.isalnum() else "-" for c in name.lower()),
        "title": name,
        "kind": "diode",
        "leads": ["A", "K"],
        "package": {"name": "not stated"},
        "junctions": [{"name": "AK", "anode": "A", "cathode": "K", "class": name}],
    }
    return clamp_part(read_sheet(sheet, where), "K/A")


def not_judged(design: Design) -> tuple[str, ...]:
    """The parts on which a fault's stress is not judged, as a sentence; nothing without them."""
    if design.network.topology != "own":
        return ()
    names = [f"{e.name} ({e.part})" for e in other_elements(design)]
    resistors = [e.name for e in design.network.elements if isinstance(e, ResistorElement)]
    names += [name for name in resistors if name != "R_outer"]
    if not names:
        return ()
    return (
        f"what a fault does to {', '.join(names)} is not judged: only R_outer and the part named in "
        "network.clamp are",
    )
