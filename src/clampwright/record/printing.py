"""A page from its template, with spaces that keep a number and its unit on one line."""

from __future__ import annotations

from clampwright.record.words import THIN_SPACE

NARROW_NO_BREAK_SPACE = "\u202f"
NO_BREAK_SPACE = "\u00a0"


def printed(template: str, **shown: object) -> str:
    """The page that `template` (a file of `record/templates`) makes of what is shown."""
    from jinja2 import Environment, PackageLoader, StrictUndefined

    environment = Environment(
        loader=PackageLoader("clampwright.record"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    page = environment.get_template(template).render(**shown)
    page = page.replace(THIN_SPACE, NARROW_NO_BREAK_SPACE)
    return page.replace("± ", f"±{NO_BREAK_SPACE}").replace("95 %", f"95{NO_BREAK_SPACE}%")


__all__ = ["printed"]
