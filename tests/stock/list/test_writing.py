"""The stock list written: added to, booked out of, never broken. The lists are invented."""

from __future__ import annotations

import dataclasses
import datetime
import os
import signal
import subprocess
import sys
from pathlib import Path

import numpy as np
import openpyxl
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from analyser.colour.gamut import lab_to_hex
from analyser.errors import StockError
from analyser.phrases import reckoning
from analyser.stock.bead import Bead
from analyser.stock.list import adding, stock_list, table, writing
from analyser.stock.list import booking as stock_booking
from analyser.stock.quantity import Cost, Quantity

HEADINGS = "id,name,size,shape,finish,hex,uncertainty,quantity,unit,lot,cost,notes,drawer\n"
SEA = Bead(
    "sea", "Sea", "11/0", "matte", ("matte",), (51.0, -28.0, -9.0), quantity=Quantity(20, "grams"), lot="2"
)
DAY = datetime.date(2026, 5, 4)


def listed(tmp_path: Path, text: str, encoding: str = "utf-8") -> Path:
    path = tmp_path / "stock.csv"
    path.write_bytes(text.encode(encoding))
    return path


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "cp1252"])
@pytest.mark.parametrize("newline", ["\n", "\r\n"])
def test_adding_leaves_every_byte_that_was_there(tmp_path, encoding, newline):
    text = '# Perlen Größe\n\nLot;"Hex";Name;Menge (g);Wo\n1;#102030;"Ti""nte";2,5;=1+1\n\n# Ende'
    path = listed(tmp_path, text.replace("\n", newline), encoding)
    before = path.read_bytes()
    written = adding.append(path, [dataclasses.replace(SEA, name="=Sea")])
    assert path.read_bytes().startswith(before)
    row = f"{newline}2;{lab_to_hex(SEA.lab)[0]};'=Sea;20 grams;{newline}"
    assert path.read_bytes()[len(before) :].decode(encoding) == row
    assert written.backup is not None
    assert written.backup.read_bytes() == before
    assert written.added == ("sea",)
    assert set(written.left_out) == {"id", "size", "finish"}
    assert [bead.name for bead in stock_list.read(path).beads] == ['Ti"nte', "=Sea"]


def test_a_list_that_is_not_there_is_begun(tmp_path):
    adding.append(tmp_path / "new.csv", [SEA])
    (bead,) = stock_list.read(tmp_path / "new.csv").beads
    assert (bead.id, bead.size, bead.finishes, bead.quantity, bead.lot) == (
        "sea",
        "11/0",
        ("matte",),
        SEA.quantity,
        "2",
    )


def test_a_bead_that_is_there_is_recoloured_only_on_request_and_its_old_colour_kept(tmp_path):
    path = listed(tmp_path, HEADINGS + "sea,Sea,11/0,,matte,#336699,,5,grams,2,,old jar,3\n")
    before = path.read_bytes()
    with pytest.raises(StockError, match=r"'sea' is in .* already \(row 2\)"):
        adding.append(path, [SEA])
    assert path.read_bytes() == before
    adding.append(path, [SEA], replace_colours=True, today=DAY)
    (bead,) = stock_list.read(path).beads
    np.testing.assert_allclose(bead.lab, SEA.lab, rtol=0, atol=0.5)
    assert bead.notes == "old jar; colour until 2026-05-04: #336699"
    assert (bead.quantity, bead.extra["drawer"]) == (Quantity(5, "grams"), "3")


def test_a_colour_beyond_srgb_is_written_whole(tmp_path):
    adding.append(tmp_path / "new.csv", [dataclasses.replace(SEA, lab=(60.0, -70.0, -20.0))])
    assert stock_list.read(tmp_path / "new.csv").beads[0].lab == (60.0, -70.0, -20.0)


