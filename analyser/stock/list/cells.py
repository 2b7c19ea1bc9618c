"""One cell of the list changed by its maker: nothing is written that the list would then fault."""

from __future__ import annotations

import contextlib
import dataclasses
from dataclasses import dataclass
from pathlib import Path

from analyser.errors import StockError, quoted
from analyser.stock import units
from analyser.stock.bead import Bead
from analyser.stock.list import rows as stock_rows
from analyser.stock.list import writing
from analyser.stock.list.splicing import Value, cell_at
from analyser.stock.list.table import Cell, CellTable, text_of
from analyser.stock.words import UnclearError


@dataclass(frozen=True, slots=True)
class SetCell:
    """A cell that was changed.

    Attributes
    ----------
    path : Path
        The list.
    backup : Path or None
        The list as it was before.
    column : str
        Its heading, as the list has it.
    before, after : str
        What stood in the cell, and what stands there now.
    """

    path: Path
    backup: Path | None
    column: str
    before: str
    after: str


def set_cell(path: str | Path, bead: Bead, column: str, value: str) -> SetCell:
    """Change one cell of the list.

    Parameters
    ----------
    path : str or Path
        The list.
    bead : Bead
        As read from the list; the cell is in its row.
    column : str
        Its heading, or what it holds: ``quantity``, ``hex``, ``lot`` and the like.
    value : str
        What is to stand there; empty for nothing.

    Raises
    ------
    StockError
        If the bead is not in the list any more, there is no such column, the new value is a fault, or the
        list cannot be written.
    """
    told: list[tuple[str, str]] = []

    def plan(sheet: CellTable) -> writing.Plan:
        rows = {stock_rows.identity(one): one.row for one in stock_rows.read_rows(sheet)[0]}
        row = rows.get(stock_rows.identity(bead))
        if row is None:
            raise StockError(f"{path} has no row for {quoted(bead.id)} any more")
        index = _index(sheet, column, path)
        told.append((sheet.headings[index], text_of(cell_at(sheet, row, index))))
        return changed(sheet, row, index, value)

    real, backup = writing.rewrite(path, plan)
    ((heading, before),) = told
    return SetCell(real, backup, heading, before, value)


def changed(sheet: CellTable, row: int, index: int, value: str) -> writing.Plan:
    """What is to be written for one cell to hold a value.

    Raises
    ------
    StockError
        If the row would have a fault that it has not now.
    """
    known = {(fault.row, fault.column) for fault in stock_rows.read_rows(sheet)[1]}
    for fault in stock_rows.read_rows(_with_cell(sheet, row, index, value))[1]:
        if fault.row == row and (fault.row, fault.column) not in known:
            raise StockError(f"{quoted(fault.value)} {fault.says}; {fault.mend}")
    return {(row, index): _as_number(cell_at(sheet, row, index), value)}, ()


def _index(sheet: CellTable, column: str, path: str | Path) -> int:
    wanted = column.strip().casefold()
    for index, heading in enumerate(sheet.headings):
        if heading.strip().casefold() == wanted:
            return index
    if wanted in sheet.columns:
        return sheet.columns[wanted]
    there = ", ".join(heading for heading in sheet.headings if heading)
    raise StockError(f"{path}: there is no column {quoted(column)}; there are {there}")


def _as_number(stands: Cell, value: str) -> Value:
    """What is typed over a number of a workbook stays a number, or the sums of its sheet would miss it."""
    if isinstance(stands, int | float) and not isinstance(stands, bool):
        with contextlib.suppress(UnclearError):
            return units.number(value, "," if "," in value else ".")
    return value


def _with_cell(sheet: CellTable, row: int, index: int, value: str) -> CellTable:
    """The sheet as it would be read with that cell."""
    rows = []
    for number, cells in sheet.rows:
        if number == row:
            wide = [*cells, *[None] * (index + 1 - len(cells))]
            wide[index] = value
            rows.append((number, tuple(wide)))
        else:
            rows.append((number, cells))
    return dataclasses.replace(sheet, rows=tuple(rows))
