"""A list written is the list meant: every kind of file read again after a write. Lists are invented."""

from __future__ import annotations

import io
import os
import time
import zipfile
from dataclasses import replace
from pathlib import Path

import numpy as np
import openpyxl
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from analyser.errors import StockError
from analyser.stock.bead import Bead
from analyser.stock.list import adding, read_back, rows, stock_list
from analyser.stock.list.table import CellTable
from analyser.stock.quantity import Quantity

DIVIDERS = (",", ";", "\t", "|")
HEADINGS = ("id", "name", "size", "hex", "quantity", "unit", "lot", "notes")
#: What a maker, a spreadsheet or an attacker may put in a name.
TEXTS = st.text(st.characters(exclude_categories=("Cs", "Cc")), min_size=1, max_size=12) | st.sampled_from(
    (
        "#old",
        "#REF!",
        "a|b",
        'a"b',
        "a;b",
        "a,b",
        "=1+1",
        "'=1",
        "-5",
        "1.5",
        "two\nlines",
        "sep=|",
        '"',
        "#abc",
    )
)


def workbook(rows: list[list[object]]) -> bytes:
    book = openpyxl.Workbook()
    for row in rows:
        book.active.append(row)
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def listed(folder: Path, kind: str) -> Path:
    path = folder / f"box.{'xlsx' if kind == 'xlsx' else 'csv'}"
    row = ["ink", "Ink", "11/0", "#102030", "5", "grams", "1", ""]
    if kind == "xlsx":
        path.write_bytes(workbook([list(HEADINGS), row]))
    else:
        path.write_text("".join(kind.join(cells) + "\n" for cells in (HEADINGS, row)), encoding="utf-8")
    for old in folder.glob("*.bak*"):
        old.unlink()
    return path


@pytest.mark.parametrize("kind", [*DIVIDERS, "xlsx"])
@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(bead_id=TEXTS, name=TEXTS, notes=TEXTS)
def test_what_is_written_is_read_or_nothing_is_written(
    tmp_path: Path, kind: str, bead_id: str, name: str, notes: str
) -> None:
    path = listed(tmp_path, kind)
    before = path.read_bytes()
    bead = Bead(
        bead_id, name, size="11/0", lab=(40.0, 10.0, -20.0), quantity=Quantity(2.5, "grams"), notes=notes
    )
    refused = False
    try:
        adding.append(path, [bead])
    except StockError:
        refused = True
    if refused:
        assert path.read_bytes() == before
        return
    first, added = stock_list.read(path).beads
    assert (first.id, first.name, first.lot) == ("ink", "Ink", "1")
    assert (added.id, added.name, added.notes) == tuple(text.strip() for text in (bead_id, name, notes))
    assert added.quantity == Quantity(2.5, "grams")


@pytest.mark.parametrize("kind", ["|", "xlsx", ","])
@pytest.mark.parametrize("text", ["a|b", "#REF!", "#old", "=1+1", "@home"])
def test_a_text_that_has_a_meaning_elsewhere_is_a_name_here(tmp_path: Path, kind: str, text: str) -> None:
    path = listed(tmp_path, kind)
    adding.append(path, [Bead(text, text, lab=(40.0, 0.0, 0.0), notes="kept")])
    added = stock_list.read(path).beads[1]
    assert (added.id, added.name, added.notes) == (text, text, "kept")


def test_the_divider_that_a_list_names_itself_is_quoted(tmp_path: Path) -> None:
    path = tmp_path / "box.csv"
    path.write_text("sep=!\nid!name!hex\nink!Ink!#102030\n")
    adding.append(path, [Bead("sea", "Sea! Sea!", lab=(40.0, 0.0, 0.0))])
    assert [bead.name for bead in stock_list.read(path).beads] == ["Ink", "Sea! Sea!"]


@pytest.mark.parametrize("kind", [",", "xlsx"])
@pytest.mark.parametrize("sign", ["\x07", "\x1b", "\x00", "\udcff"])
def test_a_sign_no_list_can_hold_is_refused_and_the_list_left_alone(
    tmp_path: Path, kind: str, sign: str
) -> None:
    path = listed(tmp_path, kind)
    before = path.read_bytes()
    with pytest.raises(StockError, match="which no list can hold; write it without"):
        adding.append(path, [Bead("sea", f"Sea{sign}", lab=(40.0, 0.0, 0.0))])
    assert path.read_bytes() == before


