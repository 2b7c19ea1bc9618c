"""Fill colours of a workbook's cells: where each bead's cell is painted, a first guess of its colour.

Bands and headings are painted too, but in a few colours again and again; beads differ from row to row.

Sources
-------
ECMA-376-1 (2016), 18.8.3 bgColor and 18.8.27 indexedColors: indexed and theme colours and their tint, which
is of lightness in HLS: L (1 + tint) below zero, L (1 - tint) + tint above it.
"""

from __future__ import annotations

import colorsys
import io
import re
import warnings
from typing import Any

from analyser.stock.list.table import CellTable

_LEAST = 3
"""Colours that differ from each other: two are the bands of a table."""

_THEME = ("lt1", "dk1", "lt2", "dk2", *(f"accent{n}" for n in range(1, 7)), "hlink", "folHlink")
"""A theme's colours in the order of their numbers in a cell's style."""

_FIELDS = ("colour", "name", "id", "L")


def of(table: CellTable, data: bytes) -> dict[tuple[int, int], str]:
    """Hex digits of the fills that can be the beads' colours, by row number and column.

    Parameters
    ----------
    table : CellTable
        The list, an XLSX.
    data : bytes
        The workbook.

    Returns
    -------
    dict of (int, int) to str
        Of one column, that of the colours, else of names or ids; empty where its fills are few.
    """
    import openpyxl

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # of styles and extensions that are passed over
        book: Any = openpyxl.load_workbook(io.BytesIO(data), read_only=True)
    if sum(fill.fill_type == "solid" for fill in book._fills) < _LEAST:
        return {}
    theme = _theme_of(book)
    columns = [table.columns[field] for field in _FIELDS if field in table.columns]
    numbers = {number for number, _ in table.rows}
    page: Any = book[table.sheet]
    page.reset_dimensions()
    found: dict[int, dict[tuple[int, int], str]] = {column: {} for column in columns}
    for number, cells in enumerate(page.iter_rows(), start=1):
        if number in numbers:
            for column in columns:
                if column < len(cells) and (digits := _digits(cells[column], theme)):
                    found[column][number, column] = digits
    for painted in found.values():
        different = len(set(painted.values()))
        if different >= _LEAST and 2 * different >= len(painted):
            return painted
    return {}


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
