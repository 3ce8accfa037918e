"""Colours, marks and axes of every figure, and the finishing of an SVG text.

Colours: the published colour-blind-safe set of Okabe and Ito (2008), never red against green; every
series also differs by mark or pattern, so that a grey print still reads.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from functools import wraps
from html import escape
from textwrap import wrap
from typing import TYPE_CHECKING, Any, ParamSpec, TypeVar

from clampwright.record.words import nominal

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

PAPER = "#faf8f3"
INK = "#1e2430"
HAIRLINE = "#d9d4c7"
QUIET = "#5c6270"
SHADE = "#ebe6da"
OPEN = "#ffffff"
BLUE = "#0072b2"
VERMILION = "#d55e00"
ORANGE = "#e69f00"
SKY = "#56b4e9"
PURPLE = "#cc79a7"
SERIES = (BLUE, VERMILION, PURPLE, SKY, ORANGE)
WIDTH = 7.1  # [inch], the text width of a printed A4 page

SETTINGS: Any = {
    "svg.fonttype": "none",
    "font.family": "sans-serif",
    "font.sans-serif": ["DejaVu Sans"],
    "font.size": 8.5,
    "axes.edgecolor": QUIET,
    "axes.labelcolor": INK,
    "axes.linewidth": 0.7,
    "axes.facecolor": "none",
    "figure.facecolor": "none",
    "savefig.facecolor": "none",
    "text.color": INK,
    "xtick.color": QUIET,
    "ytick.color": QUIET,
    "xtick.labelcolor": INK,
    "ytick.labelcolor": INK,
    "hatch.linewidth": 0.6,
    "path.simplify": False,
    "text.parse_math": False,
}


Arguments = ParamSpec("Arguments")
Drawn = TypeVar("Drawn")


def in_our_look(draw: Callable[Arguments, Drawn]) -> Callable[Arguments, Drawn]:
    """Run a drawing function with `SETTINGS`, whatever the caller has set for itself."""

    @wraps(draw)
    def wrapped(*args: Arguments.args, **kwargs: Arguments.kwargs) -> Drawn:
        from matplotlib import rc_context

        with rc_context(SETTINGS):
            return draw(*args, **kwargs)

    return wrapped


def new_axes(height: float) -> tuple[Figure, Axes]:
    """A figure of the page's width with one quiet pair of axes; nothing is saved or shown."""
    from matplotlib.figure import Figure

    figure = Figure(figsize=(WIDTH, height), layout="constrained")
    axes = figure.add_subplot()
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
    axes.set_axisbelow(True)
    return figure, axes


def grid(axes: Axes, axis: str) -> None:
    """Hairlines at the major ticks of one axis."""
    axes.grid(visible=True, axis=axis, which="major", color=HAIRLINE, linewidth=0.6)  # type: ignore[arg-type]


def folded(words: str, width: int, *, lines: int = 2) -> str:
    """A label of bounded size, so that a long name cannot crowd out the picture."""
    return "\n".join(wrap(words, width, max_lines=lines, placeholder="…"))


def engineering_ticks(axes: Axes, axis: str, kind: str, *, signed: bool = False) -> None:
    """Ticks written with engineering prefixes, "10 pA" and not 1e-11."""
    from matplotlib.ticker import FuncFormatter, NullFormatter

    def label(value: float, _position: int | None) -> str:
        return nominal(value, kind, signed=signed and value != 0)

    chosen = axes.xaxis if axis == "x" else axes.yaxis
    chosen.set_major_formatter(FuncFormatter(label))
    chosen.set_minor_formatter(NullFormatter())


def figure_svg(figure: Figure, *, name: str, title: str, description: str) -> str:
    """The figure as one reproducible `<svg>` element with a text alternative.

    name : short, used as prefix of every id, so that several figures fit on one page.
    """
    from io import StringIO

    from matplotlib import rc_context

    text = StringIO()
    with rc_context(SETTINGS | {"svg.hashsalt": name}):
        figure.savefig(text, format="svg", metadata={"Date": None, "Creator": None})
    return finish_svg(text.getvalue(), name=name, title=title, description=description)


def finish_svg(text: str, *, name: str, title: str, description: str) -> str:
    """Strip the XML header and metadata, prefix all ids with `name`, add title and description."""
    text = text[text.index("<svg") :]
    text = re.sub(r"<metadata>.*?</metadata>", "", text, flags=re.DOTALL)
    text = re.sub(r"<!--.*?-->", "", text, flags=re.DOTALL)
    text = text.replace(' xmlns:xlink="http://www.w3.org/1999/xlink"', "")
    text = text.replace("xlink:href=", "href=")
    text = re.sub(r'\bid="([^"]+)"', rf'id="{name}-\1"', text)
    text = re.sub(r"url\(#([^)]+)\)", rf"url(#{name}-\1)", text)
    text = re.sub(r'href="#([^"]+)"', rf'href="#{name}-\1"', text)
    head, rest = text.split(">", 1)
    alternative = (
        f'<title id="{name}-title">{escape(title)}</title>'
        f'<desc id="{name}-desc">{escape(description)}</desc>'
    )
    attributes = f' role="img" aria-labelledby="{name}-title {name}-desc">'
    return head + attributes + alternative + rest.strip() + "\n"


def themed(svg: str) -> str:
    """The same drawing with ink, paper and hairlines taken from the page, for a dark theme."""
    names = {
        PAPER: "paper",
        INK: "ink",
        HAIRLINE: "hairline",
        QUIET: "quiet",
        SHADE: "shade",
        OPEN: "open",
        BLUE: "blue",
        VERMILION: "vermilion",
        ORANGE: "orange",
        SKY: "sky",
        PURPLE: "purple",
    }
    for colour, name in names.items():
        svg = re.sub(colour, f"var(--{name})", svg, flags=re.IGNORECASE)
    return svg
