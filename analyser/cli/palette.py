"""``analyser palette``: the reduced palette of a photo."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from analyser.cli.options import common, framing, reading_photo
from analyser.cli.output import show, working

if TYPE_CHECKING:
    from rich.console import Console

    from analyser.photo.box import Box
    from analyser.photo.calibration import Card


@click.command()
@click.argument("photo", type=click.Path(path_type=Path))
@click.option("--colours", type=click.IntRange(2, 24), help="How many; by the data if left out.")
@framing
@reading_photo
@common
def palette(
    photo: Path,
    colours: int | None,
    focus: Box | None,
    mask_file: Path | None,
    calibration: str,
    card: Card | None,
    corrected: Path | None,
    limit_mp: float,
    json_file: Path | None,
) -> None:
    """Reduce PHOTO to a few colours, each with its share, its name and how sure it is."""
    from analyser.cli.corrected import save_if_wanted
    from analyser.colourway import photo_palette
    from analyser.report import answers

    with working("reading the photo"):
        pixels, how = photo_palette.calibrated(
            photo,
            method=calibration,
            card=card,
            limit_mp=limit_mp,
            small_will_do=focus is None and corrected is None,
        )
        result = photo_palette.palette_of(pixels, how, colours=colours, focus=focus, mask_file=mask_file)
    save_if_wanted(pixels, how, corrected)
    options = {
        "colours": colours,
        "focus": str(focus) if focus else None,
        "mask": str(mask_file) if mask_file else None,
        "calibration": calibration,
        "card": str(card) if card else None,
    }
    answer = answers.palette_answer(result, options)

    def readable(console: Console) -> None:
        from analyser.cli.readable import print_palette

        print_palette(console, answer)

    show(answer, json_file, readable)
