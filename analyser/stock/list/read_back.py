"""What becomes of a list is read before it is put in the old one's place.

Whatever a write may do to rows it was not asked to touch (a divider within a cell, a row that turns into a
remark, a decimal sign that no longer holds), the list as read tells it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from analyser.errors import StockError, quoted
from analyser.stock.bead import Bead
from analyser.stock.list.columns import holds_words
from analyser.stock.list.rows import identity, read_rows
from analyser.stock.list.splicing import Changes, Value
from analyser.stock.list.table import Cell, CellTable, text_of


def check_read_back(
    before: CellTable, after: CellTable, changes: Changes, added: Sequence[Mapping[int, Value]]
) -> None:
    """That a written list holds what it held, with the changes and the added rows, and nothing else.

    Parameters
    ----------
    before, after : CellTable
        The list as it was, and as it would be.
    changes, added
        As given to ``splicing.splice``.

    Raises
    ------
    StockError
        If it would read otherwise.
    """
    kept, new = after.rows[: len(before.rows)], after.rows[len(before.rows) :]
    same_columns = before.columns.items() <= after.columns.items() or holds_words(before)
    if after.headings != _headings(before, changes) or not same_columns or len(new) != len(added):
        raise _otherwise(before, "its rows or headings")
    for (number, old), (_, now) in zip(before.rows, kept, strict=True):
        for column in range(max(len(old), len(now))):
            wanted = changes.get((number, column), _cell(old, column))
            told = _cell(now, column)
            if not _alike(wanted, told) and not (before.kind == "xlsx" and str(told).startswith("=")):
                raise _otherwise(before, f"row {number}, {quoted(text_of(wanted))}")
    for (number, now), row in zip(new, added, strict=True):
        for column in range(max(len(now), len(after.headings))):
            if not _alike(row.get(column), _cell(now, column)):
                raise _otherwise(before, f"row {number}, {quoted(text_of(row.get(column)))}")
    _check_beads(before, after, {row for row, _ in changes})


def _headings(before: CellTable, changes: Changes) -> tuple[str, ...]:
    """The headings as they are to be, with those of columns that are added."""
    new = {at: text_of(value) for (row, at), value in changes.items() if row == before.heading_row}
    width = max(len(before.headings), *(at + 1 for at in new)) if new else len(before.headings)
    return tuple(new.get(at, before.headings[at] if at < len(before.headings) else "") for at in range(width))


def _check_beads(before: CellTable, after: CellTable, touched: set[int]) -> None:
    """That each bead that was read still is, and those of untouched rows as they were."""
    was, now = read_rows(before), read_rows(after)
    by_identity = {identity(bead): bead for bead in now[0]}
    for bead in was[0]:
        told = by_identity.get(identity(bead))
        if told is None or (bead.row not in touched and not _same(told, bead)):
            raise _otherwise(before, f"row {bead.row}, {quoted(bead.id)}")
    if len(now[1]) > len(was[1]):
        raise StockError(f"{before.path} would have a fault: {now[1][-1]}. Nothing was written")


def _same(told: Bead, was: Bead) -> bool:
    """Whether a bead is what it was, wherever it stands now.

    A list's colours are converted together; in a longer list a processor's vector units may round the last
    bit of one otherwise, so that Lab is compared to 1e-9.
    """
    if (told.lab is None) != (was.lab is None):
        return False
    near = told.lab is None or was.lab is None or np.allclose(told.lab, was.lab, rtol=0, atol=1e-9)
    return bool(near) and replace(told, row=0, lab=None) == replace(was, row=0, lab=None)


def _cell(cells: Sequence[Cell], column: int) -> Cell:
    return cells[column] if column < len(cells) else None


def _alike(wanted: Cell, told: Cell) -> bool:
    if isinstance(wanted, int | float) and isinstance(told, int | float):
        return wanted == told or abs(wanted - told) <= 1e-9 * abs(wanted)
    return text_of(wanted) == text_of(told)


def _otherwise(sheet: CellTable, what: str) -> StockError:
    says = f"{sheet.path}: {what} would read otherwise once written, so nothing was"
    return StockError(f"{says}; save the list as CSV (UTF-8) or XLSX, or write that cell by hand")
