"""The right of the drawing: amplifier with its feedback, follower of a guard, rails and shunts."""

from __future__ import annotations

from clampwright.record.circuit_legs import (
    CLAMP_RAIL,
    OUTSIDE,
    RAIL_START,
    TOLERANT_BEFORE,
    Leg,
    hanging_at,
    hanging_parts,
    named,
)
from clampwright.record.symbols import SMALL, Place

WIDTH, HALF = 1.75, 0.85  # of an amplifier's triangle
FOLLOWER = 1.3  # width of a follower's triangle
TURN = 0.45  # from its input to the wire that comes down from the pin


def draw_amplifier(leg: Leg) -> None:
    """The amplifier of a single-ended input, by the picture's kind, with its supplies."""
    kinds = {
        "plain": _plain,
        "other input": _with_other_input,
        "virtual ground": _virtual_ground,
        "tolerant": _tolerant,
    }
    kinds[leg.picture.amplifier](leg)
    if leg.picture.chip_clamps:
        _chip_junctions(leg)
    if leg.labels.error[1]:
        heights = {"plain": 0.42, "other input": 0.83, "virtual ground": -2.52, "tolerant": -2.3}
        low = leg.picture.clamps == "clamp rails"  # a shunt hangs above
        rise = 0.05 if low else heights[leg.picture.amplifier]
        name, value = leg.labels.error
        leg.pen.text(leg.place(leg.at.end, rise + 0.32), name, quiet=True, size=SMALL,
                     align="right")  # fmt: skip
        leg.pen.text(leg.place(leg.at.end, rise), value, align="right")


def draw_far_end(leg: Leg) -> None:
    """What a pair or a shield ends on: a guard follower, a middle node, the other input."""
    if leg.picture.shield:
        _shield(leg)
    if leg.picture.far == "middle":
        _middle(leg)
    elif leg.picture.far == "guard":
        _guard(leg)


def draw_rails(leg: Leg, *, whole: bool) -> None:
    """Supply rails where clamps or the chip's junctions reach them; `whole`: up to the amplifier."""
    pen, at = leg.pen, leg.at
    chip = leg.picture.chip_clamps
    if leg.picture.clamps not in ("rails", "clamp rails") and not chip:
        if whole and leg.picture.amplifier == "plain":
            _stubs(leg, at.pin + 0.95, 0.55)
        return
    if leg.picture.clamps == "clamp rails":
        _clamp_rails(leg)
    if (leg.picture.clamps == "clamp rails" and not leg.texts) or (chip and leg.paired):
        return
    x = at.pin if chip else at.node
    for y, words, sign in zip(leg.rails, leg.labels.rails, (1, -1), strict=True):
        shunted = leg.labels.has("rail shunt") and (sign > 0 or not words.startswith("0"))
        long = whole or (shunted and sign > 0 and leg.texts)
        fed = _feed(leg) if leg.picture.clamps == "clamp rails" else x + RAIL_START
        stop = at.end if long else fed
        pen.line(leg.place(x - RAIL_START, y), leg.place(stop, y))
        if leg.paired and sign < 0 and leg.picture.clamps == "rails":
            pen.text(leg.place(stop + 0.12, y - 0.1), words, align="left")
        else:
            pen.text(leg.place(x - RAIL_START - 0.12, y - 0.1), words, align="right")
        if whole:
            pen.line(leg.place(at.pin + 0.95, 0.55 * sign), leg.place(at.pin + 0.95, y))
        if long and shunted:
            _rail_shunt(leg, sign, y)


