"""``analyser match``: the beads nearest to given colours."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from analyser.cli.options import bead_kind, common, filtering, stock_option
from analyser.cli.output import show

if TYPE_CHECKING:
    from rich.console import Console


@click.command()
@click.argument("colours", nargs=-1, required=True, metavar="COLOUR...")
@stock_option()
@click.option("--top", type=click.IntRange(1, 100), default=3, show_default=True, help="Beads a colour.")
@filtering
@common
def match(
    colours: tuple[str, ...],
    stock_file: Path,
    skip_faulty: bool,
    top: int,
    size: str | None,
    shape: str | None,
    finish: str | None,
    at_least: int | None,
    json_file: Path | None,
) -> None:
    """Name the beads nearest to each COLOUR (#rrggbb, lab:L,a,b, or a bead of the stock)."""
    from analyser.colourway import matching
    from analyser.report import answers
    from analyser.stock.colour_text import read_colour
    from analyser.stock.list import stock_list

    beads = stock_list.read(stock_file, skip_faulty=skip_faulty)
    given = [read_colour(text, beads) for text in colours]
    found = matching.nearest(
        [colour.lab for colour in given],
        beads,
        top=top,
        **bead_kind(size, shape, finish)._asdict(),
        at_least=at_least,
    )
    options = {
        "stock": str(stock_file),
        "top": top,
        "size": size,
        "shape": shape,
        "finish": finish,
        "at_least": at_least,
    }
    answer = answers.match_answer(found, beads, options)

    def readable(console: Console) -> None:
        from analyser.cli.readable import print_matches, print_remarks

        print_matches(console, answer["matches"])
        print_remarks(console, answer["notes"])

    show(answer, json_file, readable)
