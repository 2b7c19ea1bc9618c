"""``analyser stock add``: piles of beads in a tray photo become colours, and rows of the list."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import click

from analyser.cli import naming_piles
from analyser.cli.options import AskedOfPhoto, asking, common, options, options_told
from analyser.cli.output import remark, show, show_done, working
from analyser.cli.register import PHOTO
from analyser.cli.values import FILE
from analyser.errors import OptionError

if TYPE_CHECKING:
    from rich.console import Console

    from analyser.stock.list.adding import Written
    from analyser.stock.stock import Stock
    from analyser.tray.measuring import Tray


@dataclass(frozen=True, kw_only=True)
class AddRequest(AskedOfPhoto):
    """What ``analyser stock add`` was asked for."""

    photo: Path
    into: Path | None
    names_file: Path | None
    fill: bool
    size: str | None
    replace_colour: bool
    another_lot: bool
    out_dir: Path | None


@click.command()
@click.argument("photo", type=FILE)
@options(
    "into", "names", "fill", "size", "replace_colour", "another_lot", "out", *PHOTO,
    out={
        "help": "Folder for the numbered picture PHOTO-piles.png.",
        "show_default": "beside the list; none without --into",
    },
)  # fmt: skip
@common
@asking(AddRequest)
def add(asked: AddRequest) -> None:
    """Measure the piles of beads in PHOTO and, with --into, add them to a stock list.

    Piles are numbered as one reads, rows from the top, each from the left; a picture with the numbers is
    written beside the list (or with --out), to label the tubes by. With --fill the piles are beads of the
    list already. Lay the beads in small heaps on something plain, put a white and a grey card beside them,
    and let the light be even.
    """
    from analyser.cli.corrected import save_if_wanted
    from analyser.cli.lists import read_list
    from analyser.photo import calibration as calibrating
    from analyser.photo import reading
    from analyser.report import trays
    from analyser.tray import measuring

    into, photo = asked.into, asked.photo
    size_word = _checked(asked)
    # a list that cannot be read is told before anything is measured or asked
    held = read_list(into) if into is not None and into.exists() else None
    with working("reading the photo"):
        pixels = reading.read(photo, about_pixels=measuring.READ_PIXELS, limit_mp=asked.limit_mp)
        calibration = calibrating.calibrate(
            pixels,
            asked.calibration,
            asked.card,
            no_card=asked.no_card,
            even_light=asked.even_light,
            on_table=True,
        )
        tray = measuring.measure(pixels, calibration)
    where = asked.out_dir or (into.resolve().parent if into is not None else None)
    picture = None if where is None else where / f"{photo.stem}-piles.png"
    written = None
    if into is None:
        _draw(tray, (), picture, asked.out_dir)
    elif asked.fill and held is not None:
        written = _fill(tray, held, asked, picture)
    else:
        written = _add(tray, held, asked, picture, size_word)
    save_if_wanted(tray.photo, tray.calibration, asked.corrected)
    answer = trays.stock_add_answer(tray, options_told(), picture, written)

    def readable(console: Console) -> None:
        from analyser.cli.tray_readable import print_tray

        print_tray(console, answer)

    (show if written is None else show_done)(answer, asked.json_file, readable)


def _checked(asked: AddRequest) -> str | None:
    """The size asked for; what does not go together is refused."""
    from analyser.stock import units
    from analyser.stock.words import UnclearError

    if asked.into is None and (
        asked.names_file or asked.replace_colour or asked.size or asked.fill or asked.another_lot
    ):
        raise OptionError(
            "--names, --fill, --size, --replace-colour and --another-lot are for the stock list: "
            "add --into FILE"
        )
    if asked.fill and (asked.size or asked.another_lot):
        raise OptionError("--fill changes neither size nor lot: leave --size and --another-lot out")
    if asked.fill and asked.into is not None and not asked.into.exists():
        raise OptionError(f"{asked.into}: there is no such list yet, and no row to fill; leave --fill out")
    try:
        return units.size(asked.size) if asked.size else None
    except UnclearError as error:
        raise OptionError(f"--size {asked.size!r}: expected 11/0, 11 or 4mm") from error


def _add(
    tray: Tray, held: Stock | None, asked: AddRequest, picture: Path | None, size: str | None
) -> Written:
    """The named piles as rows of the list."""
    from analyser.stock.list import adding
    from analyser.tray import naming

    assert asked.into is not None
    if asked.names_file is not None:
        names = list(naming.read_names(asked.names_file, tray.numbers, by_place=tray.on_places))
    else:
        _draw(tray, (), picture, asked.out_dir)
        names = naming_piles.ask_names(tray, held, picture)
    _draw(tray, ["" if name is None else name.name for name in names], picture, asked.out_dir)
    beads = naming.as_beads(tray, names, size)
    _say_columns(asked.into, held)
    replace, further = asked.replace_colour, asked.another_lot
    try:
        written = adding.append(asked.into, beads, replace_colours=replace, further=further)
    except adding.FurtherLotError as error:
        if not naming_piles.confirms(f"{error}. A row of its own for it, and for others like it?"):
            raise OptionError(f"{error}: --fill fills its colour, --another-lot adds a row") from error
        written = adding.append(asked.into, beads, replace_colours=replace, further=True)
    return written


def _fill(tray: Tray, held: Stock, asked: AddRequest, picture: Path | None) -> Written:
    """The piles' colours for rows that are there."""
    from analyser.stock.list import adding
    from analyser.tray import filling, naming

    replace = [asked.replace_colour] * len(tray.piles)
    if asked.names_file is not None:
        names = naming.read_names(asked.names_file, tray.numbers, by_place=tray.on_places)
        rows = [None if name is None else filling.row_named(held, name) for name in names]
    else:
        _draw(tray, (), picture, asked.out_dir)
        rows, replace = naming_piles.ask_rows(tray, held, picture, asked.replace_colour)
    _say_columns(held.path, held)
    _draw(tray, ["" if row is None else row.name for row in rows], picture, asked.out_dir)
    return adding.append(held.path, (), fills=filling.as_fills(tray, rows, replace))


def _say_columns(into: Path, held: Stock | None) -> None:
    """Say before it is done which columns the list is given."""
    from analyser.phrases import stock_lists as phrases
    from analyser.stock.list import adding

    if held is not None and (headings := adding.columns_to_add(into)):
        remark(phrases.columns_added(headings))


def _draw(tray: Tray, labels: Sequence[str], picture: Path | None, out: Path | None) -> None:
    """Write the numbered picture, where one is to be."""
    from analyser.drawing.numbered import numbered_picture
    from analyser.files import write_whole
    from analyser.imaging.encoding import png_bytes
    from analyser.phrases import photos

    if picture is not None:
        drawn = numbered_picture(
            tray, labels, photos.doubt(tray.calibration, [pile.uncertainty_de00 for pile in tray.piles])
        )
        write_whole(picture, png_bytes(drawn), make_folders=out is not None)
