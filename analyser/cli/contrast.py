"""``analyser contrast``: one pair, judged."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import click

from analyser.cli.options import Asked, asking, common, options, options_told
from analyser.cli.output import remark, remark_left_out, show
from analyser.cli.register import STOCK

if TYPE_CHECKING:
    from rich.console import Console


@dataclass(frozen=True, kw_only=True)
class ContrastRequest(Asked):
    """What ``analyser contrast`` was asked for."""

    accent: str
    body: str
    stock_file: Path | None
    skip_faulty: bool
    motif: str
    size: str
    worn_on: str | None
    thread: str | None


@click.command()
@click.argument("accent")
@click.argument("body")
@options(
    *STOCK, "motif", "size", "worn_on", "thread",
    motif={"default": "chenille", "show_default": True},
    size={"default": "11/0", "show_default": True},
    worn_on={"metavar": "COLOUR"},
)  # fmt: skip
@common
@asking(ContrastRequest)
def contrast(asked: ContrastRequest) -> None:
    """Judge ACCENT on BODY, each #rrggbb, lab:L,a,b or a bead of --stock: how far it reads, and for whom."""
    from analyser.cli.lists import read_list
    from analyser.colourway import companions, design
    from analyser.colourway import reasons as why
    from analyser.colourway import worn_on as worn
    from analyser.colourway.measures import measure
    from analyser.motif import parsing
    from analyser.report import pair_answers
    from analyser.stock import units
    from analyser.stock.colour_text import read_colour

    stock_file = asked.stock_file
    beads = read_list(stock_file, skip_faulty=asked.skip_faulty) if stock_file else None
    remark_left_out(beads)
    one, two = read_colour(asked.accent, beads), read_colour(asked.body, beads)
    view = design.seen_motif(design.Wishes(parsing.load(asked.motif), units.size(asked.size)))
    measures = measure([one.lab], [two.lab], view).one(0)
    reasons = why.of_measures(measures, one.bead, two.bead)
    ground = worn.worn_on(measures, read_colour(asked.worn_on, beads).lab) if asked.worn_on else None
    own = [given.bead for given in (one, two) if given.bead]
    thread = asked.thread
    shows = companions.thread_on(read_colour(thread, beads).lab, two.lab, own) if thread else None
    for given in (one, two):
        if given.bead and given.bead.size != units.size(asked.size):
            remark(f"{given.bead.name} is {given.bead.size or 'of no stated size'}: judged as {asked.size}")
    answer = pair_answers.contrast_answer(
        measures, one.bead, two.bead, reasons, options_told(), ground, shows
    )

    def readable(console: Console) -> None:
        from analyser.cli.readable import print_contrast

        print_contrast(console, answer)

    show(answer, asked.json_file, readable)