TEXT = st.text(
    st.characters(codec="utf-8", exclude_categories=["C", "Zl", "Zp"]), min_size=1, max_size=12
).map(str.strip)
NAME = TEXT.filter(lambda text: text and not text.startswith("#") and text not in {"?", "-", "–", "—"})
CENTS = st.integers(0, 10**6).map(lambda value: value / 100)
BEADS = st.builds(
    Bead,
    id=NAME.map(lambda text: f"b{text}"),
    name=NAME,
    size=st.sampled_from(["11/0", "15/0", "8/0"]),
    finish=st.just("metallic"),
    finishes=st.just(("metallic", "matte")),
    lab=st.tuples(st.integers(20, 80), st.integers(-20, 20), st.integers(-20, 20)),
    shape=st.sampled_from(["round", "cylinder"]),
    quantity=st.none()
    | st.builds(Quantity, CENTS, st.sampled_from(["grams", "beads"]))
    | st.builds(Quantity, CENTS, st.sampled_from(["tubes", "hanks", "strands"]), CENTS.filter(bool)),
    lot=NAME,
    cost=st.none()
    | st.builds(Cost, CENTS)
    | st.builds(Cost, CENTS, st.just("€"), st.just(10.0), st.just("grams")),
    notes=NAME,
    uncertainty_de00=st.none() | CENTS,
    extra=st.fixed_dictionaries({"drawer": NAME, "=odd": NAME}),
)


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    beads=st.lists(BEADS, min_size=1, max_size=4, unique_by=lambda bead: bead.id.casefold()),
    delimiter=st.sampled_from([",", ";", "\t"]),
    workbook=st.booleans(),
)
def test_a_round_trip_keeps_all_columns(tmp_path, beads, delimiter, workbook):
    headings = [*HEADINGS.strip().split(","), "=odd"]
    path = tmp_path / ("stock.xlsx" if workbook else "stock.csv")
    if workbook:
        book = openpyxl.Workbook()
        book.active.append(headings[:-1])
        book.active.cell(1, len(headings), "=odd").data_type = "s"
        book.save(path)
    else:
        path.write_text(delimiter.join([*headings[:-1], "'=odd"]) + "\n", encoding="utf-8")
    adding.append(path, beads)
    back = stock_list.read(path).beads
    for before, after in zip(beads, back, strict=True):
        np.testing.assert_allclose(after.lab, before.lab, rtol=0, atol=0.6)  # eight-bit hex
        assert dataclasses.replace(after, lab=before.lab, row=0, extra={}) == dataclasses.replace(
            before, extra={}
        )
        assert after.extra == before.extra


@given(st.text(max_size=8) | st.from_regex(r"'*[=+\-@].*", fullmatch=True))
def test_harmless_is_undone_and_no_formula_is_left(text):
    out = table.harmless(text)
    assert table.as_typed(out) == text
    assert out[:1] not in "=@" or not out


def test_a_workbook_keeps_its_other_sheets_and_its_formats(tmp_path):
    book = openpyxl.Workbook()
    page = book.active
    page.append(["id", "hex", "Qty (g)"])
    page.append(["ink", "#102030", 12.5])
    page["A2"].font = openpyxl.styles.Font(bold=True)
    book.create_sheet("Sums")["B2"] = "=1+1"
    path = tmp_path / "stock.xlsx"
    book.save(path)
    adding.append(path, [dataclasses.replace(SEA, id="=sea")])
    again = openpyxl.load_workbook(path)
    assert again["Sums"]["B2"].value == "=1+1"
    assert again.worksheets[0]["A2"].font.bold
    assert again.worksheets[0]["A3"].data_type == "s"
    assert stock_list.read(path).beads[1].id == "=sea"


BOOKED = HEADINGS + (
    "a,A,11/0,,,#102030,,20,grams,1,,,\n"
    "b,B,11/0,,,#102030,,3 tubes of 10 g,,1,,,\n"
    "c,C,11/0,,,#102030,,52.5 g gross less 12.5 g,,1,,,\n"
    "d,D,4mm,,,#102030,,85,beads,1,,,\n"
    "e,E,11/0,,,#102030,,½ kg,,1,,,\n"
    "f,F,11/0,,,#102030,,?,,1,,,\n"
)


