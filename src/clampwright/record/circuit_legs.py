"""One leg of an input as a drawing: source, signal line, clamps and what hangs from the line."""

from __future__ import annotations

from dataclasses import dataclass, replace

from clampwright.record.circuit_pictures import Part, Picture, Stations
from clampwright.record.look import VERMILION
from clampwright.record.schematic_labels import BETWEEN_LEGS, NODE_CAPACITOR, Labels
from clampwright.record.symbols import SMALL, TEXT, Pen, Place

PAIR_HALF = 0.55  # half the distance between the two clamps of a pair
LONGEST_LEADS = 5  # characters of lead names that fit beside a pair on the side of its text
RAIL_START = 0.8  # how far before the node a rail begins
CLAMP_RAIL, OUTSIDE = 2.5, 3.9  # y of the clamp rails and of the rails outside them
HANG_END = -1.45
PITCH, NAMED_PITCH = 1.1, 1.9  # between parts that hang from the line
TOLERANT_BEFORE = 1.6  # from the limiter on a chip to where a plain amplifier has its pin
CLAMP_RAIL_ROOM = 2.1  # for the shunts of clamp rails before the amplifier of a pair
PART_WIDTH, PART_ALONE = 1.75, 1.4  # of a part with its name; of the only one
ROW = 0.33  # between lines of text


@dataclass(frozen=True)
class Leg:
    """Where and how one leg is drawn; `texts`: with the lines beside its clamps."""

    pen: Pen
    picture: Picture
    labels: Labels
    at: Stations
    y: float = 0.0
    texts: bool = True
    paired: bool = False  # one of two legs
    heavy: int = 0  # direction of the fault that is drawn heavy, 0 for none

    def place(self, x: float, y: float = 0.0) -> Place:
        """A place relative to this leg's signal line."""
        return (x, self.y + y)

    @property
    def rails(self) -> tuple[float, float]:
        """y of the rails relative to the line."""
        if self.picture.clamps == "clamp rails":
            return (OUTSIDE, -OUTSIDE) if self.texts else (CLAMP_RAIL, -CLAMP_RAIL)
        return (self.at.top, self.at.bottom)


def draw_leg(leg: Leg) -> None:
    """Source, line, clamps and hanging parts, up to the pin."""
    _source(leg)
    _line(leg)
    _inner(leg)
    for number, part in enumerate(hanging_parts(leg)):
        _hang(leg, part, hanging_at(leg, number))
    if leg.picture.tube is not None:
        _tube(leg, leg.picture.tube)
    clamps = {"rails": _rail_clamps, "clamp rails": _rail_clamps, "pair": _pair, "stack": _stack}
    if leg.picture.clamps in clamps:
        clamps[leg.picture.clamps](leg)
    if not (leg.texts and leg.labels.node):
        return
    if leg.picture.clamps in ("rails", "clamp rails"):
        leg.pen.text(leg.place(leg.at.node + 0.15, -0.64), leg.labels.node, size=SMALL,
                     align="left")  # fmt: skip
    elif leg.picture.clamps != "none":
        leg.pen.text(leg.place(leg.at.node, 0.25), leg.labels.node, size=SMALL)


def with_room(leg: Leg) -> Leg:
    """The leg drawn wider where many parts stand between connector and clamp node."""
    if leg.at.small:
        return leg
    needed = len(_line_parts(leg)) * (PART_WIDTH if len(_line_parts(leg)) > 1 else PART_ALONE)
    missing = max(needed - (_line_end(leg) - _slots_width(leg) - leg.at.connector), 0.0)
    beside = CLAMP_RAIL_ROOM if leg.paired and leg.picture.clamps == "clamp rails" else 0.0
    at, end = leg.at, leg.at.end + missing + beside
    return replace(leg, at=replace(at, node=at.node + missing, pin=at.pin + missing, end=end))


def named(leg: Leg, place: Place, value: str, name: str, *, align: str = "center") -> None:
    """A value with its name above it, both over `place`; the name alone where there is no value."""
    x, y = place
    side = "left" if align == "left" else "right" if align == "right" else "center"
    if value:
        leg.pen.text((x, y), value, align=side)  # type: ignore[arg-type]
        y += ROW - 0.01
    if name:
        leg.pen.text((x, y), name, quiet=True, size=SMALL, align=side)  # type: ignore[arg-type]


