"""A stock list as rows of cells, whatever file it came from.

What a cell means is not known here, save the headings, which tell where the list begins. Rows are numbered
as a spreadsheet numbers them.
"""

from __future__ import annotations

import datetime
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from analyser.errors import StockError, quoted
from analyser.stock import words
from analyser.stock.list.agreed import Agreed
from analyser.stock.stock import Fault

Cell = str | int | float | bool | datetime.date | datetime.time | datetime.timedelta | None

_FORMULA_SIGNS = r"'*\s*[=+\-@＝＋－＠]"
_PLAIN_NUMBER = re.compile(r"[+-]?(?:\d+(?:[.,]\d+)?|[.,]\d+)")
_COLOUR = re.compile(r"#[0-9A-Fa-f]{3,8}")
_CONTROLS = dict.fromkeys([*range(9), 11, 12, *range(14, 32), 127])
MOST_ROWS = 100_000  # of one sheet that hold something; a stock of many lives has fewer
TOO_MANY = f"it holds more than {MOST_ROWS:,} rows: no stock list"
LOOK_FOR_HEADINGS_IN = 30  # rows: a title and an address may stand above the headings


@dataclass(frozen=True, slots=True)
class Record:
    """One row of a CSV as it stands in the text.

    Attributes
    ----------
    number : int
        1 is the first.
    start, end : int
        Its place in the text, line ending included.
    cells : tuple of str
    """

    number: int
    start: int
    end: int
    cells: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class CsvText:
    """A CSV's text and how it is written, so that it can be written on in the same way."""

    text: str
    encoding: str
    delimiter: str
    newline: str
    records: tuple[Record, ...]


@dataclass(frozen=True, slots=True)
class CellTable:
    """A stock list's rows.

    Attributes
    ----------
    path : Path
    kind : str
        ``"csv"``, ``"xlsx"`` or ``"ods"``.
    headings : tuple of str
        As written.
    columns : dict of str to int
        Column of each field that is there.
    rests : dict of str to str
        What a field's heading says beside its name: a unit, ``per 10 g``.
    heading_row : int
        Its number.
    rows : tuple of (int, tuple of cells)
        Number and cells of each row below the headings; blank and comment rows left out.
    faults : tuple of Fault
        Of the sheet itself: rows that cannot be told apart, columns named twice.
    csv_text : CsvText or None
        For a CSV.
    sheet : str
        Name of the spreadsheet's sheet.
    sheets : tuple of str
        Of a workbook, all sheets that can be the list.
    fills : dict of (int, int) to str
        Of a workbook, hex digits of the fills that can be the beads' colours, by row number and column.
    agreed : Agreed
        What its maker said of it.
    """

    path: Path
    kind: str
    headings: tuple[str, ...]
    columns: dict[str, int]
    rests: dict[str, str]
    heading_row: int
    rows: tuple[tuple[int, tuple[Cell, ...]], ...]
    faults: tuple[Fault, ...]
    csv_text: CsvText | None = None
    sheet: str = ""
    sheets: tuple[str, ...] = ()
    fills: Mapping[tuple[int, int], str] = field(default_factory=dict)
    agreed: Agreed = field(default_factory=Agreed)


def text_of(cell: Cell) -> str:
    """What a cell shows."""
    if cell is None:
        return ""
    if isinstance(cell, bool):
        return "yes" if cell else "no"
    if isinstance(cell, float):
        return str(int(cell)) if cell.is_integer() and abs(cell) < 1e15 else repr(cell)
    return str(cell).translate(_CONTROLS).strip()


def harmless(text: str) -> str:
    """A text for a spreadsheet's cell that no program runs as a formula.

    An apostrophe goes before a text that begins with ``=``, ``+``, ``-`` or ``@`` (blanks and apostrophes
    before it do not hide it); a plain number stays. ``as_typed`` takes it off again.

    Examples
    --------
    >>> harmless("=1+1"), harmless("-12.5"), as_typed(harmless("@home"))
    ("'=1+1", '-12.5', '@home')
    """
    return f"'{text}" if re.match(_FORMULA_SIGNS, text) and not _PLAIN_NUMBER.fullmatch(text) else text


def as_typed(text: str) -> str:
    """Undo ``harmless``."""
    return text[1:] if text.startswith("'") and re.match(_FORMULA_SIGNS, text[1:]) else text


def is_blank(cells: Sequence[Cell]) -> bool:
    """Whether no cell holds anything."""
    return all(cell is None or (isinstance(cell, str) and not cell.strip()) for cell in cells)


def is_comment(cells: Sequence[Cell]) -> bool:
    """Whether a row is a remark: it begins with ``#`` and a blank, or holds nothing but a text with ``#``."""
    if not cells or not isinstance(cells[0], str) or not cells[0].lstrip().startswith("#"):
        return False
    text = cells[0].strip()
    return text[1:2].isspace() or (is_blank(cells[1:]) and not _COLOUR.fullmatch(text))


def known_headings(cells: Sequence[Cell]) -> set[str]:
    """The fields that a row of headings names."""
    return {words.heading(cell)[0] for cell in cells if isinstance(cell, str)} - {""}


def find_headings(rows: Sequence[Sequence[Cell]]) -> int | None:
    """Index of the row of headings, None if there is none: two or more are known, one the id or name."""
    best, most = None, 1
    for at, cells in enumerate(rows[:LOOK_FOR_HEADINGS_IN]):
        known = known_headings(cells)
        if len(known) > most and known & {"id", "name"}:
            best, most = at, len(known)
    return best


def no_headings(path: Path) -> StockError:
    """What to say of a table without headings."""
    return StockError(
        f"{path} has no row of headings that is understood; a stock list needs at least an id or name"
        " and a colour column, such as: id, name, size, finish, hex, quantity, unit"
    )


def build(
    path: Path,
    kind: str,
    heading_row: tuple[int, Sequence[Cell]],
    below: Sequence[tuple[int, tuple[Cell, ...]]],
    faults: Sequence[Fault] = (),
    *,
    csv_text: CsvText | None = None,
    sheet: str = "",
) -> CellTable:
    """Put a sheet together: its headings understood, blank rows and remarks left out."""
    number, cells = heading_row
    headings = tuple("" if cell is None else str(cell).strip("\ufeff \t\r\n") for cell in cells)
    found = list(faults)
    ranks: dict[str, tuple[int, int, str]] = {}
    for at, text in enumerate(headings):
        field, rank, rest = words.heading(text)
        if field and field in ranks and (rank == ranks[field][0] or field == "quantity"):
            says = f"gives the same as column {quoted(headings[ranks[field][1]])}"
            found.append(Fault(number, text, text, says, "rename or delete one of the two columns"))
        if field and (field not in ranks or rank < ranks[field][0]):
            ranks[field] = (rank, at, rest)
    columns = {field: at for field, (_, at, _) in ranks.items()}
    if 0 < len(columns.keys() & {"L", "a", "b"}) < 3:
        if "L" in columns:
            says, mend = "is there without all of L, a and b", "give all three columns, or one column hex"
            found.append(Fault(number, headings[columns["L"]], headings[columns["L"]], says, mend))
        columns = {field: at for field, at in columns.items() if field not in ("L", "a", "b")}
    rows = tuple((n, row) for n, row in below if not is_blank(row) and not is_comment(row))
    rests = {field: rest for field, (_, _, rest) in ranks.items() if rest}
    return CellTable(path, kind, headings, columns, rests, number, rows, tuple(found), csv_text, sheet)
