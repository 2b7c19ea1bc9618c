"""``analyser sheet``: a page to print and photograph on, and the white of the paper it is printed on."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import click

from analyser.cli.options import Asked, asking, common, given, options, options_told
from analyser.cli.output import show, working
from analyser.errors import OptionError
from analyser.files import write_whole

if TYPE_CHECKING:
    from rich.console import Console

    from analyser.photo.sheet_layout import Kind, Paper
    from analyser.report.answers import Answer


@dataclass(frozen=True, kw_only=True)
class SheetRequest(Asked):
    """What ``analyser sheet`` was asked for."""

    layout: Kind
    paper: Paper
    name: str | None
    out_file: Path | None
    learn: Path | None
    scale_is: str | None
    limit_mp: float


@click.command()
@options("layout", "paper", "paper_name", "sheet_file", "learn", "scale_is", "limit_mp")
@common
@asking(SheetRequest)
def sheet(asked: SheetRequest) -> None:
    """Write a page to print and photograph on; with --learn, remember the white of its paper.

    A photo taken on the sheet is squared up by its marks and knows its millimetres, its ground and the place
    of its cards. Print it at actual size (100 %) on plain white paper.
    """
    from analyser.photo.sheet_layout import NAMES

    if asked.name is not None and asked.name not in NAMES:
        raise OptionError(f"--name is one of {', '.join(NAMES)}; got {asked.name!r}")
    if asked.scale_is is not None and asked.learn is None:
        raise OptionError("--scale-is goes with --learn PHOTO: it is remembered with the paper")
    answer = _written(asked, asked.name or NAMES[0]) if asked.learn is None else _learnt(asked, asked.learn)

    def readable(console: Console) -> None:
        from analyser.cli.sheet_readable import print_sheet

        print_sheet(console, answer)

    show(answer, asked.json_file, readable)


def _written(asked: SheetRequest, name: str) -> Answer:
    from analyser.drawing import sheet as drawing
    from analyser.photo.sheet_layout import layout
    from analyser.report import sheets

    path = asked.out_file or Path(f"photo-sheet-{asked.layout}.pdf")
    make = {".pdf": drawing.pdf, ".png": drawing.png}.get(path.suffix.lower())
    if make is None:
        raise OptionError(f"{path}: the sheet is a .pdf or a .png; name one of these")
    drawn = layout(asked.layout, asked.paper, name)
    write_whole(path, make(drawn))
    return sheets.written_answer(drawn, path, options_told())


def _learnt(asked: SheetRequest, photo: Path) -> Answer:
    from analyser.photo import learning
    from analyser.report import sheets
    from analyser.stock import units

    idle = given() & {"layout", "paper", "out_file"}
    if idle:
        raise OptionError("--learn reads a photo: leave out --layout, --paper and --out")
    scale_mm = None if asked.scale_is is None else units.length_mm(asked.scale_is)
    with working(f"looking at {photo.name}"):
        learnt = learning.learn_from(photo, name=asked.name, scale_mm=scale_mm, limit_mp=asked.limit_mp)
    return sheets.learnt_answer(learnt.name, learnt.white_linear, learnt.printed, learnt.file, options_told())
