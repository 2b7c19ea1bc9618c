"""The shopping list as a file to send or to tick off: CSV or XLSX."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from analyser.errors import OptionError
from analyser.files import write_whole
from analyser.piece.piece_cards import to_scale
from analyser.stock.list.table import harmless

if TYPE_CHECKING:
    from analyser.piece.kits import ToBuy

Row = tuple[str | int | float | None, ...]

HEADINGS = ("what", "packs", "pack", "beads", "grams", "note")


def write_order(path: Path, lines: Sequence[ToBuy]) -> None:
    """Write the shopping list, by the file's ending as CSV or XLSX.

    Raises
    ------
    OptionError
        If the ending is another one, or the file cannot be written.
    """
    kind = path.suffix.casefold()
    if kind not in (".csv", ".xlsx"):
        raise OptionError(f"{path}: a shopping list is written as .csv or .xlsx; give one of these endings")
    write_whole(path, order_file(lines, kind.removeprefix(".")))


def order_file(lines: Sequence[ToBuy], kind: str) -> str | bytes:
    """The shopping list as the content of a file, ``csv`` or ``xlsx``."""
    rows = [_row(line) for line in lines]
    return _xlsx(rows) if kind == "xlsx" else _csv(rows)


def _row(line: ToBuy) -> Row:
    # Names are the maker's own words: none may run as a formula.
    beads, grams = (line.beads or None), (to_scale(line.grams) or None)
    return harmless(line.what), line.packs, harmless(line.pack), beads, grams, harmless(line.note)


def _csv(rows: Sequence[Row]) -> str:
    out = io.StringIO()
    write = csv.writer(out, lineterminator="\r\n").writerow
    write(HEADINGS)
    for row in rows:
        write(["" if value is None else value for value in row])
    return out.getvalue()


def _xlsx(rows: Sequence[Row]) -> bytes:
    import openpyxl
    from openpyxl.styles import Font

    book = openpyxl.Workbook()
    sheet = book.active
    assert sheet is not None  # a new workbook has one
    sheet.title = "shopping list"
    sheet.append(HEADINGS)
    for cell in sheet[1]:
        cell.font = Font(bold=True)
    for row in rows:
        sheet.append(row)
    for column, width in zip("ABCDEF", (44, 8, 16, 10, 10, 44), strict=True):
        sheet.column_dimensions[column].width = width
    sheet.freeze_panes = "A2"
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()
