"""Beads booked out of the list for a piece.

Each lot is booked in the unit its row is written in: grams by the likely beads to the gram, a lot weighed
in its tube by its gross weight. A price of the whole row says from then on what it was paid for.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from analyser.errors import StockError, quoted
from analyser.stock import units
from analyser.stock.bead import Bead
from analyser.stock.list import rows as stock_rows
from analyser.stock.list.columns import Columns
from analyser.stock.list.decimals import Decimals
from analyser.stock.list.splicing import Value, cell_at
from analyser.stock.list.table import CellTable, text_of
from analyser.stock.list.writing import Plan, Seen, number_text, rewrite
from analyser.stock.quantity import Amount, Quantity, Unit

_PLACES: dict[Unit, int] = {"beads": 0, "grams": 2, "strands": 2, "tubes": 2, "hanks": 3}
"""Decimals of what is left. A hundredth of a tube of 8 g or of a strand is less than the tenth of a gram
that a kitchen scale shows; a hank is twelve strands or so."""


@dataclass(frozen=True, slots=True)
class BookedLine:
    """One lot booked out.

    Attributes
    ----------
    id, lot : str
    size : str or None
    shape : str
        With id and lot, what tells the row from others.
    beads : int
        Beads taken.
    before, after : str
        What stood in the cell, and what stands there now.
    unit : str
        What a number in the cell counts, by its column or as agreed; empty where the cell says it itself.
    left : Amount
        Beads the lot holds now; of a lot that was estimated too low, 0.
    """

    id: str
    lot: str
    size: str | None
    shape: str
    beads: int
    before: str
    after: str
    unit: Unit | Literal[""]
    left: Amount


@dataclass(frozen=True, slots=True)
class Booking:
    """What a piece took.

    Attributes
    ----------
    path : Path
        The list.
    backup : Path or None
        The list as it was before.
    lines : tuple of BookedLine
        One a lot.
    """

    path: Path
    backup: Path | None
    lines: tuple[BookedLine, ...]


def book_out(path: str | Path, takes: Sequence[tuple[Bead, int]], *, seen: Seen | None = None) -> Booking:
    """Take beads out of their lots.

    Parameters
    ----------
    path : str or Path
        The list.
    takes : sequence of (Bead, int)
        Lots, as read from the list, and the beads taken from each; a lot may come twice.
    seen : callable, optional
        See ``writing.Seen``.

    Raises
    ------
    StockError
        If a lot is not in the list any more, its amount is not known, or it holds too few even at the most
        it can hold. Nothing is booked then.
    """
    together: dict[tuple[str, str | None, str, str], int] = {}
    for bead, beads in takes:
        if beads < 0:
            raise ValueError(f"beads taken must be at least 0, got {beads}")
        key = stock_rows.identity(bead)
        together[key] = together.get(key, 0) + beads
    lines: list[BookedLine] = []

    def plan(sheet: CellTable) -> Plan:
        rows = {stock_rows.identity(row): row for row in stock_rows.read_rows(sheet)[0]}
        decimals = Decimals(sheet, sheet.columns)
        changes: dict[tuple[int, int], Value] = {}
        columns = Columns(sheet)
        named = {stock_rows.identity(bead): bead for bead, _ in takes}
        for key, beads in together.items():
            if key not in rows:
                raise StockError(f"{path} has no row (without faults) for {_row_name(named[key])} any more")
            row = rows[key]
            column, value, left = _take(row, beads, sheet, decimals, path)
            changes[row.row, column] = value
            changes |= _with_what_it_was_paid_for(row, sheet, decimals, columns)
            before = text_of(cell_at(sheet, row.row, column))
            after, unit = text_of(value), _quantity_of(row, path).unit
            said = "" if re.search(r"[^\W\d_]", after) else unit
            lines.append(BookedLine(row.id, row.lot, row.size, row.shape, beads, before, after, said, left))
        return changes | columns.changes, ()

    real, backup = rewrite(path, plan, seen=seen)
    return Booking(real, backup, tuple(lines))


def _row_name(bead: Bead) -> str:
    return quoted(bead.id) + (f" of lot {quoted(bead.lot)}" if bead.lot else "")


def _quantity_of(row: Bead, path: str | Path) -> Quantity:
    if row.quantity is None or row.amount() is None:
        says = "write its grams or beads, or what one tube or strand holds"
        raise StockError(f"{path}, row {row.row}: how many beads {_row_name(row)} holds is not known; {says}")
    return row.quantity


def _column(held: Quantity, sheet: CellTable) -> int:
    return sheet.columns["gross" if held.gross_grams is not None and "gross" in sheet.columns else "quantity"]


def _take(
    row: Bead, beads: int, sheet: CellTable, decimals: Decimals, path: str | Path
) -> tuple[int, Value, Amount]:
    """Column and new value of a lot's cell, and what is left in it."""
    held, amount = _quantity_of(row, path), row.amount()
    assert amount is not None  # _quantity_of has seen to it
    if beads > amount.high:
        says = f"{_row_name(row)} holds {amount.likely} beads"
        most = f", {amount.high} at most" if amount.high > amount.likely else ""
        raise StockError(f"{path}, row {row.row}: {says}{most}; {beads} are to be booked out")
    left = Amount(*(max(0, part - beads) for part in amount))
    return _column(held, sheet), _deduct(row, held, min(beads, amount.likely), sheet, decimals), left


def _with_what_it_was_paid_for(
    row: Bead, sheet: CellTable, decimals: Decimals, columns: Columns
) -> dict[tuple[int, int], Value]:
    """A row's price with the amount that it bought: what is left costs no more for being less.

    A price that is a number stays one, with what it bought in a column beside it. Nothing is written where
    the price says so already, or there is none.
    """
    held, cost = row.quantity, row.cost
    if held is None or cost is None or cost.per_unit is not None or not held.amount:
        return {}
    bought = f"{number_text(held.amount, 4, decimals.sign_to_write('quantity'))} {held.unit}"
    cell = cell_at(sheet, row.row, sheet.columns["cost"])
    if isinstance(cell, int | float):
        return {(row.row, columns.need("bought")): bought}
    return {(row.row, sheet.columns["cost"]): f"{text_of(cell)} per {bought}"}


def _deduct(row: Bead, held: Quantity, beads: int, sheet: CellTable, decimals: Decimals) -> Value:
    """A lot's cell less so many beads: only its first number changes, the words around it stay."""
    amount = row.amount()
    left = held.amount * (1 - beads / amount.likely) if amount and amount.likely else held.amount
    column = _column(held, sheet)
    cell = cell_at(sheet, row.row, column)
    cell = sheet.agreed.read_as("quantity", text_of(cell)) or cell
    places = _PLACES[held.unit]
    written = re.search(units.NUMBER, units.without_fractions(text_of(cell)))
    was = 0.0
    if isinstance(cell, int | float):
        was = float(cell)
    elif written:
        was = units.number(written[0], decimals.sign("quantity", written[0]))
    if held.gross_grams is not None:
        value = was - (held.amount - left) * (was / held.gross_grams)
    else:
        # The cell may count in kg or oz: the ratio to its own number holds in any unit.
        value = was * left / held.amount if held.amount else left
        if held.unit == "grams" and abs(was - held.amount) > 1e-9:
            places = 4
    value = max(0.0, round(value, places))
    if isinstance(cell, int | float) or (sheet.kind == "xlsx" and not written):
        return value
    number = number_text(value, places, decimals.sign_to_write("quantity"))
    text = units.without_fractions(text_of(cell))
    return text[: written.start()] + number + text[written.end() :] if written else number
