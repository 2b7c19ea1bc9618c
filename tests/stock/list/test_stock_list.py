"""The stock list read: kinds of files, headings, faults. The lists are invented."""

from __future__ import annotations

import csv
import datetime
import io
import zipfile
from pathlib import Path

import numpy as np
import openpyxl
import pytest

from analyser.errors import StockError
from analyser.phrases.stock_lists import rows_in_short, rows_used
from analyser.stock.bead import FINISHES
from analyser.stock.list import booking, stock_list
from analyser.stock.quantity import Quantity

PALETTES = Path(__file__).parents[3] / "palettes"


def listed(tmp_path: Path, text: str | bytes, name: str = "stock.csv") -> Path:
    path = tmp_path / name
    path.write_bytes(text.encode() if isinstance(text, str) else text)
    return path


@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "cp1252", "utf-16"])
@pytest.mark.parametrize("newline", ["\n", "\r\n", "\r"])
def test_a_list_reads_the_same_in_every_kind_of_csv(tmp_path, delimiter, encoding, newline):
    text = "id,name,größe,finish,hex,quantity,unit,lot\nT1,Türkis é,11/0,matte,#1f6f78,12.5,grams,A\n"
    text = text.replace(",", delimiter).replace("\n", newline)
    (bead,) = stock_list.read(listed(tmp_path, text.encode(encoding))).beads
    assert (bead.id, bead.name, bead.size, bead.finish, bead.lot) == ("T1", "Türkis é", "11/0", "matte", "A")
    assert bead.quantity == Quantity(12.5, "grams")
    assert bead.row == 2


def test_headings_in_another_language_and_order_with_a_title_above_and_own_columns_kept(tmp_path):
    text = (
        "Meine Perlen;;;;;;\n\nLot;Farbe;Bezeichnung;Größe;Menge (g);Oberfläche;Schublade\n"
        "# ein Vermerk;;;;;;\n7;#e8604c;Koralle;11;2,5;matt metallisch;links oben\n"
    )
    read = stock_list.read(listed(tmp_path, text))
    (bead,) = read.beads
    assert bead.id == bead.name == "Koralle"
    assert bead.size == "11/0"
    assert bead.finishes == ("metallic", "matte")
    assert bead.quantity == Quantity(2.5, "grams")
    assert dict(bead.extra) == {"Schublade": "links oben"}
    assert bead.row == 5


def test_a_hex_colour_is_the_published_lab(tmp_path):
    # sRGB #ff0000 in CIELAB D65: 53.24, 80.09, 67.20 (IEC 61966-2-1 primaries, common tables, two decimals).
    path = listed(tmp_path, "id,hex\nr,#ff0000\n")
    np.testing.assert_allclose(stock_list.read(path).labs, [[53.24, 80.09, 67.20]], rtol=0, atol=0.02)


@pytest.mark.parametrize(
    ("cell", "lab"),
    [
        ("lab:51,-28,-9", (51, -28, -9)),
        ("lab:51.5 -28.25 -9", (51.5, -28.25, -9)),
        ("Lab(51;-28,5;-9)", (51, -28.5, -9)),
    ],
)
def test_a_colour_written_as_lab(tmp_path, cell, lab):
    assert stock_list.read(listed(tmp_path, f'id,colour\nx,"{cell}"\n')).beads[0].lab == lab


def test_lab_columns_with_three_decimals_and_commas_need_no_rule(tmp_path):
    path = listed(tmp_path, "id;L;a;b\nx;51,234;-28,125;9,500\n")
    assert stock_list.read(path).beads[0].lab == (51.234, -28.125, 9.5)


def test_a_number_that_can_be_two_is_a_fault_without_a_rule(tmp_path):
    path = listed(tmp_path, 'id,hex,quantity,unit\nx,#102030,"1,234",beads\n')
    (fault,) = stock_list.check(path)
    assert (fault.row, fault.column, fault.value) == (2, "quantity", "1,234")
    assert "1234 or 1.234" in fault.says
    read = stock_list.read(path)
    assert read.unread == (fault,)
    assert (read.beads[0].quantity, read.beads[0].amount()) == (None, None)


