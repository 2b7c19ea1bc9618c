"""The readable answer of ``analyser count``."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from rich.table import Table
from rich.text import Text

from analyser.motif.geometry import letter_of
from analyser.phrases import reckoning
from analyser.phrases.figures import cost, length
from analyser.piece.piece_cards import in_short, to_scale
from analyser.stock.lots import sure_beads

if TYPE_CHECKING:
    from rich.console import Console

    from analyser.piece.counting import BeadCount
    from analyser.piece.kits import ClassPlan, KitColourway
    from analyser.stock.holding import Held


def print_count(
    console: Console, made: Sequence[KitColourway], plan: ClassPlan, notes: Sequence[str]
) -> None:
    """What a piece takes; for a class the cards and the shopping list too."""
    first = made[0].count
    kits = sum(way.kits for way in made)
    pieces = {(_piece(way.count), _parts(way.count)) for way in made}
    if len(pieces) == 1:
        each = f", each of {kits} kits" if kits > 1 else ""
        console.print(Text(f"{_piece(first)}{each}", "bold"))
    for way in made:
        if len(made) > 1:
            piece = f" · {_piece(way.count)}" if len(pieces) > 1 else ""
            console.print(Text(f"{way.name}: {way.kits} kit{'s' * (way.kits != 1)}{piece}", "bold"))
        _print_roles(console, way.count, alone=len(made) == 1)
        if way.count.cost is not None:
            currency = way.count.currency or "(currency as in your list)"
            console.print(Text(f"Beads of one piece: about {cost(way.count.cost)} {currency}"))
        if len(pieces) > 1:
            console.print(Text(_parts(way.count)))
    if len(pieces) == 1:
        console.print(Text(_parts(first)))
    if kits > 1:
        _print_class(console, made, plan)
    elif plan.missing or first.stock is None:
        _print_order(console, plan)
    for note in notes:
        console.print(Text(f"- {note}"))


def _print_roles(console: Console, count: BeadCount, *, alone: bool) -> None:
    # Colourways share lots: what is in the box holds for all of them together, not for one.
    shown = bool(count.stock) and alone
    table = Table(box=None, pad_edge=False, header_style="bold")
    table.add_column("")
    table.add_column("bead")
    table.add_column("in the rope", justify="right")
    table.add_column(reckoning.with_spare(count.spare), justify="right")
    table.add_column("weigh out", justify="right")
    if shown:
        table.add_column("in the box")
    for key, beads in count.beads.items():
        held = (count.stock or {}).get(key)
        role, _, text = key.partition(":")  # of a plan also the bead
        name = held.bead.name if held else text
        row = [
            Text(f"{letter_of(role)} {role}" if letter_of(role) != role else role),
            Text(f"{name}, {count.kinds[key]}" if name else str(count.kinds[key])),
            Text(_span(beads, count.low[key], count.high[key])),
            Text(str(count.with_spare[key])),
            Text(f"{to_scale(count.grams[key]):.1f} g"),
        ]
        if shown:
            row.append(Text(_box(held)))
        table.add_row(*row)
    ends = (count.stock or {}).get("end")
    if shown and ends:
        row = [Text("end"), Text(f"{ends.bead.name}, {count.end_bead_mm:g}mm"), Text(""), Text("2"), Text("")]
        table.add_row(*row, Text(_box(ends)))
    console.print(table)
    for role, held in (count.stock or {}).items():
        if held.blend:
            console.print(Text(f"- {reckoning.blend(role, held.blend)}"))


def _span(likely: int, low: int, high: int) -> str:
    return str(likely) if low == high else f"{likely} ({low}-{high})"


def _box(held: Held | None) -> str:
    """Whether the box holds enough, in words."""
    if held is None:
        return ""
    lot = f"lot {held.bead.lot}" if held.bead.lot else "one lot"
    if held.have is not None and held.have > (sure_beads(held.bead) or 0):
        lot = "all lots"  # of a class, whose kits may come from different ones
    if len(held.shares) > 1:
        lot = " + ".join(f"{share.bead.lot or 'lot'}: {len(share.served)}" for share in held.shares)
    if held.have is None:
        return "quantity not in the list"
    if held.enough is None:
        return f"{lot}: {reckoning.at_least(held.have)}, the rest not in the list"
    rest = "enough" if held.enough else f"{held.short} short"
    return f"{lot}: {reckoning.at_least(held.have)}, {rest}"


def _piece(count: BeadCount) -> str:
    rounds = _span(count.rounds, count.rounds_low, count.rounds_high)
    return f"{count.motif.title}, {length(count.lengths.finished_mm)}: {rounds} rounds"


def _parts(count: BeadCount) -> str:
    ends = f"2 end beads of {count.end_bead_mm:g} mm, " if count.end_bead_mm else ""
    return f"Thread {count.thread.total_m:.1f} m; {ends}1 clasp with 2 rings"


def _print_class(console: Console, made: Sequence[KitColourway], plan: ClassPlan) -> None:
    for words, lines in (
        ("no lot left", plan.missing),
        ("the list does not say whether a lot is left", plan.unknown),
    ):
        for name, role, kits in lines:
            way = f"{name}, " if name else ""
            beads = role.replace(":", " ", 1)
            console.print(Text(f"Short: {way}{beads}: {words} for {kits} kit{'s' * (kits != 1)}", "bold"))
    if plan.enough and any(way.stock for way in made):
        console.print(Text("The stock serves every kit, each colour of each kit from one lot", "bold"))
    _print_order(console, plan)
    console.print()
    console.print(Text(in_short(plan.cards)))


def _print_order(console: Console, plan: ClassPlan) -> None:
    console.print(Text("To buy, or to have ready", "bold"))
    table = Table(box=None, pad_edge=False, show_header=False)
    for line in plan.shopping:
        packs, beads = reckoning.packs_to_buy(line), reckoning.beads_to_buy(line)
        table.add_row("  ", Text(packs), Text(line.what), Text(beads))
    console.print(table)
    for note in dict.fromkeys(line.note for line in plan.shopping if line.note):
        console.print(Text(f"  {note}"))
