"""``analyser contrast``: one pair, judged."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from analyser.cli.options import common, motif_options, stock_option
from analyser.cli.talking import show

if TYPE_CHECKING:
    from rich.console import Console


@click.command()
@click.argument("accent")
@click.argument("body")
@stock_option(required=False)
@motif_options
@common
def contrast(
    accent: str,
    body: str,
    stock_file: Path | None,
    skip_faulty: bool,
    motif: str,
    size: str,
    json_file: Path | None,
) -> None:
    """Judge ACCENT on BODY, each #rrggbb, lab:L,a,b or a bead of --stock: how far it reads, and for whom."""
    from analyser.beads import motif as motifs
    from analyser.beads import stock, units
    from analyser.beads.colour_text import read_colour
    from analyser.colourway import designing, wording
    from analyser.colourway.measures import measure
    from analyser.report import pairs

    beads = stock.read(stock_file, skip_faulty=skip_faulty) if stock_file else None
    one, two = read_colour(accent, beads), read_colour(body, beads)
    view = designing.seen_motif(designing.Wishes(motifs.load(motif), units.size(size)))
    measures = measure([one.lab], [two.lab], view).one(0)
    reasons = wording.of_measures(measures, one.bead, two.bead)
    options = {"stock": str(stock_file) if stock_file else None, "motif": motif, "size": size}
    answer = pairs.contrast_answer(measures, one.bead, two.bead, reasons, options)

    def readable(console: Console) -> None:
        from analyser.cli.readable import print_contrast

        print_contrast(console, answer)

    show(answer, json_file, readable)