def test_a_row_that_cannot_be_used_is_left_out_or_refused_where_that_is_asked_for(tmp_path):
    path = listed(tmp_path, "id,hex,L,a,b\nx,,51,-28,\n")
    assert stock_list.read(path).beads == ()
    with pytest.raises(StockError, match=r"row 2, column 'b': ''.*stock check"):
        stock_list.read(path, skip_faulty=False)


@pytest.mark.parametrize(
    ("cells", "used"),
    [
        # IEC 61966-2-1: #ff0000 is Lab 53.24, 80.09, 67.20; #00ff00 is 87.73, -86.18, 83.18.
        ("#ff0000,53.24,80.09,67.20", True),
        ("#ff0000,53,80,67", True),  # whole numbers
        ("#ff0000,87.73,-86.18,83.18", False),
        ("#6bbd00,53.24,80.09,67.20", False),
        # Lab 60, -90, 60 is a green that no screen shows; #00b400 is what programs cut it to, or near it.
        ("#00b000,60,-90,60", True),
        ("#b000b0,60,-90,60", False),
        ("about red,53.24,80.09,67.20", True),
    ],
)
def test_a_hex_that_contradicts_the_lab_beside_it_leaves_its_row_out(tmp_path, cells, used):
    path = listed(tmp_path, f"id,hex,L,a,b\nx,{cells}\ny,#102030,,,\n")
    read = stock_list.read(path)
    assert [bead.id for bead in read.beads] == ["x", "y"][0 if used else 1 :]
    assert [fault.column for fault in read.left_out] == ([] if used else ["hex"])


@pytest.mark.parametrize(("other", "amount"), [("2,5", 1.234), ("2.5", 1234.0)])
def test_the_rest_of_the_column_gives_the_rule_and_it_is_told(tmp_path, other, amount):
    path = listed(tmp_path, f'id,hex,quantity,unit\nx,#102030,"1,234",grams\ny,#102030,"{other}",grams\n')
    read = stock_list.read(path)
    assert read.beads[0].quantity.amount == amount
    assert f"as '{other}' in row 3" in read.notes[0]


def test_a_column_that_contradicts_itself_gives_no_rule(tmp_path):
    text = 'id,hex,quantity,unit\nx,#102030,"1,234",grams\ny,#102030,"2,5",grams\nz,#102030,2.5,grams\n'
    assert [fault.row for fault in stock_list.check(listed(tmp_path, text))] == [2]


def test_every_fault_is_told_at_once_with_its_place(tmp_path):
    path = listed(
        tmp_path,
        "id,name,size,finish,shape,hex,quantity,unit,lot,cost\n"
        "a,A,Nov 00,matte,round,#102030,1e400,grams,1,\n"
        "b,B,11/0,sparkly,blob,#10203,-3,grams,1,free\n"
        "c,C,4,matt,round,1.2E+05,nan,grams,1,\n"
        "d,D,11/0,mettalic,round,#102030,5,furlongs,1,\n"
        ",E,11/0,matte,round,#102030,5,grams,1,\n"
        "f,F,11/0,matte,round,#102030,5,grams,1,\n"
        "F,F,11/0,matte,round,#102030,6,grams,1,\n"
        "g,G,11/0,matte,round,#102030,5,grams,1,2,50\n",
    )
    faults = [(fault.row, fault.column) for fault in stock_list.check(path)]
    assert faults == [
        (2, "size"), (2, "quantity"),
        (3, "finish"), (3, "shape"), (3, "hex"), (3, "quantity"), (3, "cost"),
        (4, "size"), (4, "hex"), (4, "quantity"),
        (5, "finish"), (5, "quantity"),
        (6, "id"), (8, "id"), (9, ""),
    ]  # fmt: skip
    assert all(fault.says and fault.mend for fault in stock_list.check(path))
    read = stock_list.read(path, skip_faulty=True)
    assert [bead.id for bead in read.beads] == ["a", "b", "c", "d", "E", "f", "F"]
    assert [(fault.row, fault.column) for fault in read.left_out] == [(9, "")]
    assert [bead.lot for bead in read.beads if bead.id in "fF"] == ["1", "1, row 8"]
    assert len(read.unread) + len(read.left_out) == len(faults)
    b = read.beads[1]
    assert (b.size, b.finishes, b.lab, b.quantity, b.cost) == (None, (), None, None, None)


