"""Fill colours of a workbook's cells: where each bead's cell is painted, a first guess of its colour.

Bands and headings are painted too, but in a few colours again and again; beads differ from row to row.

Sources
-------
[1] ECMA-376-1 (2016), 18.8.3 bgColor and 18.8.27 indexedColors: indexed and theme colours and their tint,
which is of lightness in HLS: L (1 + tint) below zero, L (1 - tint) + tint above it.
[2] OASIS (2021), OpenDocument 1.3, part 3: fo:background-color of style:table-cell-properties,
style:parent-style-name, table:default-cell-style-name of rows and columns.
"""

from __future__ import annotations

import colorsys
import io
import re
import warnings
import zipfile
from collections.abc import Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, Any

from analyser.stock.list.table import CellTable

if TYPE_CHECKING:
    from xml.etree.ElementTree import Element

_LEAST = 3
"""Colours that differ from each other: two are the bands of a table."""

_THEME = ("lt1", "dk1", "lt2", "dk2", *(f"accent{n}" for n in range(1, 7)), "hlink", "folHlink")
"""A theme's colours in the order of their numbers in a cell's style."""

_URN = "urn:oasis:names:tc:opendocument:xmlns"
_TABLE, _STYLE = f"{{{_URN}:table:1.0}}", f"{{{_URN}:style:1.0}}"
_FO = f"{{{_URN}:xsl-fo-compatible:1.0}}"
_NAME = f"{_TABLE}name"
_GENERATIONS = 8
"""Styles that a style may go by, one after the other; a ring of them ends."""

_FIELDS = ("colour", "name", "id", "L")


def of(table: CellTable, data: bytes) -> dict[tuple[int, int], str]:
    """Hex digits of the fills that can be the beads' colours, by row number and column.

    Parameters
    ----------
    table : CellTable
        The list, an XLSX or ODS.
    data : bytes
        The workbook.

    Returns
    -------
    dict of (int, int) to str
        Of one column, that of the colours, else of names or ids; empty where its fills are few.
    """
    columns = [table.columns[field] for field in _FIELDS if field in table.columns]
    painted: dict[int, dict[tuple[int, int], str]] = {column: {} for column in columns}
    cells = _of_xlsx(table, data, columns) if table.kind == "xlsx" else _of_ods(table, data, columns)
    for number, column, digits in cells:
        painted[column][number, column] = digits
    for fills in painted.values():
        different = len(set(fills.values()))
        if different >= _LEAST and 2 * different >= len(fills):
            return fills
    return {}


def _of_xlsx(table: CellTable, data: bytes, columns: Sequence[int]) -> Iterator[tuple[int, int, str]]:
    """Row, column and digits of the painted cells."""
    import openpyxl

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # of styles and extensions that are passed over
        book: Any = openpyxl.load_workbook(io.BytesIO(data), read_only=True)
    if sum(fill.fill_type == "solid" for fill in book._fills) < _LEAST:
        return
    theme = _theme_of(book)
    numbers = {number for number, _ in table.rows}
    page: Any = book[table.sheet]
    page.reset_dimensions()
    for number, cells in enumerate(page.iter_rows(), start=1):
        if number in numbers:
            for column in columns:
                if column < len(cells) and (digits := _digits(cells[column], theme)):
                    yield number, column, digits


