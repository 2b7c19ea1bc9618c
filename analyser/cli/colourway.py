"""``analyser colourway``: the main job, from a photo and a stock to pairs and a page."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import click

from analyser.cli.options import (
    FILE,
    SHARE,
    bead_kind,
    common,
    framing,
    motif_options,
    reading_photo,
    stock_option,
)
from analyser.cli.output import remark, show, working
from analyser.errors import OptionError

if TYPE_CHECKING:
    from rich.console import Console

    from analyser.photo.box import Box
    from analyser.photo.calibration import Card
    from analyser.piece.gauge import Gauge


@click.command()
@click.argument("photo", type=FILE, required=False)
@click.option(
    "--from-rope", type=FILE, metavar="PHOTO", help="Instead of PHOTO: a finished rope to make another of."
)
@stock_option()
@motif_options
@click.option("--length", help="Finished length, such as 18cm or 7in; then the stock is counted too.")
@click.option("--gauge", help="Your own, such as '37 rounds in 5cm'.")
@click.option("--spare", type=SHARE, help="Beads on top, such as 10%.")
@click.option(
    "--colours", type=click.IntRange(2, 24), help="Colours of the palette; by the data if left out."
)
@click.option(
    "--contrast",
    type=click.Choice(["soft", "clear", "bold"]),
    default="clear",
    show_default=True,
    help="How far accent and body should stay apart.",
)
@click.option(
    "--mind-colour-vision", is_flag=True, help="Rank by what colour-deficient sight tells apart, too."
)
@click.option("--shape", help="round or cylinder.  [default: round]")
@click.option("--finish", help="Only beads of this finish.")
@click.option("--top", type=click.IntRange(1, 20), default=5, show_default=True, help="Pairs to propose.")
@click.option(
    "--collection",
    type=click.IntRange(1, 24),
    metavar="N",
    help="N colourways that differ and can be made from the stock together.",
)
@click.option("--worn-on", metavar="COLOUR|BOX", help="The cloth or skin it is worn on.")
@click.option("--thread", metavar="COLOUR", help="The thread's colour.")
@click.option("--out", "out_dir", type=FILE, metavar="DIR", help="Write the page into this folder.")
@framing
@reading_photo
@common
def colourway(
    photo: Path | None,
    from_rope: Path | None,
    stock_file: Path,
    skip_faulty: bool,
    motif: str,
    size: str,
    length: str | None,
    gauge: str | None,
    spare: float | None,
    colours: int | None,
    contrast: str,
    mind_colour_vision: bool,
    shape: str | None,
    finish: str | None,
    top: int,
    collection: int | None,
    worn_on: str | None,
    thread: str | None,
    out_dir: Path | None,
    focus: Box | None,
    mask_file: Path | None,
    calibration: str,
    card: Card | None,
    corrected: Path | None,
    limit_mp: float,
    json_file: Path | None,
) -> None:
    """From PHOTO and your stock to the palette, the beads that come closest, and accent/body pairs."""
    from analyser.cli.corrected import save_if_wanted
    from analyser.colourway import design, photo_palette
    from analyser.colourway import rope_palette as finished
    from analyser.motif import motif as motifs
    from analyser.piece.counting import SIZE
    from analyser.report import pairs
    from analyser.stock.colour_text import read_colour
    from analyser.stock.kinds import kind_of
    from analyser.stock.list import stock_list
    from analyser.stock.units import length_mm

    source = photo or from_rope
    if source is None or (photo and from_rope):
        raise OptionError("give one photo: PHOTO of what to match, or --from-rope PHOTO of a finished rope")
    beads = stock_list.read(stock_file, skip_faulty=skip_faulty)
    kind = bead_kind(size, shape, finish)
    wishes = design.Wishes(
        motif=motifs.load(motif),
        size=kind.size or SIZE,
        shape=kind.shape or "round",
        finish=kind.finish,
        length_mm=length_mm(length) if length else None,
        gauge=_gauge(gauge, motif, str(kind_of(kind.size or SIZE, kind.shape or "round"))),
        spare=spare,
        contrast=contrast,  # type: ignore[arg-type]  # click has checked the word
        top=top,
        mind_colour_vision=mind_colour_vision,
        thread_lab=read_colour(thread, beads).lab if thread else None,
        collection=collection,
    )
    with working("reading the photo"):
        pixels, how = photo_palette.calibrated(source, method=calibration, card=card, limit_mp=limit_mp)
        if from_rope is None:
            palette = photo_palette.palette_of(pixels, how, colours=colours, focus=focus, mask_file=mask_file)
        else:
            palette, roles = finished.rope_palette(pixels, how)
            wishes = replace(wishes, stands_for=roles)
    save_if_wanted(pixels, how, corrected)
    if worn_on is not None:
        wishes = replace(wishes, worn_on_lab=photo_palette.ground_of(pixels, worn_on, beads))
    with working("matching and pairing"):
        result = design.design(palette, beads, wishes)
    options = {
        "from_rope": str(from_rope) if from_rope else None,
        "stock": str(stock_file),
        "motif": motif,
        "size": size,
        "length": length,
        "gauge": gauge,
        "spare": spare,
        "colours": colours,
        "contrast": contrast,
        "top": top,
        "shape": shape,
        "finish": finish,
        "collection": collection,
        "worn_on": worn_on,
        "thread": thread,
        "mind_colour_vision": mind_colour_vision,
        "focus": str(focus) if focus else None,
        "mask": str(mask_file) if mask_file else None,
        "calibration": calibration,
        "card": str(card) if card else None,
    }
    page = None if out_dir is None else out_dir / f"{source.stem}-colourway.html"
    answer = pairs.colourway_answer(result, beads, options, None if page is None else str(page))
    if page is not None:
        from analyser.report.page import write_colourway_page

        with working("drawing the page"):
            write_colourway_page(
                answer,
                pixels,
                wishes.motif,
                page,
                beads=beads.beads,
                worn_on=wishes.worn_on_lab,
                rounds=result.count.rounds if result.count else None,
            )
        remark(f"the page lies in {page}")

    def readable(console: Console) -> None:
        from analyser.cli.readable import print_colourway

        print_colourway(console, answer)

    show(answer, json_file, readable)


def _gauge(text: str | None, motif: str, bead: str) -> Gauge | None:
    """The gauge given, else the one kept in the settings for this motif and kind of bead."""
    from analyser.cli import settings
    from analyser.piece import gauge as gauges

    if text:
        return gauges.Gauge.parse(text)
    file = settings.find()
    held = gauges.kept(file).get(gauges.key_of(motif, bead)) if file else None
    if held:
        remark(f"gauge kept in {file} for {motif} in {bead}: {held}")
    return held
