"""What a list leaves open is asked, what is agreed is kept beside it and read so. The lists are invented."""

from __future__ import annotations

import csv
import zipfile
from pathlib import Path

import openpyxl
import pytest
from openpyxl.styles import PatternFill
from openpyxl.styles.colors import Color

from analyser.errors import OptionError, StockError
from analyser.phrases import stock_lists as phrases
from analyser.stock.list import agreed, booking, stock_list
from analyser.stock.list.fault_groups import grouped
from analyser.stock.quantity import Quantity

MESSY = Path(__file__).parent / "messy-stock.csv"


def listed(tmp_path: Path, text: str) -> Path:
    path = tmp_path / "mine.csv"
    path.write_text(text, encoding="utf-8")
    return path


def test_nothing_is_guessed_until_it_is_agreed_and_then_nothing_is_asked(tmp_path):
    path = listed(
        tmp_path, "id,size,hex,quantity\na,Nov 00,#102030,12\nb,8/0,#102031,ca. 7\nc,11. Nov,,3 g\n"
    )
    read = stock_list.read(path)
    assert [(one.kind, one.cells) for one in read.questions] == [("unit", 2), ("dates", 2)]
    assert [bead.size for bead in read.beads] == [None, "8/0", None]
    assert [bead.quantity for bead in read.beads] == [None, None, Quantity(3.0, "grams")]
    agreed.keep(path, "unit", "beads")
    agreed.keep(path, "dates", "sizes")
    read = stock_list.read(path)
    assert read.questions == ()
    assert read.unread == ()
    assert [bead.size for bead in read.beads] == ["11/0", "8/0", "11/0"]
    assert [str(bead.quantity) for bead in read.beads] == ["12 beads", "7 beads", "3 grams"]
    assert phrases.agreed(read.agreed) == [
        "numbers without a unit are beads",
        "dates among the sizes are the sizes they were typed as",
    ]


def test_that_an_amount_is_not_known_can_be_agreed_too(tmp_path):
    path = listed(tmp_path, "id,hex,quantity\na,#102030,12\n")
    agreed.keep(path, "unit", "unknown")
    read = stock_list.read(path)
    assert (read.questions, read.unread, read.beads[0].quantity) == ((), (), None)


def test_answers_are_kept_for_this_list_alone_and_the_rest_of_the_file_stays(tmp_path):
    file = tmp_path / "analyser.toml"
    file.write_text('motif = "chenille"  # mine\n', encoding="utf-8")
    path = listed(tmp_path, "id,finish,hex,quantity\na,sparkly,#102030,12\n")
    agreed.keep(path, "unit", "grams")
    agreed.keep(path, "finish:Sparkly", "lustre")
    text = file.read_text(encoding="utf-8")
    assert text.startswith('motif = "chenille"  # mine\n')
    assert agreed.kept(tmp_path / "other.csv") == agreed.Agreed()
    assert stock_list.read(path).beads[0].finishes == ("lustre",)
    agreed.keep(path, "unit", None)
    agreed.keep(path, "finish:sparkly", None)
    assert [one.kind for one in stock_list.read(path).questions] == ["unit"]
    assert stock_list.read(path).beads[0].finishes == ()


@pytest.mark.parametrize(
    ("kind", "value", "says"),
    [
        ("unit", "furlongs", "unit is one of grams, beads"),
        ("colour", "red", "sheet, unit, dates, fills or FIELD:WORD"),
        ("finish:sparkly", "blorpy", "is not a known finish"),
        ("hex:grey", "#808080", "a column of finish, size"),
    ],
)
def test_what_cannot_be_agreed_is_refused(tmp_path, kind, value, says):
    with pytest.raises(OptionError, match=says):
        agreed.keep(tmp_path / "mine.csv", kind, value)
    assert not (tmp_path / "analyser.toml").exists()


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ('[list."mine.csv"]\nunit = "furlongs"\n', "unit must be one of"),
        ('[list."mine.csv"]\nunits = "grams"\n', "no setting 'units'"),
        ('[list."mine.csv".words.hex]\na = "b"\n', "words must hold tables"),
        ("list = 3\n", "table for each list"),
        ("[list\n", "cannot be read as TOML"),
    ],
)
def test_a_file_that_says_what_cannot_be_is_told_in_one_line(tmp_path, text, says):
    (tmp_path / "analyser.toml").write_text(text, encoding="utf-8")
    with pytest.raises(OptionError, match=says):
        stock_list.read(listed(tmp_path, "id,hex\na,#102030\n"))


def test_faults_are_told_by_kind_with_one_mend_for_all():
    groups = grouped(stock_list.check(MESSY))
    told = {(one.column, one.takes[0]): len(one.rows) for one in groups if one.takes}
    # As written into the list of invented beads: 34 bare numbers, 10 dates, 24 and 16 words of its own.
    assert told["Quantity", "unit"] == 34
    assert told["Size", "dates"] == 10
    assert told["Finish", "finish:sparkly"] == 24
    assert told["Size", "size:medium"] == 16
    (bare,) = [one for one in groups if one.takes == ("unit",)]
    assert phrases.group(bare).startswith("34 x Quantity has no unit: '12' (9), '25' (9)")
    assert phrases.mend_all(bare) == ["unit=grams"]


