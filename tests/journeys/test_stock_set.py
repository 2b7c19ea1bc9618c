"""One cell of the list, set from the command line and taken back."""

from __future__ import annotations

import openpyxl
import pytest

LIST = (
    "id,name,size,hex,Left,lot,drawer\n"
    "sea,Sea,11/0,#104050,20 g,1,blue\n"
    "sea,Sea,11/0,#104152,8 g,2,blue\n"
    "sand,Sand,11/0,#d0b080,5 g,1,\n"
)


@pytest.fixture
def mine(tmp_path):
    path = tmp_path / "mine.csv"
    path.write_text(LIST, encoding="utf-8")
    return path


def test_a_cell_is_set_by_its_heading_or_by_what_it_holds_and_taken_back(analyser, mine):
    told = analyser("stock", "set", mine, "sea@2", "quantity", "6.5 g", "--json", "-").answer("stock set")
    assert (told["row"], told["column"], told["before"], told["after"]) == (3, "Left", "8 g", "6.5 g")
    assert mine.read_text(encoding="utf-8") == LIST.replace("8 g", "6.5 g")
    said = analyser("stock", "set", mine, "sand", "drawer", "yellow, left")
    assert "sand, lot 1: drawer empty → yellow, left" in said.out
    assert '"yellow, left"' in mine.read_text(encoding="utf-8")
    analyser("stock", "undo", mine, "--steps", "2")
    assert mine.read_text(encoding="utf-8") == LIST


def test_a_number_of_a_workbook_stays_one(analyser, tmp_path):
    book = openpyxl.Workbook()
    for row in (("id", "hex", "grams"), ("sea", "#104050", 20)):
        book.active.append(row)
    book.save(tmp_path / "mine.xlsx")
    analyser("stock", "set", "mine.xlsx", "sea", "grams", "18.5")
    assert openpyxl.load_workbook(tmp_path / "mine.xlsx").active["C2"].value == 18.5


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (("sea", "lot", "3"), "sea has 2 lots; say which: sea@1, sea@2"),
        (("sand", "hex", "reddish"), "'reddish' is not a colour"),
        (("sand", "shelf", "3"), "mine.csv: there is no column 'shelf'; there are id, name, size"),
        (("send", "lot", "3"), "is 'sand' meant?"),
    ],
)
def test_what_cannot_be_set_is_one_line_and_changes_nothing(analyser, mine, arguments, says):
    ended = analyser("stock", "set", mine.name, *arguments)
    assert ended.code == 2
    assert says in ended.err
    assert len(ended.err.splitlines()) == 1
    assert mine.read_text(encoding="utf-8") == LIST
    assert not mine.with_name("mine.csv.bak").exists()