def test_an_open_quotation_mark_spoils_its_own_row_only(tmp_path):
    path = listed(tmp_path, 'id,name,hex\na,"broken,#102030\nb,fine,#102030\nc,"two\nlines",#102030\n')
    read = stock_list.read(path, skip_faulty=True)
    assert [(bead.id, bead.name) for bead in read.beads] == [("b", "fine"), ("c", "two\nlines")]
    assert [fault.row for fault in read.left_out] == [2]


def test_several_lots_are_several_beads_and_find_takes_the_largest(tmp_path):
    text = "id,name,size,hex,quantity,unit,lot\na,Sea,11/0,#102030,5,g,1\na,Sea,11/0,#102131,50,g,2\n"
    text += "b,Sky,8/0,#a0c0e0,,,\n"
    read = stock_list.read(listed(tmp_path, text))
    assert [bead.lot for bead in read.lots("sea")] == ["1", "2"]
    assert read.find("A").lot == "2"
    assert read.find("a@1").lot == "1"
    assert read.find("b").amount() is None
    with pytest.raises(StockError, match="no bead 'sae'; is 'Sea' meant"):
        read.find("sae")


def test_a_name_of_two_beads_and_an_id_in_two_sizes_are_ambiguous(tmp_path):
    text = "id,name,size,hex\na,Sea,11/0,#102030\nb,Sea,11/0,#102030\n"
    text += "c,Sky,11/0,#102030\nc,Sky,8/0,#102030\n"
    read = stock_list.read(listed(tmp_path, text))
    with pytest.raises(StockError, match="several beads; give an id: a, b"):
        read.find("Sea")
    with pytest.raises(StockError, match=r"pick one: c@11/0, c@8/0"):
        read.find("c")
    assert read.find("c@8").size == "8/0"


@pytest.mark.parametrize(
    ("cells", "low", "likely", "high"),
    [
        # data/bead-sizes.csv: 11/0 round 100 to 120 a gram, cylinder 190 to 210, strung 17 to 19 an inch.
        ("11/0,round,10 g,,", 1000, 1100, 1200),
        ("11/0,cylinder,10 g,,", 1900, 2000, 2100),
        ("11/0,round,2 tubes of 7.5 g,,", 1500, 1650, 1800),
        ("11/0,round,52.3 g gross less 12.3 g,,", 4000, 4400, 4800),
        ("11/0,round,1 strand of 10 in,,", 170, 180, 190),
        ("11/0,round,2 hanks,,4000 beads", 8000, 8000, 8000),
        ("11/0,round,10 g,110,", 1067, 1100, 1133),
        ("4mm,,85 beads,,", 85, 85, 85),
        ("11/0,round,½ tube of 8 g,,", 400, 440, 480),
    ],
)
def test_beads_in_a_lot(tmp_path, cells, low, likely, high):
    path = listed(tmp_path, f"id,hex,size,shape,quantity,beads per gram,contents\nx,#102030,{cells}\n")
    assert stock_list.read(path).beads[0].amount() == (low, likely, high)


@pytest.mark.parametrize("cells", ["11/0,round,3 tubes", "4mm,,10 g", "9/0,round,10 g", "11/0,round,?"])
def test_beads_in_a_lot_that_cannot_be_known(tmp_path, cells):
    assert (
        stock_list.read(listed(tmp_path, f"id,hex,size,shape,quantity\nx,#102030,{cells}\n"))
        .beads[0]
        .amount()
        is None
    )


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (b"", "is empty"),
        (b"\n\n", "is empty"),
        (b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR", "is not a table"),
        (b"%PDF-1.7\n%\x81\x8d\x8f", "neither UTF-8 nor Windows-1252"),
        (b"PK\x03\x04broken", "is damaged"),
        (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1", "old XLS or locked"),
        (b"just some words\nand more\n", "no row of headings"),
        (b"id,nothing\n1,2\n", "no row of headings"),
    ],
)
def test_what_is_no_list_gets_one_line(tmp_path, content, says):
    with pytest.raises(StockError, match=says) as told:
        stock_list.read(listed(tmp_path, content))
    assert "\n" not in str(told.value)