def test_booking_out_in_each_row_s_own_unit(tmp_path):
    path = listed(tmp_path, BOOKED)
    beads = stock_list.read(path).beads
    # 110 beads to the gram is the middle of the table's range for 11/0 round.
    booking = stock_booking.book_out(
        path, [(bead, n) for bead, n in zip(beads[:5], (1100, 1100, 1100, 5, 1100), strict=True)]
    )
    assert [line.after for line in booking.lines] == [
        "10",
        "2 tubes of 10 g",
        "42.5 g gross less 12.5 g",
        "80",
        "0.49 kg",
    ]
    assert booking.lines[0].left == (900, 1100, 1300)
    # A bare number is told with what it counts; a cell that says it itself, as it stands.
    told = [reckoning.booked(line).partition(": ")[2] for line in booking.lines]
    assert [told[0], told[1], told[3]] == ["20 → 10 g", "3 tubes of 10 g → 2 tubes of 10 g", "85 → 80 beads"]
    assert booking.backup is not None
    assert booking.backup.read_text(encoding="utf-8") == BOOKED


@pytest.mark.parametrize(
    ("cost", "quantity", "written"),
    [
        ("3.50", "28 g", "3.50 per 28 grams"),
        ("EUR 9", "3 tubes of 8 g", "EUR 9 per 3 tubes"),
        ("4", "500 beads", "4 per 500 beads"),
        ("6", "4 strands of 50 cm", "6 per 4 strands"),
    ],
)
def test_a_price_stays_that_of_what_was_bought(tmp_path, cost, quantity, written):
    path = listed(tmp_path, f"id,size,quantity,cost\nsea,11/0,{quantity},{cost}\n")
    (full,) = stock_list.read(path).beads
    each = full.cost_of(100)
    for _ in range(2):
        (bead,) = stock_list.read(path).beads
        stock_booking.book_out(path, [(bead, 150)])
    assert path.read_text().splitlines()[1].endswith(f",{written}")
    (bead,) = stock_list.read(path).beads
    # What is written back is rounded to a hundredth of a tube or strand, and whole beads are counted.
    assert bead.cost_of(100) == pytest.approx(each, rel=0.005)


def test_a_price_without_its_amount_is_written_into_a_workbook_with_it(tmp_path):
    book = openpyxl.Workbook()
    book.active.append(["id", "size", "quantity (g)", "cost"])
    book.active.append(["sea", "11/0", 28, 3.5])
    book.save(tmp_path / "stock.xlsx")
    (bead,) = stock_list.read(tmp_path / "stock.xlsx").beads
    stock_booking.book_out(tmp_path / "stock.xlsx", [(bead, 1100)])
    (less,) = stock_list.read(tmp_path / "stock.xlsx").beads
    assert less.cost == Cost(3.5, "", 28, "grams")
    assert less.cost_of(100) == pytest.approx(bead.cost_of(100), rel=0.005)


def test_a_tube_is_left_to_a_hundredth(tmp_path):
    path = listed(tmp_path, "id,size,quantity\nsea,11/0,3 tubes of 8 g\n")
    (bead,) = stock_list.read(path).beads
    assert stock_booking.book_out(path, [(bead, 190)]).lines[0].after == "2.78 tubes of 8 g"


def test_booking_out_more_than_there_is_books_nothing(tmp_path):
    path = listed(tmp_path, BOOKED)
    beads = stock_list.read(path).beads
    with pytest.raises(StockError, match=r"row 2: 'a' of lot '1' holds 2200 beads, 2400 at most; 2401"):
        stock_booking.book_out(path, [(beads[3], 5), (beads[0], 2401)])
    with pytest.raises(StockError, match="row 7: how many beads 'f' of lot '1' holds is not known"):
        stock_booking.book_out(path, [(beads[5], 1)])
    assert path.read_text(encoding="utf-8") == BOOKED
    assert stock_booking.book_out(path, [(beads[0], 2300)]).lines[0].after == "0"


