"""``analyser contrast``: one pair, judged."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import click

from analyser.cli import plan_request
from analyser.cli.options import Asked, asking, common, options, options_told
from analyser.cli.output import remark, remark_left_out, show
from analyser.cli.piece_request import further_roles
from analyser.cli.plan_request import PlanRequest
from analyser.cli.register import PLAN, STOCK

if TYPE_CHECKING:
    from rich.console import Console


@dataclass(frozen=True, kw_only=True)
class ContrastRequest(Asked, PlanRequest):
    """What ``analyser contrast`` was asked for."""

    accent: str
    body: str
    stock_file: Path | None
    skip_faulty: bool
    motif: str
    size: str
    worn_on: str | None
    thread: str | None
    third: str | None
    other_roles: tuple[str, ...]


@click.command()
@click.argument("accent")
@click.argument("body")
@options(
    *STOCK, "motif", "size", "third", "role", "worn_on", "thread", *PLAN,
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
    motif = parsing.load(asked.motif)
    texts = {"accent": asked.accent, "body": asked.body}
    texts |= further_roles(asked.third, asked.other_roles, motif)
    given = {role: read_colour(text, beads) for role, text in texts.items()}
    one, two = given["accent"], given["body"]
    view = design.seen_motif(design.Wishes(motif, units.size(asked.size)))
    others = {role: colour.lab for role, colour in given.items() if role not in ("accent", "body")}
    measures = measure([one.lab], [two.lab], view).one(0, others)
    reasons = why.of_measures(measures, one.bead, two.bead)
    ground = worn.worn_on(measures, read_colour(asked.worn_on, beads).lab) if asked.worn_on else None
    own = [colour.bead for colour in given.values() if colour.bead]
    thread = asked.thread
    shows = companions.thread_on(read_colour(thread, beads).lab, two.lab, own) if thread else None
    for bead in own:
        if bead.size != units.size(asked.size):
            remark(f"{bead.name} is {bead.size or 'of no stated size'}: judged as {asked.size}")
    plan = plan_request.plan_of(asked)
    unnamed = [role for role in motif.roles if role not in given and (plan is None or role not in plan.roles)]
    answer = pair_answers.contrast_answer(measures, given, unnamed, reasons, options_told(), ground, shows)
    for note in answer["notes"]:
        remark(note)
    if plan is not None:
        from analyser.colourway import plan_design
        from analyser.report.plan_answers import names_of, seen_fields

        piece = plan_design.piece_of(plan, view, units.size(asked.size), given, beads)
        usual = {role: colour.bead.name if colour.bead else colour.text for role, colour in given.items()}
        answer["planned"] = seen_fields(plan_design.seen_of(piece, view), names_of(piece) | usual)

    def readable(console: Console) -> None:
        from analyser.cli.readable import print_contrast, print_seen

        print_contrast(console, answer)
        if plan is not None:
            print_seen(console, answer["planned"])

    show(answer, asked.json_file, readable)