def test_missing_files_and_folders_get_one_line(tmp_path):
    with pytest.raises(StockError, match="no such file"):
        stock_list.read(tmp_path / "none.csv")
    with pytest.raises(StockError, match="is a folder"):
        stock_list.read(tmp_path)


def workbook(tmp_path: Path, rows: list[list[object]]) -> Path:
    book = openpyxl.Workbook()
    book.active.title = "About"
    book.active.append(["My studio"])
    page = book.create_sheet("Beads")
    for row in rows:
        page.append(row)
    book.save(tmp_path / "stock.xlsx")
    return tmp_path / "stock.xlsx"


def test_a_workbook_with_the_list_on_its_second_sheet(tmp_path):
    rows = [
        ["Name", "Size", "Hex", "Qty (g)", "Drawer"],
        ["Teal", 11, "#1f6f78", 12.5, 3],
        [],
        ["Ink", "8/0", 123456, 1234, ""],
    ]
    read = stock_list.read(workbook(tmp_path, rows))
    assert [(bead.id, bead.size, bead.quantity.amount, bead.row) for bead in read.beads] == [
        ("Teal", "11/0", 12.5, 2),
        ("Ink", "8/0", 1234.0, 4),
    ]
    assert read.beads[0].extra["Drawer"] == "3"


def test_what_a_spreadsheet_mangles_is_told(tmp_path):
    rows = [["id", "size", "hex", "quantity", "unit"],
            ["a", datetime.datetime(2000, 11, 1), 3300, datetime.datetime(2026, 5, 1), "g"],
            ["b", "11/0", "#102030", "=A1*2", "g"]]  # fmt: skip
    faults = stock_list.check(workbook(tmp_path, rows))
    assert [(fault.row, fault.column) for fault in faults] == [
        (2, "size"),
        (2, "hex"),
        (2, "quantity"),
        (3, "quantity"),
    ]
    assert "perhaps 11/0" in faults[0].says
    assert "formula without a stored result" in faults[3].says


def test_an_ods_list(tmp_path):
    words = '<table:table-cell office:value-type="string"><text:p>{}</text:p></table:table-cell>'
    number = '<table:table-cell office:value-type="float" office:value="7.5"><text:p>7,5</text:p>'
    number += "</table:table-cell>"
    blank = '<table:table-row table:number-rows-repeated="2"><table:table-cell/></table:table-row>'
    headings = "".join(words.format(text) for text in ("id", "hex", "grams"))
    row = words.format("sea") + words.format("#102030") + number
    row += '<table:table-cell table:number-columns-repeated="1021"/>'
    urn = "urn:oasis:names:tc:opendocument:xmlns"
    spaces = " ".join(f'xmlns:{name}="{urn}:{name}:1.0"' for name in ("office", "table", "text"))
    content = (
        f"<office:document-content {spaces}><office:body><office:spreadsheet><table:table>"
        f"<table:table-row>{headings}</table:table-row>{blank}<table:table-row>{row}</table:table-row>"
        "</table:table></office:spreadsheet></office:body></office:document-content>"
    )
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w") as file:
        file.writestr("mimetype", "application/vnd.oasis.opendocument.spreadsheet")
        file.writestr("content.xml", content)
    (bead,) = stock_list.read(listed(tmp_path, packed.getvalue(), "stock.ods")).beads
    assert (bead.id, bead.quantity, bead.row) == ("sea", Quantity(7.5, "grams"), 4)


def test_the_demo_stock_is_sound_and_varied():
    read = stock_list.read(PALETTES / "demo-stock.csv")
    assert len({bead.id for bead in read.beads}) >= 96
    assert len({bead.lab for bead in read.coloured}) >= 80
    assert {kind for bead in read.beads for kind in bead.finishes} == set(FINISHES)
    assert {"15/0", "13/0", "11/0", "10/0", "8/0", "6/0"} <= {bead.size for bead in read.beads}
    assert {"round", "cylinder", "large"} == {bead.shape for bead in read.beads}
    assert any(bead.amount() is None for bead in read.beads)
    assert stock_list.read(PALETTES / "empty-stock.csv").beads == ()


