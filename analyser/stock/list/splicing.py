"""Cells changed and rows added in a list's file, all else left as it stands.

In a CSV only the cells concerned are splice into its text; encoding, divider, quoting, line endings,
remarks and blank rows stay byte for byte. In an XLSX openpyxl keeps other sheets and formats.
"""

from __future__ import annotations

import io
import re
import warnings
from collections.abc import Mapping, Sequence
from copy import copy
from typing import Any

from analyser.errors import StockError, quoted
from analyser.stock.list.table import Cell, CellTable, CsvText, harmless, is_blank

Value = str | float
Changes = Mapping[tuple[int, int], Value]
"""New values by row number and column index."""

#: Control characters and halves of characters (of names with undecodable bytes).
_UNWRITABLE = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f\ud800-\udfff\ufffe\uffff]")


def splice(sheet: CellTable, data: bytes, changes: Changes, added: Sequence[Mapping[int, Value]]) -> bytes:
    """The file's new bytes.

    Parameters
    ----------
    sheet : CellTable
        What ``data`` was read as.
    data : bytes
        The file.
    changes : mapping of (row number, column index) to str or float
        Cells to change.
    added : sequence of mappings of column index to str or float
        Rows to add below the last one. A float is written as a number; in a CSV give text.

    Raises
    ------
    StockError
        If the file is of a kind that is only read, or its encoding lacks a character.
    """
    for value in (*changes.values(), *(value for row in added for value in row.values())):
        if isinstance(value, str) and (sign := _UNWRITABLE.search(value)):
            says = f"{sheet.path}: {quoted(str(value))} holds the sign {sign[0]!r}, which no list can hold"
            raise StockError(f"{says}; write it without")
    if sheet.csv_text is not None:
        return _csv(sheet, sheet.csv_text, changes, added)
    if sheet.kind == "xlsx":
        try:
            return _xlsx(sheet, data, changes, added)
        except StockError:
            raise
        except Exception as error:  # openpyxl raises whatever a damaged part provokes
            says = f"{sheet.path} is damaged: {error or type(error).__name__}"
            raise StockError(f"{says}; open it in its program and save it again") from error
    raise StockError(f"{sheet.path}: an ODS list is read, not written; save it as XLSX or CSV")


def _csv(
    sheet: CellTable, csv_text: CsvText, changes: Changes, added: Sequence[Mapping[int, Value]]
) -> bytes:
    text = csv_text.text
    by_row: dict[int, dict[int, Value]] = {}
    for (row, column), value in changes.items():
        by_row.setdefault(row, {})[column] = value
    for record in reversed(csv_text.records):
        if record.number in by_row:
            changed = _change_row(text[record.start : record.end], csv_text.delimiter, by_row[record.number])
            text = text[: record.start] + changed + text[record.end :]
    if added and text and not text.endswith(("\n", "\r")):
        text += csv_text.newline
    width = _width(sheet, changes)
    for new in added:
        cells = [_quote(str(new.get(column, "")), csv_text.delimiter) for column in range(width)]
        text += csv_text.delimiter.join(cells) + csv_text.newline
    try:
        return text.encode(csv_text.encoding)
    except UnicodeEncodeError as error:
        sign = text[error.start]
        says = f"{sheet.path} is Windows-1252 text, which has no {sign!r}; save it as CSV (UTF-8) first"
        raise StockError(says) from error


def _width(sheet: CellTable, changes: Changes) -> int:
    """Columns of the list, with those that are added."""
    return max(len(sheet.headings), *(at + 1 for row, at in changes if row == sheet.heading_row), 0)


def _quote(text: str, delimiter: str) -> str:
    """A cell's text for a CSV, harmless in spreadsheets whichever divider they take."""
    text = harmless(text)
    divided = delimiter in text
    elsewhere = re.search(r'[",;\t|\r\n]|^\s|\s$', text) and not re.fullmatch(r"[\d.,+-]+", text)
    if divided or elsewhere or text.startswith('"'):
        doubled = text.replace('"', '""')
        return f'"{doubled}"'
    return text


def _change_row(line: str, delimiter: str, values: Mapping[int, Value]) -> str:
    body = line.rstrip("\r\n")
    ending = line[len(body) :]
    cells = _fields(body, delimiter)
    for column, value in values.items():
        cells.extend([""] * (column + 1 - len(cells)))
        cells[column] = _quote(str(value), delimiter)
    return delimiter.join(cells) + ending


def _fields(body: str, delimiter: str) -> list[str]:
    """Fields of one row as they are written, quotation marks included."""
    fields, at = [], 0
    while True:
        start = at
        if body.startswith('"', at):
            at += 1
            while not (body[at] == '"' and body[at + 1 : at + 2] != '"'):
                at += 2 if body[at] == '"' else 1
            at += 1
        end = body.find(delimiter, at)
        fields.append(body[start : end if end >= 0 else len(body)])
        if end < 0:
            return fields
        at = end + 1


def _xlsx(sheet: CellTable, data: bytes, changes: Changes, added: Sequence[Mapping[int, Value]]) -> bytes:
    import openpyxl

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # openpyxl tells of extensions it does not keep
        book = openpyxl.load_workbook(io.BytesIO(data), keep_vba=sheet.path.suffix.lower() == ".xlsm")
    page: Any = book[sheet.sheet]
    _without_formulas(sheet, page)
    for (row, column), value in changes.items():
        _put(sheet, page.cell(row, column + 1), value)
    last = page.max_row
    while last > sheet.heading_row and is_blank([cell.value for cell in page[last]]):
        last -= 1
    for more, cells in enumerate(added, start=1):
        for column in range(_width(sheet, changes)):
            cell = page.cell(last + more, column + 1)
            if last > sheet.heading_row:
                cell._style = copy(page.cell(last, column + 1)._style)
            if column in cells:
                _put(sheet, cell, cells[column])
    for table in page.tables.values():
        corner, _, end = table.ref.partition(":")
        if added and end.lstrip("ABCDEFGHIJKLMNOPQRSTUVWXYZ") == str(last):
            table.ref = f"{corner}:{end.rstrip('0123456789')}{last + len(added)}"
            if table.autoFilter is not None:
                table.autoFilter.ref = table.ref
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def _put(sheet: CellTable, cell: Any, value: Value) -> None:
    from openpyxl.cell.cell import MergedCell

    if isinstance(cell, MergedCell):
        says = f"{sheet.path}, row {cell.row}: {cell.coordinate} is merged with the cell above or beside it"
        raise StockError(f"{says}; part the merged cells first")
    cell.value = value
    if cell.data_type in ("f", "e"):  # a text that begins with =, or reads #REF!, stays a text
        cell.data_type = "s"
    if isinstance(value, str):
        cell.number_format = "@"  # or a later edit in the spreadsheet makes a date of 11/0


def _without_formulas(sheet: CellTable, page: Any) -> None:
    """Refuse a list whose cells are formulas: saved from here they would have no results to read."""
    for row, _ in sheet.rows:
        for column in sheet.columns.values():
            if page.cell(row, column + 1).data_type == "f":
                where = f"{sheet.path}, row {row}, column {quoted(sheet.headings[column])}"
                says = "is a formula, whose result would be lost on writing; put the number in its place"
                raise StockError(f"{where} {says}")


def cell_at(sheet: CellTable, row: int, column: int) -> Cell:
    """A cell of a row, None where the row is shorter."""
    for number, cells in sheet.rows:
        if number == row:
            return cells[column] if column < len(cells) else None
    return None
