"""A stock list's file opened: CSV, XLSX or ODS."""

from __future__ import annotations

import dataclasses
from pathlib import Path

from analyser.errors import StockError
from analyser.files import read_whole
from analyser.stock.list import agreed, csv_text
from analyser.stock.list.table import CellTable

_LARGEST_FILE = 64 * 2**20  # bytes; 50,000 rows take 6 MB


def load(path: Path) -> CellTable:
    """Read a list's file.

    Raises
    ------
    StockError
        If it is missing, no list, too large, locked by a password, or has no headings.
    """
    return sheet_of(path, contents(path))


def stamp(path: Path) -> tuple[object, ...]:
    """What changes when a list, or what is agreed of it, does."""
    told: list[object] = []
    for file in (path, agreed.file_of(path)):
        about = file.stat() if file.exists() else None
        told.append(about and (about.st_mtime_ns, about.st_size, about.st_ino))
    return tuple(told)


def contents(path: Path) -> bytes:
    """Bytes of a list's file; raises ``StockError`` in one line where there are none to be had."""
    data = read_whole(path, _LARGEST_FILE, "a stock list", error=StockError)
    if not data.strip():
        raise StockError(
            f"{path} is empty; a stock list begins with a row of headings such as id, name, size, hex"
        )
    return data


def sheet_of(path: Path, data: bytes) -> CellTable:
    """``load`` on bytes that were read already; what is agreed of the list is read beside ``path``."""
    told = agreed.kept(path)
    if data.startswith(b"PK\x03\x04"):
        from analyser.stock.list import workbooks

        return dataclasses.replace(workbooks.sheet_of(path, data, told), agreed=told)
    if data.startswith(b"\xd0\xcf\x11\xe0"):
        raise StockError(f"{path} is an old XLS or locked by a password; save it as XLSX or CSV without one")
    return dataclasses.replace(csv_text.sheet_of(path, data), agreed=told)
