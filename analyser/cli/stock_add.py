"""``analyser stock add``: piles of beads in a tray photo become colours, and rows of the list."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import click

from analyser.cli.options import AskedOfPhoto, asking, common, options, options_told
from analyser.cli.output import remark, show, show_done, working
from analyser.cli.register import PHOTO
from analyser.cli.values import FILE
from analyser.errors import OptionError

if TYPE_CHECKING:
    from rich.console import Console

    from analyser.stock.stock import Stock
    from analyser.tray.measuring import Tray
    from analyser.tray.naming import PileName


@dataclass(frozen=True, kw_only=True)
class AddRequest(AskedOfPhoto):
    """What ``analyser stock add`` was asked for."""

    photo: Path
    into: Path | None
    names_file: Path | None
    size: str | None
    replace_colour: bool
    out_dir: Path | None


@click.command()
@click.argument("photo", type=FILE)
@options(
    "into", "names", "size", "replace_colour", "out", *PHOTO,
    out={"help": "Folder for the numbered picture PHOTO-piles.png.", "show_default": "beside the photo"},
)  # fmt: skip
@common
@asking(AddRequest)
def add(asked: AddRequest) -> None:
    """Measure the piles of beads in PHOTO and, with --into, add them to a stock list.

    Piles are numbered as one reads, rows from the top, each from the left; a picture with the numbers is
    written beside the photo, to label the tubes by. Lay the beads in small heaps on something plain, put a
    white and a grey card beside them, and let the light be even.
    """
    from analyser.cli.corrected import save_if_wanted
    from analyser.photo import calibration as calibrating
    from analyser.photo import reading
    from analyser.report import trays
    from analyser.stock import units
    from analyser.stock.list import stock_list as stocks
    from analyser.stock.list import writing
    from analyser.stock.words import UnclearError
    from analyser.tray import measuring, naming

    into, photo = asked.into, asked.photo
    if into is None and (asked.names_file or asked.replace_colour or asked.size):
        raise OptionError("--names, --size and --replace-colour are for the stock list: add --into FILE")
    try:
        size_word = units.size(asked.size) if asked.size else None
    except UnclearError as error:
        raise OptionError(f"--size {asked.size!r}: expected 11/0, 11 or 4mm") from error
    # a list that cannot be read is told before anything is measured or asked
    held = stocks.read(into, skip_faulty=True) if into is not None and into.exists() else None
    with working("reading the photo"):
        pixels = reading.read(photo, about_pixels=measuring.READ_PIXELS, limit_mp=asked.limit_mp)
        calibration = calibrating.calibrate(
            pixels, asked.calibration, asked.card, no_card=asked.no_card, even_light=asked.even_light
        )
        tray = measuring.measure(pixels, calibration)
    names: Sequence[PileName | None] = ()
    if asked.names_file is not None:
        names = naming.read_names(asked.names_file, tray.numbers, by_place=tray.on_places)
    picture = _draw(tray, names, photo, asked.out_dir)
    if into is not None and asked.names_file is None:
        names = _ask(tray, held, picture, asked.replace_colour)
        picture = _draw(tray, names, photo, asked.out_dir)
    written = None
    if into is not None:
        beads = naming.as_beads(tray, names, size_word)
        written = writing.append(into, beads, replace_colours=asked.replace_colour)
    save_if_wanted(tray.photo, tray.calibration, asked.corrected)
    answer = trays.stock_add_answer(tray, options_told(), picture, written)

    def readable(console: Console) -> None:
        from analyser.cli.tray_readable import print_tray

        print_tray(console, answer)

    (show if written is None else show_done)(answer, asked.json_file, readable)


def _draw(tray: Tray, names: Sequence[PileName | None], photo: Path, out: Path | None) -> Path | None:
    """Write the numbered picture; beside the photo it may fail (a card, a borrowed folder), and is told."""
    from analyser.drawing.numbered import numbered_picture
    from analyser.files import write_whole
    from analyser.imaging.encoding import png_bytes

    path = (out or photo.parent) / f"{photo.stem}-piles.png"
    labels = ["" if name is None else name.name for name in names]
    data = png_bytes(numbered_picture(tray, labels))
    try:
        write_whole(path, data, make_folders=out is not None)
    except OptionError as error:
        if out is not None:
            raise
        remark(f"the numbered picture: {error}, with --out")
        return None
    return path


def _ask(
    tray: Tray, held: Stock | None, picture: Path | None, replace_colour: bool
) -> Sequence[PileName | None]:
    """Ask for each pile's id and name on the terminal."""
    import numpy as np

    from analyser.colour.gamut import lab_to_hex
    from analyser.colour.names import everyday_name
    from analyser.tray.naming import SKIP, PileName, suggested_id

    if not sys.stdin.isatty():
        raise OptionError(
            f"{len(tray.piles)} piles need ids: give --names FILE with a line for each (id or id;name), "
            "or run it on a terminal to be asked"
        )
    if picture is not None:
        remark(f"the numbers are in {picture}")
    taken = [bead.id for bead in held.beads] if held is not None else []
    names: list[PileName | None] = []
    for pile in tray.piles:
        colour = everyday_name(np.asarray(pile.lab))
        says = (
            f"pile {pile.number}, {colour} {lab_to_hex(np.asarray(pile.lab))[0]}: id ({SKIP} leaves it out)"
        )
        while True:
            word = click.prompt(says, default=suggested_id(colour, taken), err=True)
            if replace_colour or word == SKIP or word.casefold() not in {text.casefold() for text in taken}:
                break
            click.echo(f"{word!r} is taken; choose another, or use --replace-colour", err=True)
        if word == SKIP:
            names.append(None)
            continue
        taken.append(word)
        name = click.prompt("  name", default=word.replace("-", " ").capitalize(), err=True)
        names.append(PileName(" ".join(word.split()), " ".join(name.split())))
    return names