def draw_pair_amplifier(plus: Leg, minus: Leg) -> None:
    """One amplifier for two legs, and the capacitor between their clamp nodes."""
    pen, at = plus.pen, plus.at
    middle = (plus.y + minus.y) / 2
    left = at.end - 1.6
    for leg, rise, sign in ((plus, 0.42, "+"), (minus, -0.42, "−")):
        joint = (left - 0.35, middle + rise)
        if leg.picture.amplifier == "tolerant":  # its limiter, on the chip
            pen.limiter(leg.place(at.pin - TOLERANT_BEFORE), leg.place(at.pin),
                        heavy=bool(leg.heavy))  # fmt: skip
        pen.line(leg.place(at.pin), leg.place(joint[0]), joint, (left, joint[1]))
        pen.text((left + 0.2, joint[1] - 0.1), sign)
    tip = (left + 1.35, middle)
    pen.triangle(tip, (left, middle + HALF), (left, middle - HALF))
    pen.line(tip, (at.end, middle))
    if plus.labels.error[1]:
        for words, drop in (("error between", 1.3), ("the pins", 1.58)):
            pen.text((at.end, middle - drop), words, quiet=True, size=SMALL, align="right")
        pen.text((at.end, middle - 1.9), plus.labels.error[1], align="right")
    if plus.labels.has("C_difference"):
        _between(plus, minus)


def _between(plus: Leg, minus: Leg) -> None:
    x = hanging_at(plus, len(hanging_parts(plus)))
    middle = (plus.y + minus.y) / 2
    pen = plus.pen
    for leg in (plus, minus):
        pen.dot(leg.place(x))
    pen.line(plus.place(x), (x, middle + 0.6))
    pen.capacitor((x, middle + 0.6), (x, middle - 0.6))
    pen.line((x, middle - 0.6), minus.place(x))
    value = plus.labels.values["C_difference"]
    named(plus, (x - 0.35, middle - 0.12), value, "between the legs", align="right")


def _triangle(leg: Leg, left: Place, *, name: str = "amplifier") -> None:
    """An amplifier whose inputs are at the x of `left`, centred at its y."""
    tip = (left[0] + WIDTH, left[1])
    leg.pen.triangle(tip, (left[0], left[1] + HALF), (left[0], left[1] - HALF))
    if name and not leg.at.small:
        leg.pen.text((left[0] + 0.08, left[1] - 0.1), name, size=SMALL, align="left")
    leg.pen.line(tip, (leg.at.end, left[1]))


def _pin(leg: Leg, x: float) -> None:
    leg.pen.dot(leg.place(x))
    if not leg.at.small:
        leg.pen.text(leg.place(x - 0.12, 0.2), "pin", quiet=True, size=SMALL, align="right")


def _plain(leg: Leg) -> None:
    left = leg.place(leg.at.pin + 0.35)
    _pin(leg, leg.at.pin)
    leg.pen.line(leg.place(leg.at.pin), left)
    _triangle(leg, left)


def _stubs(
    leg: Leg,
    x: float,
    half: float,
    middle: float = 0.0,
    *,
    upper: bool = True,
    length: float = 0.55,
) -> None:
    """The amplifier's supplies as short bars with their voltages."""
    for sign, words in ((1, leg.labels.rails[0]), (-1, leg.labels.rails[1])):
        if sign > 0 and not upper:
            continue
        start, end = middle + sign * half, middle + sign * (half + length)
        leg.pen.line(leg.place(x, start), leg.place(x, end))
        leg.pen.rail(leg.place(x, end), half=0.3)
        leg.pen.text(leg.place(x + 0.42, end - 0.1), words, align="left")


def _chip_junctions(leg: Leg) -> None:
    """The amplifier's own junctions at the pin, which clamp when nothing else does."""
    pen, x = leg.pen, leg.at.pin
    top, bottom = leg.rails
    pen.junction(leg.place(x), leg.place(x, top), heavy=leg.heavy > 0)
    pen.junction(leg.place(x, bottom), leg.place(x), heavy=leg.heavy < 0)
    for words, y in (("the chip's own", -0.75), ("junctions", -1.05)):
        pen.text(leg.place(x - 0.35, y), words, quiet=True, size=SMALL, align="right")