def test_a_messy_list_loses_only_what_names_no_bead():
    # 150 rows of invented beads with a title, section headings, a sum, words and bare numbers for amounts.
    # One row has neither id nor name; one says a dark olive in its hex and a light one in Lab.
    path = Path(__file__).parent / "messy-stock.csv"
    read = stock_list.read(path, skip_faulty=True)
    assert len(read.beads) == 148
    assert {fault.row for fault in read.left_out} == {100, 151}
    assert not {100, 151} & {fault.row for fault in read.unread}
    assert rows_used(read).startswith(f"{path}: 148 rows used, ")
    assert "2 left out (1 x " in rows_used(read)
    # One bead stands there twice: each row is a lot of its own, and none is lost.
    first, second = (bead for bead in read.beads if bead.row in (109, 110))
    assert first.id == second.id == "clay-dawn"
    assert second.lot == ", ".join(part for part in (first.lot, "row 110") if part)
    with path.open(encoding="utf-8", newline="") as file:
        written = dict(enumerate(csv.reader(file), start=1))
    for bead in read.beads:
        amount = written[bead.row][5]
        told = [fault for fault in read.unread if fault.row == bead.row and fault.column == "Quantity"]
        if amount in ("half full", "halb voll", "ca.", "a few", "12", "25", "30", "7.5"):
            assert bead.quantity is None
            assert [fault.value for fault in told] == [amount]  # the maker's word is kept
        elif amount in ("0", "0 g"):
            assert bead.used_up
            assert not told
        elif amount not in ("", "?"):
            assert bead.quantity is not None
    assert {bead.name for bead in read.beads if bead.id == bead.name} == {"Rust dusk"}  # its id is missing
    assert read.notes == (
        "section headings passed over: rows 4, 44, 85, 125",
        "headings again passed over: row 84",
        "sum passed over: row 162",
    )


def test_of_a_bead_that_stands_there_twice_each_row_is_booked_by_itself(tmp_path):
    text = "id,size,hex,quantity\na,11/0,#102030,20 g\na,11/0,#102030,12 g\n"
    path = listed(tmp_path, text)
    second = stock_list.read(path).find("a@row 3")
    booking.book_out(path, [(second, 220)])  # 110 beads to the gram, as data/bead-sizes.csv
    assert path.read_text().splitlines()[1:] == ["a,11/0,#102030,20 g", "a,11/0,#102030,10 g"]


def test_what_was_read_is_told_by_kind_with_counts(tmp_path):
    text = "id,name,hex,quantity\na,A,#102030,12\nb,B,#102030,7\nc,C,#102030,a few\n,,#102030,5 g\n"
    path = listed(tmp_path, text)
    assert rows_used(stock_list.read(path, skip_faulty=True)) == (
        f"{path}: 3 rows used, 3 of them without what cannot be read (2 x quantity has no unit; "
        "1 x quantity is not a quantity), 1 left out (1 x id is no id); "
        f"each is told by: analyser stock check {path}"
    )
    short = "stock.csv: 3 rows used, 3 of them in part, 1 left out; see: analyser stock check"
    assert rows_in_short(stock_list.read(path)) == f"{short} {path}"
    sound = stock_list.read(listed(tmp_path, "id,hex\na,#102030\n"))
    assert rows_used(sound) == rows_in_short(sound) == ""


@pytest.mark.parametrize(
    ("rows", "ids"),
    [
        # Names that are not described yet are beads, one among described ones heads a section.
        ("a,,,\nb,,,\nc,,,\n", ["a", "b", "c"]),
        ("Matte,,,\na,11/0,#102030,5 g\nb,11/0,#102031,5 g\n", ["a", "b"]),
        ("Total eclipse,11/0,#102030,5 g\nTotal,,,5 g\n", ["Total eclipse"]),
        ("Total eclipse,,,5 g\nSumme:,,,5 g\n,,,5 g\n", ["Total eclipse"]),
    ],
)
def test_headings_and_sums_are_told_from_beads(tmp_path, rows, ids):
    read = stock_list.read(listed(tmp_path, f"id,size,hex,quantity\n{rows}"))
    assert [bead.id for bead in read.beads] == ids