def test_all_of_a_messy_list_is_mended_by_a_few_answers(tmp_path):
    path = tmp_path / "mine.csv"
    path.write_bytes(MESSY.read_bytes())
    before = len(stock_list.check(path))
    for kind, value in [
        ("unit", "grams"), ("dates", "sizes"), ("finish:sparkly", "lustre"), ("size:medium", "11/0"),
        ("quantity:half full", "10 g"), ("quantity:halb voll", "10 g"), ("quantity:ca.", "10 g"),
        ("quantity:a few", "2 g"), ("cost:gift", "0"), ("cost:free", "0"),
    ]:  # fmt: skip
        agreed.keep(path, kind, value)
    read = stock_list.read(path)
    assert before > 160
    assert [fault.column for fault in read.unread] == ["Id", "Hex", "Hex", "Id", "Hex"]
    assert not read.questions
    assert path.read_bytes() == MESSY.read_bytes()


def test_a_messy_workbook_asks_each_kind_once(tmp_path):
    """The same list on one of two sheets, every third colour as a cell's fill instead of its digits."""
    book = openpyxl.Workbook()
    book.active.title = "Beads"
    with MESSY.open(encoding="utf-8", newline="") as file:
        for number, cells in enumerate(csv.reader(file), start=1):
            book.active.append([cell or None for cell in cells])
            code = cells[4]
            if number % 3 == 0 and len(code) == 7 and code.startswith("#"):
                cell = book.active.cell(number, 5)
                cell.value, cell.fill = None, PatternFill("solid", start_color=f"FF{code[1:]}")
    old = book.create_sheet("Old box")
    old.append(["Id", "Hex"])
    old.append(["gone", "#102030"])
    path = tmp_path / "mine.xlsx"
    book.save(path)
    asked = {one.kind: one.cells for one in stock_list.read(path).questions}
    assert asked.keys() == {"sheet", "unit", "dates", "fills"}
    assert (asked["unit"], asked["dates"]) == (34, 10)
    assert asked["fills"] > 40
    for kind, value in (("sheet", "Beads"), ("unit", "grams"), ("dates", "sizes"), ("fills", True)):
        agreed.keep(path, kind, value)
    read = stock_list.read(path)
    assert not read.questions
    assert len(read.beads) == 148
    assert sum(bead.guessed for bead in read.beads) == asked["fills"]
    assert {bead.size for bead in read.beads if bead.guessed} >= {"11/0", "8/0"}


def test_beads_are_booked_out_of_an_amount_that_is_read_as_agreed(tmp_path):
    path = listed(tmp_path, "id,size,hex,quantity\na,11/0,#102030,20\nb,11/0,#102030,half full\n")
    agreed.keep(path, "unit", "grams")
    agreed.keep(path, "quantity:half full", "10 g")
    one, two = stock_list.read(path).beads
    booking.book_out(path, [(one, 220), (two, 110)])  # 110 beads to the gram, as data/bead-sizes.csv
    assert path.read_text(encoding="utf-8").splitlines()[1:] == [
        "a,11/0,#102030,18",
        "b,11/0,#102030,9 g",
    ]


def workbook(tmp_path: Path, **sheets: list[list[object]]) -> Path:
    book = openpyxl.Workbook()
    book.remove(book.active)
    for name, rows in sheets.items():
        page = book.create_sheet(name)
        for row in rows:
            page.append(row)
    book.save(tmp_path / "mine.xlsx")
    return tmp_path / "mine.xlsx"


def test_of_several_sheets_the_one_agreed_is_the_list(tmp_path):
    head = ["id", "size", "hex"]
    path = workbook(
        tmp_path,
        Old=[head, ["a", "11/0", "#102030"]],
        Empty=[head],
        Notes=[["nothing here"]],
        Now=[head, ["b", "8/0", "#405060"]],
    )
    read = stock_list.read(path)
    assert [bead.id for bead in read.beads] == ["a"]
    assert [(one.kind, one.shown) for one in read.questions] == [("sheet", ("Old", "Now"))]
    agreed.keep(path, "sheet", "Now")
    read = stock_list.read(path)
    assert [bead.id for bead in read.beads] == ["b"]
    assert read.questions == ()
    agreed.keep(path, "sheet", "Gone")
    with pytest.raises(StockError, match=r"no list on a sheet 'Gone'.*Old, Now.*--take sheet=NAME"):
        stock_list.read(path)


def painted(tmp_path: Path, fills: list[Color | str], column: int = 3) -> Path:
    path = workbook(tmp_path, Beads=[["id", "size", "hex"], *([f"b{n}", "11/0"] for n in range(len(fills)))])
    book = openpyxl.load_workbook(path)
    for row, fill in enumerate(fills, start=2):
        book.active.cell(row, column).fill = PatternFill("solid", start_color=fill)
    book.save(path)
    return path


