"""A part as one self-contained HTML page: ruler, wirings, lead drawings and curves; no script."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from clampwright.record import part_rows
from clampwright.record.cautions import USUAL_CAUTIONS
from clampwright.record.lead_drawing import lead_svg
from clampwright.record.look import figure_svg, themed
from clampwright.record.part_plots import curve_of, light_plot, temperature_plot, voltage_plot
from clampwright.record.part_ruler import ruler_plot
from clampwright.record.printing import printed
from clampwright.record.words import SCOPE_LINE, nominal, quantity, temperature
from clampwright.verdict.part_view import PartResult, WiringView

if TYPE_CHECKING:
    from matplotlib.figure import Figure


class Picture(NamedTuple):
    """An `<svg>` and the sentence that says what it shows."""

    svg: str
    sentence: str


class Entry(NamedTuple):
    """Wirings of which the same is known, with their drawings and shared pictures."""

    views: tuple[WiringView, ...]
    leads: tuple[str, ...]
    pictures: tuple[Picture, ...]


def part_html(part: PartResult) -> str:
    """The whole page of a part, for a screen and for A4 or Letter."""
    return printed(
        "part.html",
        part=part,
        ruler=_ruler(part),
        entries=[_entry(part, place, views) for place, views in enumerate(_groups(part))],
        scope_line=SCOPE_LINE,
        cautions=USUAL_CAUTIONS,
        rows=part_rows,
    )


def _groups(part: PartResult) -> list[tuple[WiringView, ...]]:
    return part_rows.alike(part_rows.usable(part))


def _entry(part: PartResult, place: int, views: tuple[WiringView, ...]) -> Entry:
    view = views[0]
    drawings = tuple(
        themed(lead_svg(one, part.leads, name=f"w{place}-leads{number}"))
        for number, one in enumerate(views)
    )
    pictures = (
        ("voltage", "Current against voltage", voltage_plot(view), voltage_sentence(view)),
        ("temperature", "Leakage against temperature", temperature_plot(view),
         temperature_sentence(view)),
        ("light", "Leakage against light", light_plot(view), light_sentence(view)),
    )  # fmt: skip
    return Entry(
        views,
        drawings,
        tuple(
            _picture(figure, f"w{place}-{name}", f"{title}, {view.name}", sentence)
            for name, title, figure, sentence in pictures
        ),
    )


def _picture(figure: Figure, name: str, title: str, sentence: str) -> Picture:
    svg = figure_svg(figure, name=name, title=title, description=sentence)
    return Picture(themed(svg), sentence)


def _ruler(part: PartResult) -> Picture | None:
    figure = ruler_plot(part)
    if figure is None:
        return None
    return _picture(figure, "ruler", f"Leakage of every wiring, {part.title}", ruler_sentence(part))


def ruler_sentence(part: PartResult) -> str:
    """What the ruler shows: quietest and leakiest wiring and how each is known."""
    views = sorted(part_rows.usable(part), key=lambda view: view.leakage or 0.0)
    told = [
        f"{view.name} {quantity(view.leakage, 'current')}, "
        + ("its class only" if view.basis == "maximum" else part_rows.known_as(view))
        for view in (views[0], views[-1])
    ]
    ends = told[0] if len(views) == 1 else f"quietest {told[0]}; leakiest {told[1]}"
    return (
        f"Dark reverse leakage at {part_rows.COMPARED} of {len(views)} "
        f"{'wiring' if len(views) == 1 else 'wirings'}: {ends}. Dots are measured, open dots "
        "typical, caps maxima, arrows bounds; a hatched band is assumed from the class."
    )


def voltage_sentence(view: WiringView) -> str:
    """The curve against voltage in one sentence."""
    points = curve_of(view, "voltage").points
    first, last = points[0], points[-1]
    return (
        f"{view.name}, current into the anode at {temperature(first.temperature)} in the dark: "
        f"{quantity(first.current, 'current', signed=True)} at {nominal(first.voltage, 'voltage')}, "
        f"{quantity(last.current, 'current', signed=True)} at "
        f"{nominal(last.voltage, 'voltage', signed=True)}, slope resistance at 0 V "
        f"{quantity(view.zero_bias_resistance, 'resistance')}. Solid where readings reach, dotted "
        "beyond; the forward branch is that of the class and the sheet."
    )


def temperature_sentence(view: WiringView) -> str:
    """The curve against temperature in one sentence."""
    points = curve_of(view, "temperature").points
    first, last = points[0], points[-1]
    counts = {
        kind: sum(p.basis == kind for p in view.evidence)
        for kind in ("measured", "not detected", "typical", "maximum")
    }
    marks = ", ".join(f"{count} {kind}" for kind, count in counts.items() if count)
    return (
        f"{view.name}, {curve_of(view, 'temperature').words}: "
        f"{quantity(first.current, 'current')} at {temperature(first.temperature)}, "
        f"{quantity(last.current, 'current')} at {temperature(last.temperature)}; near 23\u2009°C it "
        f"doubles every {quantity(view.doubling, 'temperature_difference')}. "
        f"Marks: {marks or 'none, nothing is measured or stated'}."
    )


def light_sentence(view: WiringView) -> str:
    """The curve against light in one sentence."""
    points = curve_of(view, "light").points
    last = points[-1]
    return (
        f"{view.name}, {curve_of(view, 'light').words}: {quantity(view.leakage, 'current')} in the "
        f"dark, {quantity(last.current, 'current')} at {nominal(last.illuminance, 'illuminance')}. "
        f"{_lit_words(view)}"
    )


def _lit_words(view: WiringView) -> str:
    if not view.lit:
        return "Nothing was read in light."
    told = ", ".join(
        f"{quantity(p.leakage if p.basis == 'measured' else p.high, 'current')} "
        f"{p.basis} at {nominal(p.illuminance, 'illuminance')}"
        for p in view.lit
    )
    return f"Marks: {told}."


__all__ = ["part_html"]