def column(leg: Leg, place: Place, side: str) -> None:
    """The lines beside one clamp, downwards from `place`."""
    if not leg.texts:
        return
    for row, line in enumerate(leg.labels.clamps.get(side, ())):
        where = (place[0], place[1] - ROW * row)
        size = SMALL if line.quiet else TEXT
        leg.pen.text(where, line.words, quiet=line.quiet, size=size, align="left")


def _source(leg: Leg) -> None:
    pen, at, labels = leg.pen, leg.at, leg.labels
    current = leg.picture.amplifier == "virtual ground"
    low = leg.place(at.source, -2.1)
    pen.source(low, leg.place(at.source), current=current)
    pen.ground(low)
    if labels.signal and current:
        pen.text(leg.place(at.source - 0.2, 0.62), "signal, at the output", quiet=True, size=SMALL,
                 align="left")  # fmt: skip
        pen.text(leg.place(at.source - 0.2, 0.28), labels.signal, align="left")
    elif labels.signal and leg.texts:
        where = at.source + 0.62
        pen.text(leg.place(where, -0.9), labels.signal, align="left")
        pen.text(leg.place(where, -1.22), "signal", quiet=True, size=SMALL, align="left")


def _line(leg: Leg) -> None:
    """Source resistance, connector and the parts up to the clamp node."""
    pen, at, labels = leg.pen, leg.at, leg.labels
    current = leg.picture.amplifier == "virtual ground"
    connector = at.connector + (1.0 if current and not at.small else 0.4 if current else 0.0)
    start, end = leg.place(at.source), leg.place(connector)
    if current:
        pen.line(start, end)
        shunt = at.source + 1.9 if not at.small else at.source + 1.2
        pen.dot(leg.place(shunt))
        pen.resistor(leg.place(shunt), leg.place(shunt, -2.1))
        pen.ground(leg.place(shunt, -2.1))
        named(leg, leg.place(shunt + 0.4, -1.2), labels.values.get("R_S", ""), "shunt",
              align="left")  # fmt: skip
    else:
        pen.resistor(start, end)
        named(leg, leg.place((at.source + connector) / 2, 0.42), labels.values.get("R_S", ""),
              "source")  # fmt: skip
    _parts(leg, connector)
    pen.terminal(end)
    if leg.texts:
        _connector_words(leg, connector)


def _parts(leg: Leg, connector: float) -> None:
    parts, last = _line_parts(leg), _line_end(leg)
    end = last - _slots_width(leg)
    begin = connector + (1.7 if leg.picture.shield else 0.0)
    leg.pen.line(leg.place(connector), leg.place(begin), heavy=bool(leg.heavy))
    step = (end - begin) / len(parts)
    for number, part in enumerate(parts):
        left = leg.place(begin + step * number)
        right = leg.place(begin + step * (number + 1))
        _in_line(leg, part, left, right)
    leg.pen.line(leg.place(end), leg.place(last), heavy=bool(leg.heavy))


def _line_parts(leg: Leg) -> list[Part]:
    parts = list(leg.picture.line)
    if not _has_node(leg) and leg.labels.has("R_inner"):
        parts.append(Part("resistor", "R_inner", "inner resistor"))
    return parts


def _slots_width(leg: Leg) -> float:
    """Room for what hangs between the last part of the line and the clamp node."""
    slots = len(hanging_parts(leg)) + leg.labels.has(BETWEEN_LEGS)
    return _line_end(leg) - hanging_at(leg, slots - 1) if slots else 0.0


def _in_line(leg: Leg, part: Part, left: Place, right: Place) -> None:
    heavy, middle = bool(leg.heavy), (left[0] + right[0]) / 2
    if part.symbol == "box":
        low, high = (middle - 1.1, left[1] - 0.5), (middle + 1.1, left[1] + 0.5)
        leg.pen.line(left, (low[0], left[1]), heavy=heavy)
        leg.pen.line((high[0], left[1]), right, heavy=heavy)
        leg.pen.box(low, high)
        leg.pen.text((middle, left[1] - 0.1), part.name)
        column(leg, (low[0], left[1] - 1.0), "pair")
        return
    draw = {
        "resistor": leg.pen.resistor,
        "fuse": leg.pen.fuse,
        "contact": leg.pen.contact,
        "limiter": leg.pen.limiter,
    }[part.symbol]
    draw(left, right, heavy=heavy)
    value = leg.labels.values.get(part.role, "")
    named(leg, (middle, left[1] + 0.48), *_split(value, _name(leg, part.name)))


