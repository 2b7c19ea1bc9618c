"""A piece booked out of the list, with its card, and taken back."""

import csv
import json
import shutil

import jsonschema
import openpyxl
import pytest

from analyser.colour.spaces import hex_to_lab
from analyser.report import schemas


@pytest.fixture
def box(demo_stock, tmp_path):
    shutil.copy(demo_stock, tmp_path / "box.csv")
    return tmp_path / "box.csv"


def test_a_piece_is_booked_out_and_taken_back(analyser, box, tmp_path):
    before = box.read_bytes()
    told = analyser(
        "stock", "use", "box.csv", "--accent", "coral-dusk", "--body", "teal-deep", "--rounds", "140",
        "--notes", "for the fair", "--json", "-",
    ).answer("stock use")  # fmt: skip
    # Common practice, no source: 140 rounds of chenille are 444 accent and 846 body beads.
    assert [line["beads"] for line in told["taken"]] == [444, 846]
    card = (tmp_path / told["card_file"]).read_text(encoding="utf-8")
    assert "lot 14" in card
    assert "for the fair" in card
    assert box.read_bytes() != before
    ended = analyser("stock", "undo", "box.csv", "--json", "-")
    jsonschema.validate(json.loads(ended.out), schemas.load("stock undo"))
    assert box.read_bytes() == before


def test_more_than_a_lot_holds_is_booked_nowhere(analyser, box, tmp_path):
    before = box.read_bytes()
    ended = analyser(
        "stock", "use", "box.csv", "--accent", "coral-dusk", "--body", "teal-deep", "--rounds", "9000"
    )
    assert ended.code == 2
    assert len(ended.err.splitlines()) == 1
    assert box.read_bytes() == before
    assert not list(tmp_path.glob("piece-*"))


def test_without_beads_it_says_what_to_give(analyser, box):
    ended = analyser("stock", "use", "box.csv")
    assert ended.code == 2
    assert "--accent" in ended.err


def test_the_lot_that_is_judged_is_the_lot_that_is_booked(analyser, tmp_path):
    (tmp_path / "box.csv").write_text(
        "id,name,size,hex,quantity,lot\n"
        "sea,Sea,11/0,#102030,28 g,weighed\nsea,Sea,11/0,#104050,3000 beads,counted\n"
        "sand,Sand,11/0,#d8c8a0,40 g,one\n"
    )
    judged = analyser("contrast", "sand", "sea", "--stock", "box.csv", "--json", "-").answer("contrast")
    booked = analyser(
        "stock", "use", "box.csv", "--accent", "sand", "--body", "sea", "--rounds", "140", "--json", "-"
    ).answer("stock use")
    assert judged["pair"]["body_lab"] == pytest.approx(hex_to_lab("#104050"))
    assert [line["lot"] for line in booked["taken"]] == ["one", "counted"]


CLASS = (
    "--colourway", "Coral: accent=coral-dusk, body=teal-deep x2",
    "--colourway", "Sand: accent=driftwood, body=teal-deep x1", "--length", "10cm",
)  # fmt: skip


def test_a_class_is_booked_out_at_once_and_undone_at_once(analyser, box, tmp_path):
    before = box.read_bytes()
    counted = analyser("count", *CLASS, "--stock", "box.csv", "--json", "-").answer("count")
    told = analyser("stock", "use", "box.csv", *CLASS, "--json", "-").answer("stock use")
    assert told["kits"] == len(told["cards"]) == 3
    assert told["card"] is None
    assert told["cards"] == counted["cards"]
    # What is booked is what is in the bags, lot by lot.
    bags: dict[tuple[str, str | None], int] = {}
    for card in told["cards"]:
        for portion in card["portions"]:
            key = portion["id"], portion["lot"]
            bags[key] = bags.get(key, 0) + portion["beads"]
    assert {(line["id"], line["lot"]): line["beads"] for line in told["taken"]} == bags
    text = (tmp_path / told["card_file"]).read_text(encoding="utf-8")
    assert [f"Kit {k} of 3" in text for k in (1, 2, 3)] == [True] * 3
    assert box.read_bytes() != before
    analyser("stock", "undo", "box.csv")
    assert box.read_bytes() == before


def test_a_class_that_the_stock_does_not_serve_is_booked_nowhere(analyser, box, tmp_path):
    before = box.read_bytes()
    beads = ("--accent", "coral-dusk", "--body", "teal-deep")
    ended = analyser("stock", "use", "box.csv", *beads, "--kits", "200")
    assert ended.code == 2
    assert len(ended.err.splitlines()) == 1
    assert "of the kits; nothing is booked" in ended.err
    assert box.read_bytes() == before
    assert not list(tmp_path.glob("class-*"))


@pytest.mark.parametrize("ending", ["csv", "xlsx"])
def test_the_shopping_list_as_a_file(analyser, tmp_path, ending):
    (tmp_path / "box.csv").write_text("id,name,size,hex,quantity\nsea,=SEA(),11/0,#102030,1 g\n")
    file = tmp_path / f"order.{ending}"
    beads = ("--accent", "sea", "--body", "sea", "--kits", "4")
    order = ("--order", file.name, "--json", "-")
    told = analyser("count", *beads, "--stock", "box.csv", *order).answer("count")
    if ending == "csv":
        rows = list(csv.reader(file.read_text(encoding="utf-8").splitlines()))
    else:
        sheet = openpyxl.load_workbook(file).active
        rows = [["" if cell is None else str(cell) for cell in row] for row in sheet.values]
    assert rows[0] == ["what", "packs", "pack", "beads", "grams", "note"]
    assert [int(row[1]) for row in rows[1:]] == [line["packs"] for line in told["order"]]
    assert rows[1][0] == "'=SEA() (sea)"
    assert rows[1][3] == str(told["order"][0]["beads"])
    readable = analyser("count", *beads, "--stock", "box.csv").out
    assert f"{rows[1][3]} beads, {float(rows[1][4]):.1f} g" in readable


def test_a_shopping_list_of_another_kind_is_refused(analyser, tmp_path):
    ended = analyser("count", "--order", "order.pdf")
    assert ended.code == 2
    assert ".csv or .xlsx" in ended.err
    assert not (tmp_path / "order.pdf").exists()