def test_a_control_character_from_another_program_spoils_no_list(tmp_path: Path) -> None:
    path = tmp_path / "box.csv"
    path.write_bytes(b"id,name,hex\nink,I\x07nk,#102030\nsea,Sea,#405060\n")
    assert [bead.name for bead in stock_list.read(path).beads] == ["Ink", "Sea"]


def test_rows_that_begin_with_a_hash(tmp_path: Path) -> None:
    path = tmp_path / "box.csv"
    path.write_text("id,name,hex\n# bought, at the fair,\n#old,Old rose,#aa7788\n#remark\n#\n")
    assert [bead.id for bead in stock_list.read(path).beads] == ["#old"]


def test_a_merged_cell_is_told(tmp_path: Path) -> None:
    path = listed(tmp_path, "xlsx")
    book = openpyxl.load_workbook(path)
    book.active.merge_cells("A3:H4")
    book.active["A3"] = None
    book.save(path)
    with pytest.raises(StockError, match=r"row 3: B3 is merged .*; part the merged cells first"):
        adding.append(path, [Bead("sea", "Sea", lab=(40.0, 0.0, 0.0))])


def test_a_damaged_part_of_a_workbook_is_told(tmp_path: Path) -> None:
    path = listed(tmp_path, "xlsx")
    out = io.BytesIO()
    with zipfile.ZipFile(path) as old, zipfile.ZipFile(out, "w") as new:
        for part in old.namelist():
            new.writestr(part, b"<broken" if "theme" in part or "core" in part else old.read(part))
    path.write_bytes(out.getvalue())
    with pytest.raises(StockError, match="is damaged"):
        adding.append(path, [Bead("sea", "Sea", lab=(40.0, 0.0, 0.0))])


def ods(rows: str) -> bytes:
    names = "urn:oasis:names:tc:opendocument:xmlns"
    head = "".join(f"<t:table-cell><x:p>{text}</x:p></t:table-cell>" for text in ("id", "name", "hex"))
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as packed:
        packed.writestr("mimetype", "application/vnd.oasis.opendocument.spreadsheet")
        packed.writestr(
            "content.xml",
            f'<o:d xmlns:o="{names}:office:1.0" xmlns:t="{names}:table:1.0" xmlns:x="{names}:text:1.0">'
            f'<t:table t:name="s"><t:table-row>{head}</t:table-row>{rows}</t:table></o:d>',
        )
    return out.getvalue()


@pytest.mark.parametrize(
    ("rows", "says"),
    [
        ('<t:table-row t:number-rows-repeated="-5"/>', "repeated '-5' times"),
        ('<t:table-row t:number-rows-repeated="9999999999"/>', "repeated '9999999999' times"),
        (
            '<t:table-row t:number-rows-repeated="60000">'
            '<t:table-cell t:number-columns-repeated="256"><x:p>a</x:p></t:table-cell></t:table-row>' * 50,
            "more than 100,000 rows",
        ),
    ],
)
def test_repeats_that_no_list_has(tmp_path: Path, rows: str, says: str) -> None:
    path = tmp_path / "box.ods"
    path.write_bytes(ods(rows))
    begun = time.process_time()  # what other programs take is no fault of this one
    with pytest.raises(StockError, match=says):
        stock_list.read(path)
    assert time.process_time() - begun < 5.0


@pytest.mark.parametrize(
    ("row", "count"),
    [
        (b'<row r="1048576"><c r="XFD1048576"><v>1</v></c></row>', 1),
        (b'<row r="%d"><c r="XFD%d"/></row>', 2000),
    ],
    ids=["one cell far away", "rows formatted to the edge"],
)
def test_a_workbook_that_swells_is_read_or_refused_soon(tmp_path: Path, row: bytes, count: int) -> None:
    packed, out = io.BytesIO(workbook([["id", "name", "hex"]])), io.BytesIO()
    more = row if count == 1 else b"".join(row % (at, at) for at in range(2, count + 2))
    with zipfile.ZipFile(packed) as old, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as new:
        for part in old.namelist():
            data = old.read(part)
            new.writestr(part, data.replace(b"</sheetData>", more + b"</sheetData>"))
    path = tmp_path / "box.xlsx"
    path.write_bytes(out.getvalue())
    begun = time.process_time()
    if count == 1:
        assert stock_list.read(path).beads == ()
    else:
        with pytest.raises(StockError, match="with the empty ones: no stock list"):
            stock_list.read(path)
    assert time.process_time() - begun < 10.0