def _with_other_input(leg: Leg) -> None:
    """The clamps' far end is the other input, which the feedback holds."""
    pen, at = leg.pen, leg.at
    _pin(leg, at.pin)
    left, centre = at.pin + 0.35, -0.45
    pen.line(leg.place(at.pin), leg.place(left))
    _triangle(leg, leg.place(left, centre), name="")
    for sign, y in (("+", 0.0), ("−", -0.9)):
        pen.text(leg.place(left + 0.2, y - 0.1), sign)
    corner = at.pin - 0.1
    heavy = bool(leg.heavy)
    pen.line(leg.place(at.node, at.far), leg.place(corner, at.far), heavy=heavy)
    pen.line(leg.place(corner, at.far), leg.place(corner, -0.9), leg.place(left, -0.9))
    pen.dot(leg.place(corner, at.far))
    out = left + WIDTH + 0.3
    pen.resistor(leg.place(corner, at.far), leg.place(out, at.far), heavy=heavy)
    pen.line(leg.place(out, at.far), leg.place(out, centre))
    pen.dot(leg.place(out, centre))
    named(leg, leg.place((corner + out) / 2, at.far - 0.78), "", _feedback_words(leg))
    _stubs(leg, at.pin + 0.95, 0.55, centre)


def _feedback_words(leg: Leg) -> str:
    value = leg.labels.values.get("R_feedback", "")
    return f"feedback {value}".strip()


def _virtual_ground(leg: Leg) -> None:
    """A summing node: the feedback resistor turns the current into the output voltage."""
    pen, at = leg.pen, leg.at
    if not at.small:
        pen.text(leg.place(at.node + 0.1, 0.2), "summing node", quiet=True, size=SMALL,
                 align="left")  # fmt: skip
    left, centre = at.pin + 0.35, -0.45
    pen.line(leg.place(at.pin), leg.place(left))
    _triangle(leg, leg.place(left, centre), name="")
    for sign, y in (("−", 0.0), ("+", -0.9)):
        pen.text(leg.place(left + 0.2, y - 0.1), sign)
    pen.line(leg.place(left, -0.9), leg.place(left - 0.35, -0.9), leg.place(left - 0.35, -1.15))
    pen.ground(leg.place(left - 0.35, -1.15))
    begin, out, rise = at.pin - 0.4, left + WIDTH + 0.2, 1.55
    pen.dot(leg.place(begin))
    pen.line(leg.place(begin), leg.place(begin, rise))
    pen.resistor(leg.place(begin, rise), leg.place(out, rise))
    pen.line(leg.place(out, rise), leg.place(out, centre))
    pen.dot(leg.place(out, centre))
    pen.text(leg.place((begin + out) / 2, rise + 0.4), _feedback_words(leg))
    if leg.labels.has("C_feedback"):
        higher = rise + 1.15
        pen.line(leg.place(begin, rise), leg.place(begin, higher))
        pen.capacitor(leg.place(begin, higher), leg.place(out, higher))
        pen.line(leg.place(out, higher), leg.place(out, rise))
        pen.text(leg.place((begin + out) / 2, higher + 0.42), leg.labels.values["C_feedback"])
    _stubs(leg, at.pin + 0.95, 0.55, centre, upper=not leg.at.small)


def _tolerant(leg: Leg) -> None:
    """Limiter and amplifier on one chip."""
    pen, at = leg.pen, leg.at
    start = at.pin - TOLERANT_BEFORE
    _pin(leg, start)
    inside = start + 1.75
    pen.limiter(leg.place(start), leg.place(inside), heavy=bool(leg.heavy))
    left = leg.place(inside)
    _triangle(leg, left, name="")
    pen.box(leg.place(start + 0.25, -1.05), leg.place(inside + WIDTH + 0.1, 1.05), dashed=True)
    limit = leg.labels.values.get("limiting current", "")
    words = f"limited to {limit}" if limit else "on one chip"
    pen.text(leg.place(start + 0.3, -1.5), words, quiet=True, size=SMALL, align="left")
    _stubs(leg, inside + 0.6, 0.56, length=0.95)


