"""``analyser match``: the beads nearest to given colours."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import click

from analyser.cli.options import Asked, asking, common, options, options_told
from analyser.cli.output import show
from analyser.cli.register import STOCK
from analyser.cli.values import bead_filter

if TYPE_CHECKING:
    from rich.console import Console


@dataclass(frozen=True, kw_only=True)
class MatchRequest(Asked):
    """What ``analyser match`` was asked for."""

    colours: tuple[str, ...]
    stock_file: Path
    skip_faulty: bool
    top: int
    size: str | None
    shape: str | None
    finish: str | None
    at_least: int | None


@click.command()
@click.argument("colours", nargs=-1, required=True, metavar="COLOUR...")
@options(
    *STOCK, "top", "size", "shape", "finish", "at_least",
    stock={"required": True}, top={"default": 3, "help": "Beads for each colour."},
)  # fmt: skip
@common
@asking(MatchRequest)
def match(asked: MatchRequest) -> None:
    """Name the beads nearest to each COLOUR (#rrggbb, lab:L,a,b, or a bead of the stock)."""
    from analyser.cli.lists import read_list
    from analyser.colourway import matching
    from analyser.report import answers
    from analyser.stock.colour_text import read_colour

    beads = read_list(asked.stock_file, skip_faulty=asked.skip_faulty)
    given = [read_colour(text, beads) for text in asked.colours]
    found = matching.nearest(
        [colour.lab for colour in given],
        beads,
        top=asked.top,
        **bead_filter(asked.size, asked.shape, asked.finish)._asdict(),
        at_least=asked.at_least,
    )
    answer = answers.match_answer(found, beads, options_told())

    def readable(console: Console) -> None:
        from analyser.cli.readable import print_matches, print_remarks

        print_remarks(console, answer["notes"])
        print_matches(console, answer["matches"])

    show(answer, asked.json_file, readable)