def _of_ods(table: CellTable, data: bytes, columns: Sequence[int]) -> Iterator[tuple[int, int, str]]:
    """Row, column and digits of the painted cells; a cell without a style has its row's or column's [2]."""
    from xml.etree import ElementTree

    with zipfile.ZipFile(io.BytesIO(data)) as packed:
        parts = [packed.read(part) for part in ("styles.xml", "content.xml") if part in packed.namelist()]
    if any(b"<!DOCTYPE" in part for part in parts):
        return
    trees = [ElementTree.fromstring(part) for part in parts]
    styles = {
        style.get(f"{_STYLE}name", ""): style for tree in trees for style in tree.iter(f"{_STYLE}style")
    }
    sheet = next((one for one in trees[-1].iter(f"{_TABLE}table") if one.get(_NAME, "") == table.sheet), None)
    if sheet is None or sum(1 for style in styles.values() if _own_ground(style)) < _LEAST:
        return
    by_column: list[str] = []
    for part in sheet.iter(f"{_TABLE}table-column"):
        times = min(int(part.get(f"{_TABLE}number-columns-repeated", "1")), max(columns, default=0) + 1)
        by_column += [part.get(f"{_TABLE}default-cell-style-name", "")] * times
    numbers = {number for number, _ in table.rows}
    number = 0
    for row in sheet.iter(f"{_TABLE}table-row"):
        repeated = int(row.get(f"{_TABLE}number-rows-repeated", "1"))
        if number + 1 in numbers:  # a row that stands there several times is the list's each time
            of_row = row.get(f"{_TABLE}default-cell-style-name", "")
            names = _style_names(row, max(columns, default=0) + 1)
            for column in columns:
                own = names[column] if column < len(names) else ""
                style = own or of_row or (by_column[column] if column < len(by_column) else "")
                if digits := _ground(style, styles):
                    yield from ((at, column, digits) for at in range(number + 1, number + 1 + repeated))
        number += repeated


def _style_names(row: Element, most: int) -> list[str]:
    """Names of the styles of a row's first cells."""
    names: list[str] = []
    for cell in row:
        if cell.tag in (f"{_TABLE}table-cell", f"{_TABLE}covered-table-cell") and len(names) < most:
            times = min(int(cell.get(f"{_TABLE}number-columns-repeated", "1")), most)
            names += [cell.get(f"{_TABLE}style-name", "")] * times
    return names


def _own_ground(style: Element) -> str:
    """What a style itself says of the ground of a cell."""
    told = style.find(f"{_STYLE}table-cell-properties")
    return "" if told is None else told.get(f"{_FO}background-color", "")


def _ground(name: str, styles: Mapping[str, Element]) -> str:
    """Hex digits of a style's ground or of that which it goes by, empty where there is none."""
    for _ in range(_GENERATIONS):
        style = styles.get(name)
        if style is None:
            return ""
        if ground := _own_ground(style):
            return ground[1:].lower() if re.fullmatch("#[0-9A-Fa-f]{6}", ground) else ""
        name = style.get(f"{_STYLE}parent-style-name", "")
    return ""


def _digits(cell: Any, theme: tuple[str, ...]) -> str:
    """Hex digits of a cell's fill, empty where it has none."""
    from openpyxl.styles.colors import COLOR_INDEX

    if not getattr(cell, "has_style", False) or cell.fill.fill_type != "solid":
        return ""
    colour = cell.fill.start_color
    if colour.type == "rgb":
        digits = str(colour.rgb)[-6:]
    elif colour.type == "indexed" and colour.indexed < len(COLOR_INDEX):
        digits = COLOR_INDEX[colour.indexed][-6:]
    elif colour.type == "theme" and colour.theme < len(theme):
        digits = theme[colour.theme]
    else:
        return ""
    return _tinted(digits.lower(), colour.tint) if re.fullmatch("[0-9A-Fa-f]{6}", digits) else ""


def _theme_of(book: Any) -> tuple[str, ...]:
    from xml.etree import ElementTree

    text = getattr(book, "loaded_theme", None)
    if not text or b"<!DOCTYPE" in text:
        return ()
    drawing = "{http://schemas.openxmlformats.org/drawingml/2006/main}"
    scheme = next(ElementTree.fromstring(text).iter(f"{drawing}clrScheme"), None)
    if scheme is None:
        return ()
    told = {
        part.tag.removeprefix(drawing): colour.get("lastClr") or colour.get("val") or ""
        for part in scheme
        for colour in part
    }
    return tuple(told.get(name, "") for name in _THEME)


def _tinted(digits: str, tint: float) -> str:
    if not tint:
        return digits
    red, green, blue = (int(digits[at : at + 2], 16) / 255 for at in (0, 2, 4))
    hue, lightness, saturation = colorsys.rgb_to_hls(red, green, blue)
    lightness = lightness * (1 + tint) if tint < 0 else lightness * (1 - tint) + tint
    tinted = colorsys.hls_to_rgb(hue, min(1.0, max(0.0, lightness)), saturation)
    return "".join(f"{round(255 * part):02x}" for part in tinted)
