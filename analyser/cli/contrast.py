"""``analyser contrast``: one pair, judged."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from analyser.cli.options import common, motif_options, stock_option
from analyser.cli.output import remark, remark_left_out, show

if TYPE_CHECKING:
    from rich.console import Console


@click.command()
@click.argument("accent")
@click.argument("body")
@stock_option(required=False)
@motif_options
@click.option("--worn-on", metavar="COLOUR", help="The cloth or skin it is worn on.")
@click.option("--thread", metavar="COLOUR", help="The thread's colour.")
@common
def contrast(
    accent: str,
    body: str,
    stock_file: Path | None,
    skip_faulty: bool,
    motif: str,
    size: str,
    worn_on: str | None,
    thread: str | None,
    json_file: Path | None,
) -> None:
    """Judge ACCENT on BODY, each #rrggbb, lab:L,a,b or a bead of --stock: how far it reads, and for whom."""
    from analyser.colourway import companions, design
    from analyser.colourway import reasons as why
    from analyser.colourway import worn_on as worn
    from analyser.colourway.measures import measure
    from analyser.motif import motif as motifs
    from analyser.report import pairs
    from analyser.stock import units
    from analyser.stock.colour_text import read_colour
    from analyser.stock.list import stock_list

    beads = stock_list.read(stock_file, skip_faulty=skip_faulty) if stock_file else None
    remark_left_out(beads)
    one, two = read_colour(accent, beads), read_colour(body, beads)
    view = design.seen_motif(design.Wishes(motifs.load(motif), units.size(size)))
    measures = measure([one.lab], [two.lab], view).one(0)
    reasons = why.of_measures(measures, one.bead, two.bead)
    ground = worn.worn_on(measures, read_colour(worn_on, beads).lab) if worn_on else None
    own = [given.bead for given in (one, two) if given.bead]
    shows = companions.thread_on(read_colour(thread, beads).lab, two.lab, own) if thread else None
    for given in (one, two):
        if given.bead and given.bead.size != units.size(size):
            remark(f"{given.bead.name} is {given.bead.size or 'of no stated size'}: judged as {size}")
    options = {
        "worn_on": worn_on,
        "thread": thread,
        "stock": str(stock_file) if stock_file else None,
        "motif": motif,
        "size": size,
    }
    answer = pairs.contrast_answer(measures, one.bead, two.bead, reasons, options, ground, shows)

    def readable(console: Console) -> None:
        from analyser.cli.readable import print_contrast

        print_contrast(console, answer)

    show(answer, json_file, readable)