@pytest.mark.parametrize("column", [1, 3])
def test_the_cells_fills_are_a_first_guess_of_the_colours_where_that_is_agreed(tmp_path, column):
    # IEC 61966-2-1: #ff0000 is Lab 53.24, 80.09, 67.20. Theme colour 4 (accent1) of openpyxl's own theme is
    # 4F81BD; a tint of 0.4 lightens its HLS lightness to L 0.6 + 0.4 (ECMA-376-1, 18.8.19): 95B3D7.
    path = painted(tmp_path, ["FFFF0000", Color(theme=4, tint=0.4), Color(indexed=17)], column)
    read = stock_list.read(path)
    assert [(one.kind, one.cells) for one in read.questions] == [("fills", 3)]
    assert read.questions[0].shown[:2] == ("#ff0000", "#95b3d7")
    assert [bead.lab for bead in read.beads] == [None] * 3
    agreed.keep(path, "fills", True)
    read = stock_list.read(path)
    assert read.beads[0].lab == pytest.approx((53.24, 80.09, 67.20), abs=0.02)
    assert all(bead.guessed and bead.uncertainty_de00 == 10 for bead in read.beads)
    agreed.keep(path, "fills", False)
    assert [bead.lab for bead in stock_list.read(path).beads] == [None] * 3


def opened_document(tmp_path: Path) -> Path:
    """Painted as OpenDocument 1.3 part 3 has it: by a cell's style, its parent, its row's, its column's."""
    urn = "urn:oasis:names:tc:opendocument:xmlns"
    of = {"fo": "xsl-fo-compatible"} | {name: name for name in ("office", "table", "text", "style")}
    spaces = " ".join(f'xmlns:{name}="{urn}:{full}:1.0"' for name, full in of.items())
    ground = (
        '<style:style style:name="{}" style:family="table-cell" {}>'
        "<style:table-cell-properties {}/></style:style>"
    )
    named = ground.format("Sea", "", 'fo:background-color="#00FF00"')
    own = [
        ground.format("ce1", "", 'fo:background-color="#ff0000"'),
        ground.format("ce2", 'style:parent-style-name="Sea"', ""),
        ground.format("ce3", "", 'fo:background-color="#0000ff"'),
        ground.format("ce4", "", 'fo:background-color="#ffff00"'),
        ground.format("ce5", "", 'fo:background-color="transparent"'),
    ]

    cell = "<table:table-cell><text:p>{}</text:p></table:table-cell>"

    def row(texts: str, style: str = "", of_row: str = "") -> str:
        cells = "".join(cell.format(text) for text in texts.split())
        styled = f'table:style-name="{style}"' if style else ""
        default = f'table:default-cell-style-name="{of_row}"' if of_row else ""
        return f"<table:table-row {default}>{cells}<table:table-cell {styled}/></table:table-row>"

    rows = (
        row("id size hex")
        + row("a 11/0", "ce1") + row("b 11/0", "ce2") + row("c 11/0", of_row="ce3") + row("d 11/0")
        + row("e 11/0", "ce5")
    )  # fmt: skip
    columns = '<table:table-column table:number-columns-repeated="2"/>'
    columns += '<table:table-column table:default-cell-style-name="ce4"/>'
    path = tmp_path / "painted.ods"
    with zipfile.ZipFile(path, "w") as file:
        file.writestr("mimetype", "application/vnd.oasis.opendocument.spreadsheet")
        file.writestr(
            "styles.xml",
            f"<office:document-styles {spaces}><office:styles>{named}</office:styles>"
            "</office:document-styles>",
        )
        file.writestr(
            "content.xml",
            f"<office:document-content {spaces}>"
            f"<office:automatic-styles>{''.join(own)}</office:automatic-styles>"
            f'<office:body><office:spreadsheet><table:table table:name="Beads">{columns}{rows}</table:table>'
            "</office:spreadsheet></office:body></office:document-content>",
        )
    return path


def test_fills_of_an_open_document_are_a_first_guess_too(tmp_path):
    path = opened_document(tmp_path)
    (question,) = stock_list.read(path).questions
    assert (question.kind, question.cells) == ("fills", 4)
    assert question.shown[:3] == ("#ff0000", "#00ff00", "#0000ff")
    agreed.keep(path, "fills", True)
    held = {bead.id: bead.lab for bead in stock_list.read(path).beads}
    # IEC 61966-2-1: #ff0000, #00ff00, #0000ff and #ffff00 in Lab.
    assert held["a"] == pytest.approx((53.24, 80.09, 67.20), abs=0.02)
    assert held["b"] == pytest.approx((87.73, -86.18, 83.18), abs=0.02)
    assert held["c"] == pytest.approx((32.30, 79.19, -107.86), abs=0.02)
    assert held["d"] == pytest.approx((97.14, -21.55, 94.48), abs=0.02)
    assert held["e"] is None


def test_bands_of_a_table_are_no_beads(tmp_path):
    assert stock_list.read(painted(tmp_path, ["FFEEEEEE", "FFDDDDDD"] * 10)).questions == ()
    bands = ["FFEEEEEE", "FFDDDDDD", "FFEEEEEE", "FFDDDDDD", "FFEEEEEE", "FFDDDDDD", "FFFFFF00"]
    assert stock_list.read(painted(tmp_path, bands)).questions == ()
