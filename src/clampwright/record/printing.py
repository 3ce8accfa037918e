"""A page from its template, with spaces that keep a number and its unit on one line."""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING

from clampwright.record.words import THIN_SPACE

if TYPE_CHECKING:
    from jinja2 import Environment

NARROW_NO_BREAK_SPACE = "\u202f"
NO_BREAK_SPACE = "\u00a0"


@cache
def templates(package: str) -> Environment:
    """The templates of a room: every text is escaped, and a name that is not given is an error."""
    from jinja2 import Environment, PackageLoader, StrictUndefined

    return Environment(
        loader=PackageLoader(package),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        auto_reload=False,
    )


def printed(template: str, **shown: object) -> str:
    """The page that `template` (a file of `record/templates`) makes of what is shown."""
    page = templates("clampwright.record").get_template(template).render(**shown)
    page = page.replace(THIN_SPACE, NARROW_NO_BREAK_SPACE)
    return page.replace("± ", f"±{NO_BREAK_SPACE}").replace("95 %", f"95{NO_BREAK_SPACE}%")


__all__ = ["printed", "templates"]
