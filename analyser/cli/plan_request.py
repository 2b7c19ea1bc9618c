"""A plan as the command line says it: a file, or one of the short forms."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from analyser.cli.output import remark
from analyser.errors import OptionError

if TYPE_CHECKING:
    from analyser.arrays import Lab
    from analyser.cli.piece_request import Lots
    from analyser.motif.motif import Motif
    from analyser.motif.plan import Plan
    from analyser.piece.kits import KitColourway
    from analyser.piece.planned_count import PlannedCount
    from analyser.stock.stock import Stock


@dataclass(frozen=True, kw_only=True)
class PlanRequest:
    """Which bead each role takes along the rope (``PLAN`` of the register)."""

    plan_file: Path | None
    fade: str | None
    bands: tuple[int, str] | None


def plan_of(asked: PlanRequest) -> Plan | None:
    """The plan that was asked for; None where none was.

    Raises
    ------
    OptionError
        If more than one is given.
    PlanError
        If it has a fault.
    """
    told = [
        option
        for option, value in (("--plan", asked.plan_file), ("--fade", asked.fade), ("--bands", asked.bands))
        if value
    ]
    if len(told) > 1:
        raise OptionError(f"give one plan; got {' and '.join(told)}")
    from analyser.piece import plan_file

    if asked.plan_file:
        return plan_file.load(asked.plan_file)
    if asked.fade:
        return plan_file.fade(asked.fade)
    return plan_file.bands(*asked.bands) if asked.bands else None


def check(asked: PlanRequest, colourways: Sequence[str]) -> None:
    """Refuse a faulty plan, and a plan for several colourways, before anything else is done.

    Raises
    ------
    OptionError, PlanError
        As ``plan_of``; also if there are colourways beside the plan.
    """
    if plan_of(asked) is not None and colourways:
        raise OptionError("a plan names the beads of one colourway; leave --colourway out, or --plan")


@dataclass(frozen=True)
class Planned:
    """A planned piece as counted, with the colours of its beads where they are known."""

    count: PlannedCount
    colours: Mapping[str, Lab]

    def write_chart(self, folder: Path | None) -> str | None:
        """Write the chart to weave by into a folder, where one was asked for; the page's path."""
        if folder is None:
            return None
        from analyser.files import write_whole
        from analyser.motif.planned_rope import lay
        from analyser.motif.weaving_chart import chart_rows
        from analyser.report.planned import chart_page

        count = self.count.count
        rise = self.count.rise_mm
        rope = lay(self.count.plan, count.motif, count.rounds, rise)
        path = folder / "chart.html"
        page = chart_page(self.count, rope, chart_rows(rope, count.motif), self.colours)
        write_whole(path, page, make_folders=True)
        remark(f"the chart to weave by: {path}")
        return str(path)


def count_planned(asked: PlanRequest, made: KitColourway, stock: Stock | None) -> Planned | None:
    """The beads of a planned piece; None where no plan was given."""
    from analyser.motif.plan import PlannedBead
    from analyser.piece.planned_count import count_plan
    from analyser.stock.colour_text import read_colour

    plan = plan_of(asked)
    if plan is None:
        return None
    motif = made.count.motif
    lots = lots_of(plan, {role: tuple(held) for role, held in made.stock.items()}, stock, motif)
    colours = {key: held[0].lab for key, held in lots.items() if held[0].lab is not None}
    for role in motif.roles:
        for text in plan.texts(role):
            key = PlannedBead(role, text).key
            if key not in lots:
                try:
                    colours[key] = read_colour(text).lab
                except OptionError:
                    if stock is not None:
                        raise
    return Planned(count_plan(plan, made.count, lots), colours)


def lots_of(plan: Plan, usual: Lots, stock: Stock | None, motif: Motif) -> Lots:
    """The lots of each planned bead, by its key; a colour has none, and without a stock nothing has.

    Parameters
    ----------
    plan : Plan
    usual : mapping of role to lots
        Beads of the roles where the plan says nothing.
    stock : Stock or None
    motif : Motif

    Raises
    ------
    StockError
        If a text is neither a bead of the stock nor a colour.
    """
    from analyser.motif.plan import PlannedBead
    from analyser.stock.colour_text import read_colour

    found = {role: lots for role, lots in usual.items() if role in motif.roles}
    for role in motif.roles:
        for text in plan.texts(role):
            if stock is not None and read_colour(text, stock).bead is not None:
                found[PlannedBead(role, text).key] = stock.lots(text)
    return found
