"""Spreadsheets as rows of cells: XLSX by openpyxl, ODS from its XML.

ODS is read only: its table is a few elements, and the library for it takes a second to load.
"""

from __future__ import annotations

import io
import warnings
import zipfile
from itertools import zip_longest
from pathlib import Path
from typing import TYPE_CHECKING, Any

from analyser.errors import StockError
from analyser.stock.list.table import Cell, CellTable, build, find_headings, is_blank, no_headings

if TYPE_CHECKING:
    from collections.abc import Iterator
    from xml.etree.ElementTree import Element

Rows = list[tuple[int, tuple[Cell, ...]]]

_LARGEST_UNPACKED = 128 * 2**20  # bytes; a list of 50,000 rows unpacks to about 30 MB
_WIDEST = 256  # columns; formatting may reach to the sheet's edge
_MOST_ROWS = 100_000  # rows of one sheet that hold something; a stock of many lives has fewer
_MOST_CELLS = 20_000_000  # empty ones counted: 1,200 rows formatted to the edge
_LAST_ROW = 1_048_576  # of a spreadsheet: formatting may reach down to it


def sheet_of(path: Path, data: bytes) -> CellTable:
    """Read the first sheet that holds a list.

    Raises
    ------
    StockError
        If the file is no XLSX or ODS, or none of its sheets has headings that are understood.
    """
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as packed:
            if sum(part.file_size for part in packed.infolist()) > _LARGEST_UNPACKED:
                raise StockError(f"{path} unpacks to more than {_LARGEST_UNPACKED >> 20} MB: no stock list")
            names = set(packed.namelist())
            if "xl/workbook.xml" in names:
                return _first_list(path, "xlsx", _xlsx(data))
            if "content.xml" in names and b"spreadsheet" in packed.read("mimetype"):
                return _first_list(path, "ods", _ods(packed.read("content.xml")))
    except StockError as error:
        told = str(error)
        raise error if told.startswith(str(path)) else StockError(f"{path}: {told}") from error
    except Exception as error:  # openpyxl and zlib raise whatever a damaged file provokes
        says = next(iter(str(error).splitlines()), type(error).__name__)
        raise StockError(f"{path} is damaged: {says}; open it and save it again") from error
    raise StockError(f"{path} is no spreadsheet; save the stock list as CSV or XLSX")


def _first_list(path: Path, kind: str, sheets: Iterator[tuple[str, Rows]]) -> CellTable:
    for name, rows in sheets:
        at = find_headings([cells for _, cells in rows])
        if at is not None:
            return build(path, kind, rows[at], rows[at + 1 :], sheet=name)
    raise no_headings(path)


def _xlsx(data: bytes) -> Iterator[tuple[str, Rows]]:
    import openpyxl

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # openpyxl tells of styles and extensions it passes over
        values = openpyxl.load_workbook(io.BytesIO(data), read_only=True, data_only=True)
        formulas = openpyxl.load_workbook(io.BytesIO(data), read_only=True) if _has_formulas(data) else None
        for sheet in values.worksheets:
            rows = _cells(sheet)
            if formulas is not None:
                # A formula stands where its result is not stored: then the cell is a fault, not a blank.
                written = dict(_cells(formulas[sheet.title]))
                rows = [
                    (number, tuple(w if c is None else c for c, w in zip_longest(cells, written[number])))
                    for number, cells in rows
                    if number in written
                ]
            yield sheet.title, rows


def _cells(sheet: Any) -> Rows:
    """Number and cells of the rows that hold something."""
    sheet.reset_dimensions()  # some programs write a wrong one
    rows: Rows = []
    seen = 0
    for number, cells in enumerate(sheet.iter_rows(values_only=True), start=1):
        seen += len(cells)
        if seen > _MOST_CELLS:
            raise StockError(f"it has more than {_MOST_CELLS:,} cells, with the empty ones: no stock list")
        if cells and not is_blank(cells[:_WIDEST]):
            rows.append((number, cells[:_WIDEST]))
            _check_rows(len(rows))
    return rows


def _check_rows(count: int) -> None:
    if count > _MOST_ROWS:
        raise StockError(f"it holds more than {_MOST_ROWS} rows: no stock list")


def _has_formulas(data: bytes) -> bool:
    with zipfile.ZipFile(io.BytesIO(data)) as packed:
        sheets = [name for name in packed.namelist() if name.startswith("xl/worksheets/sheet")]
        return any(b"<f" in packed.read(name) for name in sheets)


_OFFICE = "{urn:oasis:names:tc:opendocument:xmlns:office:1.0}"
_TABLE = "{urn:oasis:names:tc:opendocument:xmlns:table:1.0}"
_TEXT = "{urn:oasis:names:tc:opendocument:xmlns:text:1.0}"


def _ods(content: bytes) -> Iterator[tuple[str, Rows]]:
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
        yield table.get(f"{_TABLE}name", ""), rows


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
