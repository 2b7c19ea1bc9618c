"""What a worker does with kept colourways: counts them again, and draws the sheet of them."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

from analyser.errors import OptionError
from analyser.piece import kept, kept_pieces
from analyser.piece.kits import KitColourway
from analyser.stock import units
from analyser.web import piece_jobs

Tell = Callable[..., None]


def _counted(stock_file: str, path: str, lengths: dict[str, str | None], spare: float | None) -> KitColourway:
    given = {name: text for name, text in lengths.items() if text}
    if len(given) > 1:
        raise OptionError("say one length: finished, or the wrist, or the neck it is for")
    millimetres = {
        "length_mm" if name == "length" else "body_mm": units.length_mm(text) for name, text in given.items()
    }
    held = piece_jobs.stock(stock_file)
    return kept_pieces.counted(
        kept.read(Path(path)),
        held,
        length_mm=millimetres.get("length_mm"),
        body_mm=millimetres.get("body_mm"),
        spare=spare,
    )


def kept_count(
    tell: Tell, stock_file: str, path: str, lengths: dict[str, str | None], spare: float | None = None
) -> dict[str, Any]:
    """Job of ``analyser kept again``: a kept colourway counted in another length."""
    made = _counted(stock_file, path, lengths, spare)
    return piece_jobs.count_answer(made)


def kept_again(
    tell: Tell,
    stock_file: str,
    path: str,
    lengths: dict[str, str | None],
    name: str,
    spare: float | None = None,
) -> str:
    """Job of ``analyser kept again --keep``: it is kept in that length, under another name; its file."""
    made = _counted(stock_file, path, lengths, spare)
    fresh = kept_pieces.in_length(kept.read(Path(path)), made, name)
    return str(kept.keep(Path(path).parent, fresh, kept.picture_of(Path(path))))


def kept_sheet(tell: Tell, paths: list[str]) -> str:
    """The page of one or several kept colourways."""
    from analyser.report.kept_sheet import kept_page, shown_of

    return kept_page([shown_of(Path(path), kept.read(Path(path))) for path in paths])


JOBS = {function.__name__: function for function in (kept_again, kept_count, kept_sheet)}
