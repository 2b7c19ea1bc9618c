"""Templates to one self-contained HTML file, and the file written whole or not at all."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from analyser.errors import OptionError

if TYPE_CHECKING:
    from jinja2 import Environment


def environment() -> Environment:
    """The templates of this package; every value put into a page is escaped, none may be missing."""
    import jinja2

    return jinja2.Environment(
        loader=jinja2.PackageLoader("analyser.report", "templates"),
        autoescape=True,
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )


def render(template: str, context: Mapping[str, Any]) -> str:
    """Fill a template of this package, such as ``"colourway.html"``, with a page's values."""
    return environment().get_template(template).render(**context)


def write_whole(text: str, path: Path) -> None:
    """Write a text file under its name only once it is complete; folders on the way are made.

    Raises
    ------
    OptionError
        If it cannot be written there.
    """
    waiting = None
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with tempfile.NamedTemporaryFile(
            "w", encoding="utf-8", dir=path.parent, prefix=f".{path.name}.", delete=False
        ) as out:
            waiting = Path(out.name)
            out.write(text)
            out.flush()
            os.fsync(out.fileno())
        # A temporary file is for its owner alone; a page is as readable as any file the user makes.
        mask = os.umask(0)
        os.umask(mask)
        waiting.chmod(0o666 & ~mask)
        waiting.replace(path)
    except OSError as error:
        if waiting is not None:
            waiting.unlink(missing_ok=True)
        raise OptionError(f"{path}: the page cannot be written here: {error.strerror or error}") from error
