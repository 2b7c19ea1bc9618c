"""Colours for rows that are there, columns that a list lacks, further lots. The lists are invented."""

from __future__ import annotations

import datetime

import openpyxl
import pytest
from openpyxl.styles import PatternFill

from analyser.errors import StockError
from analyser.stock.bead import Bead
from analyser.stock.list import adding, agreed, stock_list

DAY = datetime.date(2026, 3, 1)
RED = (53.24, 80.09, 67.20)  # CIELAB of #ff0000 (IEC 61966-2-1), two decimals


def red(bead_id: str, **more: object) -> Bead:
    return Bead(bead_id, bead_id, lab=RED, uncertainty_de00=1.5, **more)  # type: ignore[arg-type]  # several types


def test_an_empty_colour_is_filled_without_being_asked_for_and_the_doubt_is_written(tmp_path):
    path = tmp_path / "mine.csv"
    path.write_text("id;name;colour;drawer\na;Anchor;sea blue;3\nb;Brine;moss;4;\n", encoding="utf-8")
    done = adding.append(path, [red("a")], today=DAY)
    assert (done.added, done.filled, done.replaced) == ((), ("a",), ())
    assert done.columns == ("hex", "uncertainty")
    # Words stay where they are, and the columns come behind the longest row.
    assert path.read_text(encoding="utf-8").splitlines() == [
        "id;name;colour;drawer;;hex;uncertainty",
        "a;Anchor;sea blue;3;;#ff0000;1,5",  # divided by semicolons, decimals take a comma
        "b;Brine;moss;4;",
    ]
    bead = stock_list.read(path).beads[0]
    assert (bead.uncertainty_de00, dict(bead.extra)["drawer"]) == (1.5, "3")


def test_a_colour_that_is_there_is_replaced_on_request_and_kept(tmp_path):
    path = tmp_path / "mine.csv"
    path.write_text("id,hex\na,#102030\n", encoding="utf-8")
    with pytest.raises(StockError, match=r"'a' is in .* already \(row 2\) and has a colour"):
        adding.append(path, [red("a")])
    (row,) = stock_list.read(path).beads
    done = adding.append(path, (), fills=[adding.Fill(row, RED, 1.5, replace=True)], today=DAY)
    assert done.replaced == ("a",)
    assert path.read_text(encoding="utf-8").splitlines() == [
        "id,hex,uncertainty,notes",
        "a,#ff0000,1.5,colour until 2026-03-01: #102030",
    ]
    with pytest.raises(StockError, match="any more as it was seen"):
        adding.append(path, (), fills=[adding.Fill(red("gone"), RED, 1.5)])


def test_a_guess_by_fill_is_replaced_like_an_empty_cell_and_the_workbook_keeps_its_sheet(tmp_path):
    path = tmp_path / "mine.xlsx"
    book = openpyxl.Workbook()
    for cells in (["id", "grams", "hex"], ["a", 5], ["b", 6], ["c", 7]):
        book.active.append(cells)
    for row, fill in ((2, "FFAA0000"), (3, "FF00AA00"), (4, "FF0000AA")):
        book.active.cell(row, 3).fill = PatternFill("solid", start_color=fill)
    book.active["G1"] = "=SUM(B2:B4)"
    book.save(path)
    agreed.keep(path, "fills", True)
    assert all(bead.guessed for bead in stock_list.read(path).beads)
    done = adding.append(path, [red("b")])
    assert (done.filled, done.replaced) == (("b",), ())
    page = openpyxl.load_workbook(path).active
    assert [cell.value for cell in page[3]][:4] == ["b", 6, "#ff0000", None]
    assert page["G1"].value == "=SUM(B2:B4)"  # nothing is put between, so what points there still does
    assert [bead.guessed for bead in stock_list.read(path).beads] == [True, False, True]


def test_a_further_lot_or_size_of_an_id_is_asked_about(tmp_path):
    path = tmp_path / "mine.csv"
    path.write_text("id,size,lot,hex,uncertainty\na,11/0,1,#102030,1\n", encoding="utf-8")
    before = path.read_bytes()
    for bead in (red("A", lot="2"), red("a", lot="1", size="8/0")):
        with pytest.raises(adding.FurtherLotError, match=r"already, as 11/0, lot 1, row 2"):
            adding.append(path, [bead], further=False)
    assert path.read_bytes() == before
    assert adding.append(path, [red("a", lot="2")], further=True).added == ("a",)


def test_another_list_joins_and_gives_colours_to_beads_without_one(tmp_path):
    path = tmp_path / "mine.csv"
    path.write_text("id,hex\na,#102030\nb,\n", encoding="utf-8")
    merged = adding.merge(path, [red("a"), red("b"), red("c")])
    assert merged.written is not None
    assert (merged.written.added, merged.written.filled, merged.known) == (("c",), ("b",), ("a",))
    assert adding.merge(path, [red("a")]) == adding.Merged(None, ("a",))
