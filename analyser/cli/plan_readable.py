"""A planned piece as a maker reads it in the terminal: its beads, one a line."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rich.table import Table
from rich.text import Text

from analyser.phrases.reckoning import at_least
from analyser.piece.piece_cards import to_scale
from analyser.report.planned import name_of

if TYPE_CHECKING:
    from rich.console import Console

    from analyser.piece.planned_count import PlannedCount, PlannedNeed


def print_planned(console: Console, planned: PlannedCount) -> None:
    """The beads of a plan: how many, what to weigh out, and whether the box holds enough."""
    console.print(Text("By the plan", "bold"))
    table = Table(box=None, pad_edge=False, header_style="bold")
    for heading, side in (("", "left"), ("bead", "left"), ("in the rope", "right"), ("weigh out", "right")):
        table.add_column(heading, justify="right" if side == "right" else "left")
    table.add_column("in the box")
    for need in planned.needs:
        table.add_row(
            Text(need.bead.role),
            Text(name_of(need)),
            Text(str(need.beads) if need.low == need.high else f"{need.beads} ({need.low}-{need.high})"),
            Text(f"{to_scale(need.grams):.1f} g"),
            Text(_box(need)),
        )
    console.print(table)


def _box(need: PlannedNeed) -> str:
    if need.held is None:
        return ""
    if need.held.have is None:
        return "quantity not in the list"
    rest = "enough" if need.held.enough else f"{need.held.short} short"
    return f"{at_least(need.held.have)}, {rest}"
