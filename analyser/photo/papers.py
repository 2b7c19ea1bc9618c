"""The papers a maker has learnt: what the white of each reflects, kept in the user's configuration.

The file ``papers.toml`` beside the user's ``analyser.toml``, one table a paper::

    [fern]
    white_linear = [0.843, 0.858, 0.897]
    printed = 0.973
    learnt = "2026-03-01"
    photo = "fern-with-card.jpg"

This is the one place that reads and writes it.
"""

from __future__ import annotations

import datetime
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

import click

from analyser.errors import CalibrationError
from analyser.files import write_whole
from analyser.photo.sheet_layout import NAMES

_LEAST, _MOST = (
    0.3,
    1.2,
)  # linear reflectance in a channel; brightened papers throw back more blue than falls in
_SMALLEST_PRINT, _LARGEST_PRINT = 0.8, 1.25  # "fit to page" stays well within


@dataclass(frozen=True, slots=True)
class LearntPaper:
    """One paper's white.

    Attributes
    ----------
    white_linear : tuple of 3 float
        Linear sRGB that the bare paper reflects, 1.0 a perfect white.
    learnt : str
        The day, as YYYY-MM-DD.
    photo : str
        Name of the photo it was learnt from.
    printed : float
        How long a printed millimetre is, in millimetres: printers may scale a page to fit.
    """

    white_linear: tuple[float, float, float]
    learnt: str
    photo: str
    printed: float = 1.0


def file() -> Path:
    """Where learnt papers are kept."""
    return Path(click.get_app_dir("analyser")) / "papers.toml"


def stamp() -> tuple[int, int] | None:
    """Tells one state of the learnt papers from another; None while none is learnt."""
    try:
        about = file().stat()
    except OSError:
        return None
    return about.st_mtime_ns, about.st_size


def known(path: Path | None = None) -> dict[str, LearntPaper]:
    """All learnt papers by their names; none where there is no such file.

    Raises
    ------
    CalibrationError
        If the file cannot be read or holds something else.
    """
    path = path or file()
    try:
        given = tomllib.loads(path.read_text(encoding="utf-8"))
    except FileNotFoundError:
        return {}
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise CalibrationError(f"{path}: cannot be read ({error}); mend it or take it away") from error
    return {name: _paper(path, name, table) for name, table in given.items()}


def _paper(path: Path, name: str, table: object) -> LearntPaper:
    says = f"{path}: [{name}] must hold white_linear, three numbers from {_LEAST} to {_MOST}"
    white = table.get("white_linear") if isinstance(table, Mapping) else None
    if not isinstance(table, Mapping) or not isinstance(white, list) or len(white) != 3:
        raise CalibrationError(says)
    if not all(isinstance(v, (int, float)) and _LEAST <= v <= _MOST for v in white):
        raise CalibrationError(says)
    red, green, blue = (float(v) for v in white)
    printed = table.get("printed", 1.0)
    if not isinstance(printed, (int, float)) or not _SMALLEST_PRINT <= printed <= _LARGEST_PRINT:
        raise CalibrationError(
            f"{path}: [{name}] printed must be a number from {_SMALLEST_PRINT} to {_LARGEST_PRINT}"
        )
    learnt, photo = str(table.get("learnt", "")), str(table.get("photo", ""))
    return LearntPaper((red, green, blue), learnt, photo, float(printed))


def learn(
    name: str,
    white_linear: tuple[float, float, float],
    photo: str,
    path: Path | None = None,
    *,
    printed: float = 1.0,
) -> Path:
    """Remember a paper's white and the size it is printed at; one of that name is replaced, the others stay.

    Returns
    -------
    Path
        The file, written whole or not at all.

    Raises
    ------
    CalibrationError
        If the white is none, or the file cannot be read or written.
    """
    import tomlkit

    path = path or file()
    if name not in NAMES or not all(_LEAST <= value <= _MOST for value in white_linear):
        shown = ", ".join(f"{value:.2f}" for value in white_linear)
        raise CalibrationError(
            f"paper {name!r}: {shown} is no paper's white; is the card in the frame white?"
        )
    if not _SMALLEST_PRINT <= printed <= _LARGEST_PRINT:
        raise CalibrationError(
            f"paper {name!r}: its scale of 15 cm cannot measure {15 * printed:.1f} cm; from "
            f"{15 * _SMALLEST_PRINT:g} to {15 * _LARGEST_PRINT:g} cm are possible"
        )
    paper = LearntPaper(white_linear, datetime.date.today().isoformat(), photo, printed)
    kept = tomlkit.document()
    kept.add(tomlkit.comment("What analyser has learnt of your papers, by: analyser sheet --learn PHOTO"))
    for other, held in sorted({**known(path), name: paper}.items()):
        table = tomlkit.table()
        table.update({"white_linear": list(held.white_linear), "printed": held.printed})
        table.update({"learnt": held.learnt, "photo": held.photo})
        kept.add(other, table)
    write_whole(path, tomlkit.dumps(kept), make_folders=True, error=CalibrationError)
    return path
