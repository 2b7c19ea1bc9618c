"""A stock list's file as rows of cells: CSV, XLSX, ODS in.

What a cell means is not known here, save the headings, which tell where the list begins and, in a CSV,
what divides its columns. Rows are numbered as a spreadsheet numbers them.
"""

from __future__ import annotations

import csv
import datetime
import io
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from analyser.errors import StockError
from analyser.stock import words
from analyser.stock.stock import Fault

Cell = str | int | float | bool | datetime.date | datetime.time | datetime.timedelta | None

_LARGEST_FILE = 64 * 2**20  # bytes; 50,000 rows take 6 MB
_LOOK_FOR_HEADINGS_IN = 30  # rows: a title and an address may stand above the headings
_FORMULA_SIGNS = r"'*\s*[=+\-@＝＋－＠]"
_PLAIN_NUMBER = re.compile(r"[+-]?(?:\d+(?:[.,]\d+)?|[.,]\d+)")
_COMMENT = re.compile(r"#(?![0-9A-Fa-f]{3,8}$)")


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
class Sheet:
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


def load(path: Path) -> Sheet:
    """Read a list's file.

    Raises
    ------
    StockError
        If it is missing, no list, too large, locked by a password, or has no headings.
    """
    return sheet_of(path, contents(path))


def contents(path: Path) -> bytes:
    """Bytes of a list's file; raises ``StockError`` in one line where there are none to be had."""
    try:
        if path.stat().st_size > _LARGEST_FILE:
            raise StockError(f"{path} is larger than {_LARGEST_FILE >> 20} MB: too large for a stock list")
        data = path.read_bytes()
    except FileNotFoundError as error:
        raise StockError(f"{path}: there is no such file; give the path of your stock list") from error
    except IsADirectoryError as error:
        raise StockError(f"{path} is a folder; give the stock list in it") from error
    except OSError as error:
        raise StockError(f"{path} cannot be read: {error.strerror or error}") from error
    if not data.strip():
        raise StockError(
            f"{path} is empty; a stock list begins with a row of headings such as id, name, size, hex"
        )
    return data


def sheet_of(path: Path, data: bytes) -> Sheet:
    """``load`` on bytes that were read already."""
    if data.startswith(b"PK\x03\x04"):
        from analyser.stock.list import workbooks

        return workbooks.sheet_of(path, data)
    if data.startswith(b"\xd0\xcf\x11\xe0"):
        raise StockError(f"{path} is an old XLS or locked by a password; save it as XLSX or CSV without one")
    return _csv_sheet(path, data)


def _decoded(path: Path, data: bytes) -> tuple[str, str]:
    """Text and encoding of a CSV."""
    if data.startswith(b"\xef\xbb\xbf"):
        encoding = "utf-8-sig"
    elif data.startswith((b"\xff\xfe", b"\xfe\xff")):
        encoding = "utf-16-le" if data.startswith(b"\xff") else "utf-16-be"
    else:
        encoding = "utf-8"
        if b"\0" in data:
            raise StockError(f"{path} is not a table; save the stock list as CSV or XLSX")
    try:
        text = data.decode(encoding)
    except UnicodeDecodeError as error:
        if encoding != "utf-8":
            raise StockError(
                f"{path} has a broken character at byte {error.start}; save it again as UTF-8"
            ) from error
        encoding = "cp1252"
        try:
            text = data.decode(encoding)
        except UnicodeDecodeError as also:
            says = (
                f"{path} is neither UTF-8 nor Windows-1252 text; save the stock list as CSV (UTF-8) or XLSX"
            )
            raise StockError(says) from also
    # Pictures and PDFs without a zero byte decode as Windows-1252, but no table holds such signs.
    if len(re.findall(r"[\x00-\x08\x0e-\x1f]", text[:4096])) > 0:
        raise StockError(f"{path} is not a table; save the stock list as CSV or XLSX")
    return text, encoding


