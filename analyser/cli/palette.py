"""``analyser palette``: the reduced palette of a photo."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from analyser.cli.options import AskedOfPhoto, asking, common, options, options_told
from analyser.cli.output import show, working
from analyser.cli.register import FRAMING, PHOTO, STOCK
from analyser.cli.values import FILE

if TYPE_CHECKING:
    from rich.console import Console

    from analyser.arrays import Lab
    from analyser.photo.box import Box
    from analyser.stock.stock import Stock


@dataclass(frozen=True, kw_only=True)
class PaletteRequest(AskedOfPhoto):
    """What ``analyser palette`` was asked for."""

    photo: Path
    colours: int | None
    focus: Box | None
    mask_file: Path | None
    spots: tuple[tuple[float, float], ...]
    stock_file: Path | None
    skip_faulty: bool


@click.command()
@click.argument("photo", type=FILE)
@options("colours", *FRAMING, "spot", *STOCK, *PHOTO)
@common
@asking(PaletteRequest)
def palette(asked: PaletteRequest) -> None:
    """Reduce PHOTO to a few colours, each with its share, its name and how sure it is."""
    from analyser.cli.corrected import save_if_wanted
    from analyser.cli.lists import read_list
    from analyser.colourway import photo_palette
    from analyser.report import answers

    held = (
        read_list(asked.stock_file, skip_faulty=asked.skip_faulty)
        if asked.spots and asked.stock_file
        else None
    )
    with working("reading the photo"):
        pixels, how = photo_palette.calibrated(
            asked.photo,
            method=asked.calibration,
            card=asked.card,
            no_card=asked.no_card,
            even_light=asked.even_light,
            limit_mp=asked.limit_mp,
            small_will_do=asked.focus is None and asked.corrected is None and not asked.spots,
        )
        result = photo_palette.palette_of(
            pixels, how, colours=asked.colours, focus=asked.focus, mask_file=asked.mask_file
        )
    save_if_wanted(pixels, how, asked.corrected)
    answer = answers.palette_answer(result, options_told())
    answer["spots"] = [_spot(*photo_palette.touched(pixels, how, x, y), (x, y), held) for x, y in asked.spots]

    def readable(console: Console) -> None:
        from analyser.cli.readable import print_matches, print_palette
        from analyser.phrases.figures import difference

        print_palette(console, answer)
        for spot in answer["spots"]:
            console.print(
                f"at {spot['pixel'][0]:g}, {spot['pixel'][1]:g} (±{difference(spot['uncertainty_de00'])}):"
            )
            print_matches(console, [spot])

    show(answer, asked.json_file, readable)


def _spot(lab: Lab, sure: float, pixel: tuple[float, float], held: Stock | None) -> dict[str, Any]:
    """A touched colour, and the beads nearest to it."""
    from analyser.colour.names import everyday_name
    from analyser.colourway import matching
    from analyser.report import answers

    told: dict[str, Any] = {
        "colour": {**answers.colour_fields(lab), "name": everyday_name(lab)},
        "beads": [],
        "says": "",
        "shop_for": None,
    }
    if held is not None:
        (told,) = answers.matches_fields(matching.nearest([lab], held, uncertainty_de00=sure))
    return {**told, "pixel": list(pixel), "uncertainty_de00": sure}
