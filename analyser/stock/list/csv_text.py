"""A stock list in CSV: its encoding, its divider and its rows with their places in the text."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterator
from pathlib import Path

from analyser.errors import StockError
from analyser.stock.list.table import (
    LOOK_FOR_HEADINGS_IN,
    MOST_ROWS,
    TOO_MANY,
    CellTable,
    CsvText,
    Record,
    as_typed,
    build,
    find_headings,
    known_headings,
    no_headings,
)
from analyser.stock.stock import Fault

_MOST_CONTROLS = 3  # control characters at the beginning: another program leaves one or two in names


def sheet_of(path: Path, data: bytes) -> CellTable:
    """Read a CSV; raises ``StockError`` if it is no text or has no headings."""
    text, encoding = _decode(path, data)
    if text.count("\n") + text.count("\r") > MOST_ROWS:  # before anything is made of each
        filled = sum(1 for line in text.splitlines() if line.strip(' ,;|"\t'))
        if filled - 1 > MOST_ROWS:  # without the headings
            raise StockError(f"{path}: {TOO_MANY}")
    told = re.match(r'\ufeff?"?sep=([^\w"\r\n ])"?\r?\n', text, re.IGNORECASE)
    candidates = told[1] if told else ",;\t|"
    best: tuple[int, str] = (0, ",")
    for delimiter in candidates:
        first = [record.cells for record in _records(text, delimiter, [], LOOK_FOR_HEADINGS_IN)]
        at = find_headings(first)
        if at is not None and len(known_headings(first[at])) > best[0]:
            best = (len(known_headings(first[at])), delimiter)
    if not best[0]:
        raise no_headings(path)
    faults: list[Fault] = []
    records = tuple(_records(text, best[1], faults))
    at = find_headings([record.cells for record in records[:LOOK_FOR_HEADINGS_IN]])
    if at is None:
        raise no_headings(path)
    found = re.search(r"\r\n|\n|\r", text)
    written = CsvText(text, encoding, best[1], found[0] if found else "\n", records)
    below = [(record.number, tuple(map(as_typed, record.cells))) for record in records[at + 1 :]]
    headings = records[at].number, tuple(map(as_typed, records[at].cells))
    return build(path, "csv", headings, below, faults, csv_text=written)


def _decode(path: Path, data: bytes) -> tuple[str, str]:
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
    # Pictures and PDFs without a zero byte decode as Windows-1252, but no table holds many such signs.
    if len(re.findall(r"[\x00-\x08\x0e-\x1f]", text[:4096])) > _MOST_CONTROLS:
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
