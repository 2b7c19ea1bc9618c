"""The maker's stock list: read and checked.

The list is the maker's own spreadsheet; what its columns may be called and hold is told in
``palettes/README.md``. It is written on by ``writing``.
"""

from __future__ import annotations

from pathlib import Path

from analyser.errors import StockError
from analyser.stock.list import opening, rows
from analyser.stock.list.agreed import questions
from analyser.stock.list.table import CellTable
from analyser.stock.stock import Fault, Stock


def read(path: str | Path, *, skip_faulty: bool = True) -> Stock:
    """Read a stock list (CSV, XLSX or ODS).

    A row of which an amount, price, size or other word cannot be read is used without it (``unread``). Only
    what names no bead, contradicts itself or stands in the wrong columns is a fault of the row, which is then
    left out. What the maker agreed to is read so; ``questions`` tells what is open.

    Parameters
    ----------
    path : str or Path
        The file.
    skip_faulty : bool
        Leave rows that cannot be used out, and say so in ``left_out``, instead of refusing the list.

    Raises
    ------
    StockError
        If the file is no stock list, or has rows that cannot be used and ``skip_faulty`` is false.
    """
    path = Path(path)
    sheet = opening.load(path)
    held = _rows_of(sheet)
    left_out = tuple(fault for fault in held.faults if not fault.used)
    if left_out and not skip_faulty:
        count = "a fault" if len(left_out) == 1 else f"{len(left_out)} faults, the first"
        raise StockError(f"{path} has {count} in {left_out[0]} (all of it: analyser stock check {path})")
    return Stock(
        path,
        tuple(held.beads),
        left_out,
        tuple(held.notes),
        tuple(fault for fault in held.faults if fault.used),
        sheet.agreed,
        questions(sheet.agreed, held.left_open, sheet.sheets),
    )


_last: tuple[CellTable, rows.ReadRows] | None = None


def _rows_of(sheet: CellTable) -> rows.ReadRows:
    """Its rows; those of the last list are kept, for a batch reads one list again for every photo."""
    global _last
    kept = _last  # another thread may put its own there
    if kept is None or kept[0] != sheet:
        kept = _last = sheet, rows.read_rows(sheet)
    return kept[1]


def check(path: str | Path) -> tuple[Fault, ...]:
    """Every fault of a stock list, in the order of its rows; empty when it is sound.

    Raises
    ------
    StockError
        If the file is no stock list at all.
    """
    return read(path).faults