def _split(value: str, name: str) -> tuple[str, str]:
    """Value and name; "assumed" moves from the one to the other."""
    plain, assumed, _ = value.partition(", assumed")
    return plain, f"{name}, assumed" if assumed else name


def _name(leg: Leg, name: str) -> str:
    """A name that fits: on a small drawing the first word of "outer resistor"."""
    return name.removesuffix(" resistor").removeprefix("current ") if leg.at.small else name


def _connector_words(leg: Leg, connector: float) -> None:
    pen, labels = leg.pen, leg.labels
    rise = -0.58 if leg.picture.tube is None else 0.25
    if not (leg.picture.shield and leg.at.small):
        pen.text(leg.place(connector, rise), "connector", quiet=True, size=SMALL)
    if labels.fault:
        pen.text(leg.place(connector + 0.1, 1.25), labels.fault, colour=VERMILION, align="left")


def _inner(leg: Leg) -> None:
    """The inner resistor, or the wire in its place, up to the pin."""
    pen, at, labels = leg.pen, leg.at, leg.labels
    if leg.picture.amplifier == "virtual ground":
        pen.dot(leg.place(at.node))
        pen.line(leg.place(at.node), leg.place(at.pin))
        return
    clamped, begin = _has_node(leg), leg.place(_line_end(leg))
    if leg.picture.amplifier == "tolerant":
        return
    if leg.picture.clamps != "none":
        pen.dot(begin)
    if clamped and labels.has("R_inner"):
        pen.resistor(begin, leg.place(at.pin))
        named(leg, leg.place((at.node + at.pin) / 2 + 0.1, 0.42), labels.values["R_inner"],
              _name(leg, "inner resistor"))  # fmt: skip
    else:
        pen.line(begin, leg.place(at.pin), heavy=bool(leg.heavy) and not clamped)


def _has_node(leg: Leg) -> bool:
    return leg.picture.clamps != "none" or bool(leg.picture.far)


def _line_end(leg: Leg) -> float:
    """x where the parts of the line end: the clamp node, or short of the amplifier."""
    if leg.picture.amplifier == "tolerant":
        return leg.at.pin - TOLERANT_BEFORE
    return leg.at.node if _has_node(leg) else leg.at.pin - 1.1


def hanging_parts(leg: Leg) -> list[Part]:
    """What hangs from the line beside the clamp node, the nearest first."""
    own = [Part("capacitor", NODE_CAPACITOR, "capacitor")]
    fitted = [p for p in leg.picture.hanging if leg.labels.has(p.role)]
    return fitted + [p for p in own if leg.labels.has(p.role)]


def hanging_at(leg: Leg, number: int) -> float:
    """x of the part that hangs there, counted from the clamp node towards the connector."""
    named_first = any(p.symbol == "resistor" for p in hanging_parts(leg)) and not leg.at.small
    return _line_end(leg) - leg.at.hang - (NAMED_PITCH if named_first else PITCH) * number


def _hang(leg: Leg, part: Part, x: float) -> None:
    pen, end = leg.pen, leg.place(x, HANG_END)
    pen.dot(leg.place(x))
    if part.symbol == "capacitor":
        pen.capacitor(leg.place(x), end)
    else:
        pen.resistor(leg.place(x), end)
    pen.ground(end)
    value, name = _split(leg.labels.values[part.role], _name(leg, part.name))
    name = "" if value and part.symbol == "capacitor" else name
    if leg.texts:
        named(leg, leg.place(x - 0.35, -1.1), value, name, align="right")


def _tube(leg: Leg, part: Part) -> None:
    x = leg.at.connector
    leg.pen.tube(leg.place(x), leg.place(x, -2.0))
    leg.pen.ground(leg.place(x, -2.0))
    if leg.texts:
        leg.pen.text(leg.place(x + 0.6, -1.1), part.name, quiet=True, size=SMALL, align="left")


