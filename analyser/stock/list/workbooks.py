"""Spreadsheets as rows of cells: XLSX by openpyxl, ODS from its XML.

ODS is read only: its table is a few elements, and the library for it takes a second to load.
"""

from __future__ import annotations

import dataclasses
import io
import re
import warnings
import zipfile
from collections.abc import Callable
from functools import partial
from itertools import zip_longest
from pathlib import Path
from typing import TYPE_CHECKING, Any

from analyser.errors import StockError
from analyser.stock.list.agreed import FILE, Agreed
from analyser.stock.list.table import (
    LOOK_FOR_HEADINGS_IN,
    MOST_ROWS,
    TOO_MANY,
    Cell,
    CellTable,
    build,
    find_headings,
    is_blank,
    no_headings,
)

if TYPE_CHECKING:
    from collections.abc import Iterator
    from xml.etree.ElementTree import Element

Rows = list[tuple[int, tuple[Cell, ...]]]
Read = Callable[[int | None], Rows]
"""Rows of a sheet, so many at most."""

_LARGEST_UNPACKED = 128 * 2**20  # bytes; a list of 50,000 rows unpacks to about 30 MB
_WIDEST = 256  # columns; formatting may reach to the sheet's edge
_MOST_CELLS = 20_000_000  # empty ones counted: 1,200 rows formatted to the edge
_MOST_FILLED = 5000  # rows of which fills are looked at: each takes some 20 microseconds
# In XLSX one with a cell that is not closed at once; ODS tells empty ones by a number.
_FILLED_ROW = re.compile(rb"<row\b[^>]*>\s*(?:<c\b[^>]*/>\s*)*<c\b[^>]*[^/]>|<\w+:table-row\b")
_LAST_ROW = 1_048_576  # of a spreadsheet: formatting may reach down to it


def sheet_of(path: Path, data: bytes, agreed: Agreed) -> CellTable:
    """Read the sheet that is agreed to be the list, or else the first that can be.

    Raises
    ------
    StockError
        If the file is no XLSX or ODS, none of its sheets has headings that are understood, or the agreed one
        is not there.
    """
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as packed:
            if sum(part.file_size for part in packed.infolist()) > _LARGEST_UNPACKED:
                raise StockError(f"{path} unpacks to more than {_LARGEST_UNPACKED >> 20} MB: no stock list")
            names = set(packed.namelist())
            for part in names:
                if part == "content.xml" or part.startswith("xl/worksheets/"):
                    _check_rows(_rows_in(packed.read(part)) - 1)
            if "xl/workbook.xml" in names:
                return _with_fills(_the_list(path, "xlsx", _xlsx(data), agreed), data, agreed)
            if "content.xml" in names and b"spreadsheet" in packed.read("mimetype"):
                return _with_fills(
                    _the_list(path, "ods", _ods(packed.read("content.xml")), agreed), data, agreed
                )
    except StockError as error:
        told = str(error)
        raise error if told.startswith(str(path)) else StockError(f"{path}: {told}") from error
    except Exception as error:  # openpyxl and zlib raise whatever a damaged file provokes
        says = next(iter(str(error).splitlines()), type(error).__name__)[:100]  # zipfile quotes a whole part
        raise StockError(f"{path} is damaged: {says}; open it and save it again") from error
    raise StockError(f"{path} is no spreadsheet; save the stock list as CSV or XLSX")


def _the_list(path: Path, kind: str, sheets: Iterator[tuple[str, Read]], agreed: Agreed) -> CellTable:
    found: dict[str, Read] = {}
    filled: list[str] = []
    for name, read in sheets:
        top = [cells for _, cells in read(LOOK_FOR_HEADINGS_IN + 1)]
        at = find_headings(top)
        if at is not None:
            found[name] = read
            if len(top) > at + 1:
                filled.append(name)
    named = filled or list(found)  # headings alone are a list only where there is no other
    if not named:
        raise no_headings(path)
    wanted = agreed.sheet if agreed.sheet is not None else named[0]
    if wanted not in found:
        says = f"{path} has no list on a sheet {wanted!r}, as {FILE} says; there is {', '.join(named)}"
        raise StockError(f"{says}: mend it by analyser stock check {path} --take sheet=NAME")
    rows = found[wanted](None)
    at = find_headings([cells for _, cells in rows]) or 0
    table = build(path, kind, rows[at], rows[at + 1 :], sheet=wanted)
    return dataclasses.replace(table, sheets=tuple(named))


def _with_fills(table: CellTable, data: bytes, agreed: Agreed) -> CellTable:
    """The list with its cells' fill colours, where they may be the beads' colours."""
    if agreed.fills is False or len(table.rows) > _MOST_FILLED:
        return table
    from analyser.stock.list import fills

    return dataclasses.replace(table, fills=fills.of(table, data))