def _records(text: str, delimiter: str, faults: list[Fault], most: int | None = None) -> Iterator[Record]:
    """Rows of a CSV; a quotation mark that is never closed spoils its own line only."""
    lines = list(io.StringIO(text, newline=""))
    line, number, start = 0, 0, 0
    while line < len(lines) and (most is None or number < most):
        reader = csv.reader(iter(lines[line:]) if line else lines, delimiter=delimiter, strict=True)
        first, done = line, 0
        try:
            for cells in reader:
                end = start + sum(map(len, lines[first + done : first + reader.line_num]))
                number += 1
                yield Record(number, start, end, tuple(cells))
                start, done = end, reader.line_num
                if most is not None and number >= most:
                    return
            return
        except csv.Error:
            at, number = first + done, number + 1
            says, mend = (
                "has a quotation mark that is not closed",
                'write "" for a quotation mark within a cell',
            )
            faults.append(Fault(number, "", lines[at].strip(), says, mend))
            start += len(lines[at])
            line = at + 1
            if len(faults) > 200:
                return


def is_blank(cells: Sequence[Cell]) -> bool:
    """Whether no cell holds anything."""
    return all(cell is None or (isinstance(cell, str) and not cell.strip()) for cell in cells)


def is_comment(cells: Sequence[Cell]) -> bool:
    """Whether a row is a remark: it begins with ``#`` and that is no colour."""
    return bool(cells) and isinstance(cells[0], str) and bool(_COMMENT.match(cells[0].strip()))


def _known(cells: Sequence[Cell]) -> set[str]:
    return {words.heading(cell)[0] for cell in cells if isinstance(cell, str)} - {""}


def find_headings(rows: Sequence[Sequence[Cell]]) -> int | None:
    """Index of the row of headings, None if there is none: two or more are known, one the id or name."""
    best, most = None, 1
    for at, cells in enumerate(rows[:_LOOK_FOR_HEADINGS_IN]):
        known = _known(cells)
        if len(known) > most and known & {"id", "name"}:
            best, most = at, len(known)
    return best


def no_headings(path: Path) -> StockError:
    """What to say of a table without headings."""
    return StockError(
        f"{path} has no row of headings that is understood; a stock list needs at least an id or name"
        " and a colour column, such as: id, name, size, finish, hex, quantity, unit"
    )


def _csv_sheet(path: Path, data: bytes) -> Sheet:
    text, encoding = _decoded(path, data)
    told = re.match(r'"?sep=(.)"?\r?\n', text, re.IGNORECASE)
    candidates = told[1] if told else ",;\t|"
    best: tuple[int, str] = (0, ",")
    for delimiter in candidates:
        first = [record.cells for record in _records(text, delimiter, [], _LOOK_FOR_HEADINGS_IN)]
        at = find_headings(first)
        if at is not None and len(_known(first[at])) > best[0]:
            best = (len(_known(first[at])), delimiter)
    if not best[0]:
        raise no_headings(path)
    faults: list[Fault] = []
    records = tuple(_records(text, best[1], faults))
    at = find_headings([record.cells for record in records[:_LOOK_FOR_HEADINGS_IN]])
    if at is None:
        raise no_headings(path)
    found = re.search(r"\r\n|\n|\r", text)
    written = CsvText(text, encoding, best[1], found[0] if found else "\n", records)
    below = [(record.number, tuple(map(as_typed, record.cells))) for record in records[at + 1 :]]
    headings = records[at].number, tuple(map(as_typed, records[at].cells))
    return build(path, "csv", headings, below, faults, csv_text=written)


def build(
    path: Path,
    kind: str,
    heading_row: tuple[int, Sequence[Cell]],
    below: Sequence[tuple[int, tuple[Cell, ...]]],
    faults: Sequence[Fault] = (),
    *,
    csv_text: CsvText | None = None,
    sheet: str = "",
) -> Sheet:
    """Put a sheet together: its headings understood, blank rows and remarks left out."""
    number, cells = heading_row
    headings = tuple("" if cell is None else str(cell).strip("\ufeff \t\r\n") for cell in cells)
    found = list(faults)
    ranks: dict[str, tuple[int, int, str]] = {}
    for at, text in enumerate(headings):
        field, rank, rest = words.heading(text)
        if field and field in ranks and (rank == ranks[field][0] or field == "quantity"):
            says = f"gives the same as column {headings[ranks[field][1]]!r}"
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
    return Sheet(path, kind, headings, columns, rests, number, rows, tuple(found), csv_text, sheet)