def _rail_clamps(leg: Leg) -> None:
    """A clamp to each rail; cathode towards the positive one."""
    pen, x = leg.pen, leg.at.node
    inside = leg.picture.clamps == "clamp rails"
    top, bottom = (CLAMP_RAIL, -CLAMP_RAIL) if inside else leg.rails
    pen.junction(leg.place(x), leg.place(x, top), heavy=leg.heavy > 0)
    pen.junction(leg.place(x, bottom), leg.place(x), heavy=leg.heavy < 0)
    anode, cathode = _leads(leg) if leg.texts else ("", "")
    for middle in (top / 2, bottom / 2):
        for words, y in ((anode, middle - 0.36), (cathode, middle + 0.36)):
            pen.text(leg.place(x - 0.3, y - 0.09), words, size=SMALL, align="right")
    column(leg, leg.place(x + 0.5, top - 0.4), "upper")
    column(leg, leg.place(x + 0.5, -0.95), "lower")


def _leads(leg: Leg) -> tuple[str, str]:
    """Lead names, cut where a capacitor stands beside them."""
    room = 9 if hanging_parts(leg) else 20
    anode, cathode = leg.labels.leads
    return (
        anode if len(anode) <= room else anode[: room - 1] + "…",
        cathode if len(cathode) <= room else cathode[: room - 1] + "…",
    )


def _pair(leg: Leg) -> None:
    """Two clamps either way round from the node to the far end."""
    pen, x = leg.pen, leg.at.node
    upper, lower = -0.35, leg.at.far + 0.35
    left, right = x - PAIR_HALF, x + PAIR_HALF
    pen.junction(leg.place(left, upper), leg.place(left, lower), heavy=leg.heavy > 0)
    pen.junction(leg.place(right, lower), leg.place(right, upper), heavy=leg.heavy < 0)
    _pair_leads(leg, upper, lower)
    for y in (upper, lower):
        pen.line(leg.place(left, y), leg.place(right, y))
    pen.line(leg.place(x), leg.place(x, upper), heavy=bool(leg.heavy))
    pen.line(leg.place(x, lower), leg.place(x, leg.at.far), heavy=bool(leg.heavy))
    _pair_column(leg)
    if leg.picture.far == "ground":
        pen.ground(leg.place(x, leg.at.far))


def _pair_leads(leg: Leg, upper: float, lower: float) -> None:
    pen, x, middle = leg.pen, leg.at.node, (upper + lower) / 2
    anode, cathode = leg.labels.leads if leg.texts else ("", "")
    near, far = middle + 0.41, middle - 0.59
    outer = x + PAIR_HALF + 0.3
    pen.text(leg.place(outer, far), anode, size=SMALL, align="left")
    pen.text(leg.place(outer, near), cathode, size=SMALL, align="left")
    if max(len(anode), len(cathode)) <= LONGEST_LEADS and not hanging_parts(leg):
        inner = x - PAIR_HALF - 0.3
        pen.text(leg.place(inner, near), anode, size=SMALL, align="right")
        pen.text(leg.place(inner, far), cathode, size=SMALL, align="right")


def _pair_column(leg: Leg) -> None:
    """The lines of both clamps, where the least stands in their way."""
    at, x, y = leg.at, leg.at.source + 1.9, -1.25
    if leg.picture.amplifier == "virtual ground":
        x, y = at.node + 0.7, at.far - 0.1
    elif leg.labels.has(BETWEEN_LEGS):
        x, y = at.node - 2.15, at.far - 1.3
    elif hanging_parts(leg):
        y = -2.85
    column(leg, leg.place(x, y), "pair")


def _stack(leg: Leg) -> None:
    """Two junctions in series each way to ground."""
    pen, x, end = leg.pen, leg.at.node, leg.at.far
    upper, half = -0.3, (leg.at.far + 0.3 + 0.3) / 2
    for side, ways in ((x - PAIR_HALF, 1), (x + PAIR_HALF, -1)):
        heavy = leg.heavy == ways
        for top in (upper, upper + half):
            ends = (leg.place(side, top), leg.place(side, top + half))
            pen.junction(*(ends if ways > 0 else ends[::-1]), heavy=heavy)
    for y in (upper, upper + 2 * half):
        pen.line(leg.place(x - PAIR_HALF, y), leg.place(x + PAIR_HALF, y))
    pen.line(leg.place(x), leg.place(x, upper), heavy=bool(leg.heavy))
    pen.line(leg.place(x, upper + 2 * half), leg.place(x, end), heavy=bool(leg.heavy))
    pen.ground(leg.place(x, end))
    _pair_column(leg)
