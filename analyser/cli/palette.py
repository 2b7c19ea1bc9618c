"""``analyser palette``: the reduced palette of a photo."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import click

from analyser.cli.options import AskedOfPhoto, asking, common, options, options_told
from analyser.cli.output import show, working
from analyser.cli.register import FRAMING, PHOTO
from analyser.cli.values import FILE

if TYPE_CHECKING:
    from rich.console import Console

    from analyser.photo.box import Box


@dataclass(frozen=True, kw_only=True)
class PaletteRequest(AskedOfPhoto):
    """What ``analyser palette`` was asked for."""

    photo: Path
    colours: int | None
    focus: Box | None
    mask_file: Path | None


@click.command()
@click.argument("photo", type=FILE)
@options("colours", *FRAMING, *PHOTO)
@common
@asking(PaletteRequest)
def palette(asked: PaletteRequest) -> None:
    """Reduce PHOTO to a few colours, each with its share, its name and how sure it is."""
    from analyser.cli.corrected import save_if_wanted
    from analyser.colourway import photo_palette
    from analyser.report import answers

    with working("reading the photo"):
        pixels, how = photo_palette.calibrated(
            asked.photo,
            method=asked.calibration,
            card=asked.card,
            no_card=asked.no_card,
            even_light=asked.even_light,
            limit_mp=asked.limit_mp,
            small_will_do=asked.focus is None and asked.corrected is None,
        )
        result = photo_palette.palette_of(
            pixels, how, colours=asked.colours, focus=asked.focus, mask_file=asked.mask_file
        )
    save_if_wanted(pixels, how, asked.corrected)
    answer = answers.palette_answer(result, options_told())

    def readable(console: Console) -> None:
        from analyser.cli.readable import print_palette

        print_palette(console, answer)

    show(answer, asked.json_file, readable)