def _guard(leg: Leg) -> None:
    """The guard line, its resistor and the follower that drives it from the pin."""
    pen, at, y = leg.pen, leg.at, leg.at.far
    out = at.pin - (1.1 if leg.paired else 0.4)
    begin = at.node
    heavy = bool(leg.heavy) and not leg.picture.shield
    if not leg.picture.shield:
        pen.dot(leg.place(begin, y))
    if leg.labels.has("R_guard"):
        pen.resistor(leg.place(begin, y), leg.place(out, y), heavy=heavy)
        value = leg.labels.values["R_guard"]
        pen.text(leg.place((begin + out) / 2, y - 0.82), f"guard resistor {value}".strip(),
                 size=SMALL if not value else 8.0, quiet=not value)  # fmt: skip
    else:
        pen.line(leg.place(begin, y), leg.place(out, y), heavy=heavy)
    _follower(leg, out, y)
    if not leg.picture.shield:
        pen.text(leg.place(begin - 0.15, y - 0.3), "guard", quiet=True, size=SMALL, align="right")


def _follower(leg: Leg, out: float, y: float) -> None:
    """A triangle that looks back to the guard; its input is the pin."""
    pen, pin = leg.pen, leg.at.pin
    right, turn = out + FOLLOWER, out + FOLLOWER + TURN
    pen.triangle(leg.place(out, y), leg.place(right, y + 0.6), leg.place(right, y - 0.6))
    pen.text(leg.place(out + 0.86, y - 0.11), "× 1")
    if leg.texts and not (leg.at.small or leg.paired):
        for words, drop in (("guard", 0.1), ("follower", -0.2)):
            pen.text(leg.place(turn + 0.12, y + drop), words, quiet=True, size=SMALL,
                     align="left")  # fmt: skip
    up = y + 0.85
    pen.line(leg.place(right, y), leg.place(turn, y), leg.place(turn, up), leg.place(pin, up),
             leg.place(pin))  # fmt: skip


def _shield(leg: Leg) -> None:
    """The cable's shield round the line behind the connector, tied to the guard."""
    pen, at = leg.pen, leg.at
    left, right = at.connector + 0.25, at.connector + 1.5
    pen.box(leg.place(left, -0.32), leg.place(right, 0.32), dashed=True)
    middle = (left + right) / 2
    pen.line(leg.place(middle, -0.32), leg.place(middle, at.far), leg.place(at.node, at.far))
    value, assumed, _ = leg.labels.values.get("insulation", "").partition(", assumed")
    mark = ", assumed" if assumed else ""
    pen.text(leg.place(middle + 0.15, -0.75), f"shield, insulation{mark}", quiet=True, size=SMALL,
             align="left")  # fmt: skip
    pen.text(leg.place(middle + 0.15, -1.07), value, align="left")
    for role, sign in (("guard upper", 1), ("guard lower", -1)):
        if leg.labels.has(role):
            _guard_clamp(leg, sign)


def _guard_clamp(leg: Leg, sign: int) -> None:
    """A clamp of the guard itself to a rail."""
    pen, x, y = leg.pen, leg.at.node - 0.7, leg.at.far
    end = y + 1.1 * sign
    ends = (leg.place(x, y), leg.place(x, end))
    pen.junction(*(ends if sign > 0 else ends[::-1]))
    pen.dot(leg.place(x, y))
    pen.rail(leg.place(x, end), half=0.3)
    words = leg.labels.rails[0 if sign > 0 else 1]
    pen.text(leg.place(x + 0.42, end - 0.1), words, align="left")


