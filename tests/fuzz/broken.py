"""Files as they should not be: cells, texts and bytes that nobody meant to write."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Sequence
from xml.sax.saxutils import escape

from hypothesis import strategies as st

HEADINGS = (
    *("id", "name", "size", "shape", "finish", "hex", "L", "a", "b", "quantity", "unit", "lot", "cost"),
    *("notes", "uncertainty", "colour", "Menge", "taille", "", "id"),
)
# What lists hold, and what reading stumbles over: formulas, dates, two readings of a number, units, signs.
TEXTS = st.one_of(
    st.sampled_from(
        ["", "-", "?", "11/0", "8.0", "1,234", "1.234,5", "~40 g", "40 g +- 2", "half", "2 x 7.5g", "1e999",
         "nan", "-3", "=1+1", "+x", "@cmd", "#REF!", "#8fa1b6", "#fff", "lab:50,0,0", "2026-03-01", "'", '"',
         '""', "a|b", "a;b", "a\tb", "a\nb", "\ufeff", "\u202e", "\x00", "\x1b[2J", "é" * 40, "9" * 400,
         "galvanised", "round"]
    ),
    st.text(max_size=12),
)  # fmt: skip
TABLES = st.integers(1, 7).flatmap(
    lambda wide: st.tuples(
        st.lists(st.sampled_from(HEADINGS), min_size=wide, max_size=wide),
        st.lists(st.lists(TEXTS, min_size=wide, max_size=wide), max_size=5),
    )
)


@st.composite
def csv_files(draw: st.DrawFn) -> bytes:
    """A list as text, its cells quoted or not, in any divider and encoding, perhaps with stray bytes."""
    heading, rows = draw(TABLES)
    divider = draw(st.sampled_from([",", ";", "\t", "|"]))
    lines = []
    for row in [heading, *rows]:
        quoted = draw(st.lists(st.booleans(), min_size=len(row), max_size=len(row)))
        cells = (
            '"' + cell.replace('"', '""') + '"' if q else cell for cell, q in zip(row, quoted, strict=True)
        )
        lines.append(divider.join(cells))
    text = draw(st.sampled_from(["\n", "\r\n", "\r"])).join(lines)
    encoding = draw(st.sampled_from(["utf-8", "utf-8-sig", "utf-16", "cp1252", "latin-1"]))
    return draw(mutated(text.encode(encoding, "replace"), most=2))


CELLS = st.one_of(TEXTS, st.none(), st.booleans(), st.integers(), st.floats(), st.datetimes(), st.dates())


@st.composite
def xlsx_files(draw: st.DrawFn) -> bytes:
    """A workbook of cells of any type."""
    from openpyxl import Workbook
    from openpyxl.utils.exceptions import IllegalCharacterError

    book = Workbook()
    heading, rows = draw(TABLES)
    book.active.append([cell if cell.isprintable() else "" for cell in heading])
    for row in rows:
        cells = [draw(CELLS) for _ in row]
        try:
            book.active.append(cells)
        except (IllegalCharacterError, ValueError):
            continue  # what the library cannot write no program has written
    stream = io.BytesIO()
    try:
        book.save(stream)
    except (IllegalCharacterError, ValueError):
        return b""
    return stream.getvalue()


@st.composite
def ods_files(draw: st.DrawFn) -> bytes:
    """A spreadsheet of the open format: cells with types and values that may not fit, repeats, spans."""
    heading, rows = draw(TABLES)
    parts = ["".join(_ods_cell(cell) for cell in heading)]
    for row in rows:
        kinds = ["string", "float", "date", "currency", "percentage", "boolean", ""]
        parts.append(
            "".join(
                _ods_cell(
                    cell,
                    draw(st.sampled_from(kinds)),
                    draw(st.sampled_from(["1", "3", "0", "-1", "x", "9" * 9])),
                )
                for cell in row
            )
        )
    inner = "".join(f"<table:table-row>{row}</table:table-row>" for row in parts)
    content = (
        '<office:document-content xmlns:office="urn:oasis:names:tc:opendocument:xmlns:office:1.0" '
        'xmlns:table="urn:oasis:names:tc:opendocument:xmlns:table:1.0" '
        'xmlns:text="urn:oasis:names:tc:opendocument:xmlns:text:1.0"><office:body><office:spreadsheet>'
        f'<table:table table:name="beads">{inner}</table:table></office:spreadsheet></office:body>'
        "</office:document-content>"
    )
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w") as archive:
        archive.writestr("mimetype", "application/vnd.oasis.opendocument.spreadsheet")
        archive.writestr("content.xml", content.encode("utf-8", "replace"))
    return stream.getvalue()


def _ods_cell(text: str, kind: str = "string", repeated: str = "1") -> str:
    shown = escape("".join(c for c in text if c >= " "), {'"': "&quot;"})
    return (
        f'<table:table-cell office:value-type="{kind}" office:value="{shown}" office:date-value="{shown}" '
        f'table:number-columns-repeated="{repeated}"><text:p>{shown}</text:p></table:table-cell>'
    )


@st.composite
def mutated(draw: st.DrawFn, data: bytes, most: int = 6) -> bytes:
    """The bytes with a few places changed, lost, doubled or zeroed."""
    for _ in range(draw(st.integers(0, most))):
        at = draw(st.integers(0, max(0, len(data) - 1)))
        size = draw(st.sampled_from([1, 1, 2, 4, 16, 200]))
        match draw(st.sampled_from(["set", "flip", "lose", "double", "zero", "cut"])):
            case "set":
                put = draw(st.binary(min_size=1, max_size=4))
                data = data[:at] + put + data[at + len(put) :]
            case "flip":
                data = (
                    data[:at]
                    + bytes(b ^ (1 << draw(st.integers(0, 7))) for b in data[at : at + 1])
                    + data[at + 1 :]
                )
            case "lose":
                data = data[:at] + data[at + size :]
            case "double":
                data = data[:at] + data[at : at + size] + data[at:]
            case "zero":
                data = data[:at] + bytes(min(size, len(data) - at)) + data[at + size :]
            case "cut":
                data = data[: max(at, 1)]
    return data


@st.composite
def mutated_lines(draw: st.DrawFn, text: str, words: Sequence[str]) -> str:
    """A text with a few of its words or lines exchanged, lost or doubled."""
    lines = text.splitlines()
    for _ in range(draw(st.integers(1, 4))):
        at = draw(st.integers(0, len(lines) - 1))
        match draw(st.sampled_from(["word", "word", "lose", "double", "move"])):
            case "word":
                parts = lines[at].split(" ")
                place = draw(st.integers(0, len(parts) - 1))
                parts[place] = draw(st.one_of(st.sampled_from(words), st.text(max_size=6)))
                lines[at] = " ".join(parts)
            case "lose" if len(lines) > 1:
                del lines[at]
            case "double":
                lines.insert(at, lines[at])
            case "move":
                lines.insert(draw(st.integers(0, len(lines) - 1)), lines.pop(at))
    return "\n".join(lines)