def test_restoring_swaps_the_list_with_its_backup(tmp_path):
    path = listed(tmp_path, BOOKED)
    adding.append(path, [SEA])
    writing.restore(path)
    assert path.read_text(encoding="utf-8") == BOOKED
    writing.restore(path)
    assert stock_list.read(path).find("sea").lot == "2"


def test_a_list_behind_a_link_is_written_where_it_lies(tmp_path):
    real = listed(tmp_path, HEADINGS)
    link = tmp_path / "link.csv"
    link.symlink_to(real)
    adding.append(link, [SEA])
    assert link.is_symlink()
    assert len(stock_list.read(real).beads) == 1


@pytest.mark.parametrize("mark", [".~lock.stock.csv#", "~$stock.csv"])  # one program's, and another's
def test_a_list_open_in_a_spreadsheet_program_is_not_written(tmp_path, mark):
    path = listed(tmp_path, HEADINGS)
    (tmp_path / mark).write_text("")
    with pytest.raises(StockError, match="open in a spreadsheet program"):
        adding.append(path, [SEA])
    assert path.read_text(encoding="utf-8") == HEADINGS


@pytest.mark.skipif(os.name == "nt" or os.geteuid() == 0, reason="the superuser may write everywhere")
def test_a_folder_that_cannot_be_written_gets_one_line(tmp_path):
    path = listed(tmp_path, HEADINGS)
    tmp_path.chmod(0o500)
    try:
        with pytest.raises(StockError, match="cannot be written: Permission denied"):
            adding.append(path, [SEA])
    finally:
        tmp_path.chmod(0o700)


ADD = """
import sys
from analyser.stock.list import adding, writing
from analyser.phrases import reckoning
from analyser.stock.bead import Bead
for n in range(int(sys.argv[3])):
    adding.append(sys.argv[1], [Bead(f"{sys.argv[2]}{n}", "x", lab=(50.0, 0.0, 0.0))])
"""


def test_processes_that_add_at_once_lose_no_row(tmp_path):
    path = listed(tmp_path, HEADINGS)
    running = [subprocess.Popen([sys.executable, "-c", ADD, path, who, "12"]) for who in ("a", "b", "c")]
    assert [process.wait(60) for process in running] == [0, 0, 0]
    assert sorted(bead.id for bead in stock_list.read(path).beads) == sorted(
        f"{who}{n}" for who in "abc" for n in range(12)
    )


KILLED = """
import os, signal
seen = 0
whole = os.{step}
def dies(*given, **more):
    global seen
    seen += 1
    if seen == {when}:
        os.kill(os.getpid(), signal.SIGKILL)
    return whole(*given, **more)
os.{step} = dies
"""


@pytest.mark.skipif(os.name == "nt", reason="needs SIGKILL")
@pytest.mark.parametrize(
    ("step", "when"),
    [*(("fsync", 1), ("fsync", 2)), *(("replace", k) for k in (1, 4, 5, 6)), ("fsync", 3)],
)
def test_a_process_killed_in_the_middle_leaves_the_old_list_or_the_new(tmp_path, step, when):
    path = listed(tmp_path, HEADINGS + "ink,Ink,11/0,,,#102030,,5,grams,1,,,\n")
    adding.append(path, [dataclasses.replace(SEA, id="first")])
    before = path.read_bytes()
    code = KILLED.format(step=step, when=when) + ADD
    killed = subprocess.run([sys.executable, "-c", code, path, "new", "1"], check=False)
    ids = [bead.id for bead in stock_list.read(path).beads]
    assert killed.returncode == -signal.SIGKILL
    # The sixth replacing is that of the list itself, after those of its backups; then the folder is synced.
    assert ids == (["ink", "first", "new0"] if (step, when) == ("fsync", 3) else ["ink", "first"])
    assert path.read_bytes().startswith(before)
    adding.append(path, [SEA])  # nothing is left that stands in the way
    assert stock_list.read(path).find("sea").lot == "2"
