"""The maker's stock list: read and checked.

The list is the maker's own spreadsheet; what its columns may be called and hold is told in
``palettes/README.md``. It is written on by ``writing``.
"""

from __future__ import annotations

from pathlib import Path

from analyser.errors import StockError
from analyser.stock.bead import Bead
from analyser.stock.list import opening, rows
from analyser.stock.stock import Fault, Stock


def read(path: str | Path, *, skip_faulty: bool = False) -> Stock:
    """Read a stock list (CSV, XLSX or ODS).

    A row of which an amount, price, size or other word cannot be read is used without it (``unread``). Only
    what names no bead, contradicts itself or stands in the wrong columns is a fault of the row.

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
    beads, every, notes = _read(Path(path))
    faults = [fault for fault in every if not fault.used]
    if faults and not skip_faulty:
        count = "a fault" if len(faults) == 1 else f"{len(faults)} faults, the first"
        hint = f"all of it: analyser stock check {path}; without these rows: --skip-faulty"
        raise StockError(f"{path} has {count} in {faults[0]} ({hint})")
    unread = tuple(fault for fault in every if fault.used)
    return Stock(Path(path), tuple(beads), tuple(faults), tuple(notes), unread)


def check(path: str | Path) -> tuple[Fault, ...]:
    """Every fault of a stock list, in the order of its rows; empty when it is sound.

    Raises
    ------
    StockError
        If the file is no stock list at all.
    """
    return tuple(_read(Path(path))[1])


def _read(path: Path) -> tuple[list[Bead], list[Fault], list[str]]:
    return rows.read_rows(opening.load(path))