def _middle(leg: Leg) -> None:
    """The middle node of an isolated suppressor, with what biases it."""
    pen, at, y = leg.pen, leg.at, leg.at.far
    end = y - 1.35
    pen.dot(leg.place(at.node, y))
    pen.suppressor(leg.place(at.node, y), leg.place(at.node, end), heavy=bool(leg.heavy))
    pen.ground(leg.place(at.node, end))
    value = leg.labels.values.get("suppressor", "")
    name = "" if "suppressor" in value else "suppressor"
    named(leg, leg.place(at.node - 0.4, y - 0.75), value, name, align="right")
    if leg.labels.has("R_guard"):
        _guard(leg)
        return
    right = at.pin + 0.2
    pen.resistor(leg.place(at.node, y), leg.place(right, y))
    pen.terminal(leg.place(right, y))
    resistor, assumed, _ = leg.labels.values.get("R_middle", "").partition(", assumed")
    middle = (at.node + right) / 2
    pen.text(leg.place(middle, y - 0.82), resistor)
    if assumed:
        pen.text(leg.place(middle, y - 1.14), "assumed", quiet=True, size=SMALL)
    named(leg, leg.place(right + 0.2, y - 0.1), leg.labels.values.get("middle bias", ""),
          "middle bias", align="left")  # fmt: skip


def _rail_shunt(leg: Leg, sign: int, y: float) -> None:
    """A clamp on the rail itself, which sinks what the load cannot take."""
    inside = leg.picture.clamps == "clamp rails"  # their feeds stand at the right
    x = leg.at.node + 2.0 if inside else leg.at.end - 0.7
    end = y - (0.95 if inside else 1.3) * sign
    _shunt(leg, sign, x, (y, end), foot=0.5)
    named(leg, leg.place(x - 0.35, (y + end) / 2 - 0.2), leg.labels.values["rail shunt"],
          "rail shunt", align="right")  # fmt: skip


def _shunt(leg: Leg, sign: int, x: float, heights: tuple[float, float], foot: float) -> None:
    """A clamp from a rail to ground at `x`; the ground below a negative rail hangs `foot` beside it.

    heights : y of the rail and of the other end
    """
    pen, rail, end = leg.pen, heights[0], heights[1]
    hot, cold = leg.place(x, rail), leg.place(x, end)
    heavy = leg.heavy == sign
    pen.zener(*((cold, hot) if sign > 0 else (hot, cold)), heavy=heavy)
    if heavy:
        pen.line(leg.place(leg.at.node, rail), hot, heavy=True)
    pen.dot(hot)
    if sign > 0:
        pen.ground(cold)
    else:
        pen.line(cold, leg.place(x + foot, end))
        pen.ground(leg.place(x + foot, end))


def _feed(leg: Leg) -> float:
    """x of the resistors that feed the clamp rails."""
    return leg.at.pin + 1.55


def _clamp_rails(leg: Leg) -> None:
    """Clamp rails inside the supply: fed from it, held by a shunt to ground."""
    pen, at = leg.pen, leg.at
    feed = _feed(leg)
    shunt = feed + (0.4 if at.small else 1.1)
    for sign, side in ((1, "positive"), (-1, "negative")):
        rail, y = OUTSIDE * sign, CLAMP_RAIL * sign
        stop = shunt if leg.texts else at.node + RAIL_START
        pen.line(leg.place(at.node - RAIL_START, y), leg.place(stop, y))
        words = leg.labels.values.get(f"clamp rail {side}", "")
        pen.text(leg.place(at.node - RAIL_START - 0.12, y - 0.1), words or "clamp rail",
                 align="right", quiet=not words, size=8.0 if words else SMALL)  # fmt: skip
        if not leg.texts:  # the other leg draws what feeds and holds them
            continue
        pen.resistor(leg.place(feed, rail), leg.place(feed, y))
        pen.dot(leg.place(feed, rail))
        pen.dot(leg.place(feed, y))
        bias, _, assumed = leg.labels.values.get(f"R_bias {side}", "").partition(", ")
        named(leg, leg.place(feed + 0.35, (rail + y) / 2 - 0.2), bias,
              "bias" + (f", {assumed}" if assumed else ""), align="left")  # fmt: skip
        _shunt(leg, sign, shunt, (y, y - sign), foot=0.6)
        pen.text(leg.place(shunt - 0.35, y - sign / 2 - 0.1), "shunt", quiet=True, size=SMALL,
                 align="right")  # fmt: skip


__all__ = [
    "draw_amplifier",
    "draw_far_end",
    "draw_pair_amplifier",
    "draw_rails",
]
