"""``analyser count``: beads, grams and thread for a piece or a class."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

import click

from analyser.cli import piece_request, plan_request
from analyser.cli.kept_request import kept_kits
from analyser.cli.options import asking, common, given, options, options_told
from analyser.cli.output import remark, remark_left_out, show
from analyser.cli.piece_request import ClassRequest
from analyser.cli.plan_request import PlanRequest
from analyser.cli.register import PIECE, PIECE_DEFAULTS, PLAN, STOCK
from analyser.files import write_whole


@dataclass(frozen=True, kw_only=True)
class CountRequest(ClassRequest, PlanRequest):
    """What ``analyser count`` was asked for."""

    pack: float
    order_file: Path | None
    cards_file: Path | None
    out_dir: Path | None
    stock_file: Path | None
    skip_faulty: bool


@click.command()
@options(
    *PIECE, *PLAN, "kits", "colourway", "kept", "pack", "order", "cards", "out", *STOCK, **PIECE_DEFAULTS
)
@common
@asking(CountRequest)
def count(asked: CountRequest) -> None:
    """Count beads, grams and thread for a piece or a class, and whether the stock holds them."""
    from analyser.cli.lists import read_list
    from analyser.motif import parsing
    from analyser.phrases import reckoning
    from analyser.piece import counting
    from analyser.piece import kits as classes
    from analyser.report import counts

    plan_request.check(asked, asked.colourways)
    asked.check_kept()
    motif = parsing.load(asked.motif)
    stock = read_list(asked.stock_file, skip_faulty=asked.skip_faulty) if asked.stock_file else None
    remark_left_out(stock)
    spare = counting.SPARE_KIT if asked.spare is None and asked.of_a_class else asked.spare
    ways = [] if asked.kept_names else piece_request.ways(asked, stock, motif)
    planned = None
    if asked.kept_names:
        made = kept_kits(asked.kept_names, stock, asked.spare)
    elif len(ways) == 1:
        one, planned = plan_request.count_planned(asked, motif, ways, stock, spare)
        made = [one]
    else:
        made = piece_request.counted(asked, motif, ways, spare)
    packed = made if planned is None else [planned.kits]
    ends = {} if stock is None else classes.owned_end_beads(packed, stock.beads)
    plan = classes.plan(packed, pack_grams=asked.pack, owned_ends=ends)
    if asked.order_file is not None:
        from analyser.report.order_files import write_order

        write_order(asked.order_file, plan.shopping)
        remark(f"the shopping list lies in {asked.order_file}")
    if asked.cards_file is not None:
        from analyser.report.cards_page import cards_page

        write_whole(asked.cards_file, cards_page(packed, plan))
        remark(f"the cards lie in {asked.cards_file}")
    typed = given() | ({"end_bead"} if "end" in made[0].stock else set())
    notes = (*reckoning.how_of_all(made, typed), *reckoning.end_beads_owned(ends))
    answer = counts.count_answer(made, plan, options_told(), notes)
    if planned is not None:
        from analyser.report.plan_answers import planned_fields

        answer |= {
            "enough": planned.planned.enough,
            "planned": planned_fields(planned.planned),
            "report": plan_request.write_chart(planned, asked.out_dir),
        }

    def readable(console: Any) -> None:
        from analyser.cli.count_readable import print_count

        print_count(console, packed, plan, notes)

    show(answer, asked.json_file, readable)