def _xlsx(data: bytes) -> Iterator[tuple[str, Read]]:
    import openpyxl

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # openpyxl tells of styles and extensions it passes over
        values = openpyxl.load_workbook(io.BytesIO(data), read_only=True, data_only=True)
        formulas = openpyxl.load_workbook(io.BytesIO(data), read_only=True) if _has_formulas(data) else None
        for sheet in values.worksheets:
            yield sheet.title, partial(_rows, sheet, formulas and formulas[sheet.title])


def _rows(sheet: Any, formulas: Any, most: int | None) -> Rows:
    rows = _cells(sheet, most)
    if formulas is None:
        return rows
    # A formula stands where its result is not stored: then the cell is a fault, not a blank.
    written = dict(_cells(formulas, most))
    return [
        (number, tuple(w if c is None else c for c, w in zip_longest(cells, written[number])))
        for number, cells in rows
        if number in written
    ]


def _cells(sheet: Any, most: int | None) -> Rows:
    """Number and cells of the rows that hold something, so many at most."""
    sheet.reset_dimensions()  # some programs write a wrong one
    rows: Rows = []
    seen = 0
    for number, cells in enumerate(sheet.iter_rows(values_only=True), start=1):
        if most is not None and len(rows) >= most:
            break
        seen += len(cells)
        if seen > _MOST_CELLS:
            raise StockError(f"it has more than {_MOST_CELLS:,} cells, with the empty ones: no stock list")
        if cells and not is_blank(cells[:_WIDEST]):
            rows.append((number, cells[:_WIDEST]))
            _check_rows(len(rows))
    return rows


def _check_rows(count: int) -> None:
    if count > MOST_ROWS:
        raise StockError(TOO_MANY)


def _rows_in(xml: bytes) -> int:
    """How many rows of a sheet hold something, counted in its text, a tenth of the time of reading."""
    if xml.count(b"row") <= MOST_ROWS:
        return 0
    return sum(1 for _ in _FILLED_ROW.finditer(xml))


def _has_formulas(data: bytes) -> bool:
    with zipfile.ZipFile(io.BytesIO(data)) as packed:
        sheets = [name for name in packed.namelist() if name.startswith("xl/worksheets/sheet")]
        return any(b"<f" in packed.read(name) for name in sheets)


_OFFICE = "{urn:oasis:names:tc:opendocument:xmlns:office:1.0}"
_TABLE = "{urn:oasis:names:tc:opendocument:xmlns:table:1.0}"
_TEXT = "{urn:oasis:names:tc:opendocument:xmlns:text:1.0}"


def _ods(content: bytes) -> Iterator[tuple[str, Read]]:
    from xml.etree import ElementTree

    if b"<!DOCTYPE" in content:  # entities could be made to swell without end
        raise StockError("its XML declares a document type")
    for table in ElementTree.fromstring(content).iter(f"{_TABLE}table"):
        rows: Rows = []
        number = 0
        for row in table.iter(f"{_TABLE}table-row"):
            repeated = _repeats(row, "number-rows-repeated")
            cells = tuple(_ods_cells(row))
            if not is_blank(cells):
                _check_rows(len(rows) + repeated)
                rows.extend((number + more, cells) for more in range(1, repeated + 1))
            number += repeated
        yield table.get(f"{_TABLE}name", ""), partial(_first, rows)


def _first(rows: Rows, most: int | None) -> Rows:
    return rows if most is None else rows[:most]


def _repeats(element: Element, kind: str) -> int:
    """How often a row or cell stands there; raises ``StockError`` where that is no such number."""
    text = element.get(f"{_TABLE}{kind}", "1")
    if not (text.isascii() and text.isdigit() and 1 <= int(text[:9]) <= _LAST_ROW):
        raise StockError(f"a row or cell of it is repeated {text[:20]!r} times")
    return int(text)


def _ods_cells(row: Element) -> Iterator[Cell]:
    width = 0
    for cell in row:
        if cell.tag not in (f"{_TABLE}table-cell", f"{_TABLE}covered-table-cell"):
            continue
        repeated = min(_repeats(cell, "number-columns-repeated"), _WIDEST - width)
        width += repeated
        yield from [_ods_value(cell)] * repeated


def _ods_value(cell: Element) -> Cell:
    kind = cell.get(f"{_OFFICE}value-type")
    if kind in ("float", "currency", "percentage"):
        value = float(cell.get(f"{_OFFICE}value", "nan"))
        return int(value) if value.is_integer() else value
    if kind == "date":
        import datetime

        return datetime.date.fromisoformat(cell.get(f"{_OFFICE}date-value", "")[:10])
    paragraphs = ["".join(part.itertext()) for part in cell.findall(f"{_TEXT}p")]
    return "\n".join(paragraphs) or None