@pytest.mark.parametrize("encoding", ["utf-8", "utf-16"])
@pytest.mark.parametrize("kind", ["ods", "xlsx"])
def test_entities_that_swell_are_refused_soon(tmp_path: Path, kind: str, encoding: str) -> None:
    # Nine entities of ten others each ("billion laughs", CWE-776), also where no search would see it.
    more = "".join(f'<!ENTITY e{n} "{f"&e{n - 1};" * 10}">' for n in range(1, 10))
    declared = f'<?xml version="1.0" encoding="{encoding}"?><!DOCTYPE a [<!ENTITY e0 "ink">{more}]>'
    whole = ods("") if kind == "ods" else workbook([["id"], ["ink"]])
    rows = b"</t:table-row>" if kind == "ods" else b"<sheetData>"
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(whole)) as old, zipfile.ZipFile(out, "w") as new:
        for name in old.namelist():
            part = old.read(name)
            if name in ("content.xml", "xl/worksheets/sheet1.xml"):
                part = (declared + part.replace(rows, rows + b"&e9;").decode()).encode(encoding)
            new.writestr(name, part)
    (tmp_path / f"box.{kind}").write_bytes(out.getvalue())
    begun = time.process_time()
    with pytest.raises(StockError, match=r"is damaged|document type"):
        stock_list.read(tmp_path / f"box.{kind}")
    assert time.process_time() - begun < 5.0


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="a system without named pipes")
def test_a_pipe_is_not_waited_for(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "box.csv")
    with pytest.raises(StockError, match="is a pipe or a device, not a file"):
        stock_list.read(tmp_path / "box.csv")


def full_sheet(kind: str, rows: int) -> bytes:
    """A list of so many rows that hold something, as a spreadsheet program writes it."""
    if kind == "csv":
        return b"id,name,hex\n" + b"".join(b"b%d,Bead,#808080\n" % row for row in range(rows))
    packed, out = io.BytesIO(workbook([["id", "name", "hex"]])), io.BytesIO()
    cell = b'<c t="inlineStr"><is><t>b%d</t></is></c>'
    row = b'<row r="%d"><c r="A%d"/>' + cell + b"</row>"
    more = b"".join(row % (at, at, at) for at in range(2, rows + 2))
    with zipfile.ZipFile(packed) as old, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as new:
        for part in old.namelist():
            new.writestr(part, old.read(part).replace(b"</sheetData>", more + b"</sheetData>"))
    return out.getvalue()


@pytest.mark.parametrize("kind", ["csv", "xlsx"])
def test_a_million_full_rows_are_refused_within_five_seconds(tmp_path: Path, kind: str) -> None:
    path = tmp_path / f"list.{kind}"
    path.write_bytes(full_sheet(kind, 1_000_000))
    begun = time.process_time()
    with pytest.raises(StockError, match="more than 100,000 rows"):
        stock_list.read(path)
    assert time.process_time() - begun < 5.0


def test_empty_rows_do_not_count(tmp_path: Path) -> None:
    path = tmp_path / "list.csv"
    path.write_bytes(full_sheet("csv", 3) + b",,\n" * 200_000)
    assert len(stock_list.read(path, skip_faulty=True).beads) == 3


def test_the_last_bit_of_a_colour_stops_no_writing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """On some processors a colour's last bit goes with how many are converted at once."""
    path, real = listed(tmp_path, ","), rows.read_rows

    def otherwise(table: CellTable) -> tuple[object, ...]:
        beads, *others = real(table)
        nudge = len(beads) * 1e-14
        return [replace(bead, lab=tuple(np.add(bead.lab, nudge))) for bead in beads if bead.lab], *others

    monkeypatch.setattr(read_back, "read_rows", otherwise)
    adding.append(path, [Bead("tide", "Tide", lab=(40.0, 0.0, 0.0))])
    assert [bead.id for bead in stock_list.read(path).beads] == ["ink", "tide"]
