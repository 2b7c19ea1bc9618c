"""Templates to one self-contained HTML file, and the file written whole or not at all."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from jinja2 import Environment


def environment() -> Environment:
    """The templates of this package; every value put into a page is escaped, none may be missing."""
    import jinja2

    from analyser.phrases import figures

    made = jinja2.Environment(
        loader=jinja2.PackageLoader("analyser.report", "templates"),
        autoescape=True,
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    made.filters |= {"percent": figures.percent, "de00": figures.difference, "metres": figures.metres}
    return made


def render(template: str, context: Mapping[str, Any]) -> str:
    """Fill a template of this package, such as ``"colourway.html"``, with a page's values."""
    return environment().get_template(template).render(**context)
