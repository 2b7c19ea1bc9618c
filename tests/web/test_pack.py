"""Kits of kept colourways on the page: counted, carded, booked out at once and undone at once."""

from __future__ import annotations

import csv
import io
import shutil

import openpyxl
import pytest

from analyser.piece import kept


@pytest.fixture
def two(page, scarf, stock_file):
    for pair, name in ((1, "Quay"), (2, "Reef")):
        page.post("/api/kept", json={"photo": scarf, "pair": pair, "name": name}).raise_for_status()
    yield {"kept": ["quay", "reef"], "kits": [2, 3]}
    shutil.rmtree(kept.folder_of(stock_file))


def test_what_the_kits_take_is_what_their_cards_say(page, two):
    told = page.get("/api/pack", params=two).json()
    assert [card["colourway"] for card in told["cards"]] == ["Quay", "Quay", "Reef", "Reef", "Reef"]
    by_lot = {}
    for card in told["cards"]:
        for portion in card["portions"]:
            lot = portion["id"], portion["lot"]
            by_lot[lot] = by_lot.get(lot, 0) + portion["beads"]
    assert {(one["id"], one["lot"]): one["beads"] for one in told["lots"]} == by_lot
    assert all(one["left"] == one["have"] - one["beads"] for one in told["lots"])
    assert told["enough"] is True
    clasps = next(line for line in told["order"] if line["what"] == "clasp")
    assert clasps["packs"] == 5
    more = page.get("/api/pack", params={**two, "spare": 0.5}).json()
    assert more["lots"][0]["beads"] > told["lots"][0]["beads"]


def test_the_shopping_list_comes_as_csv_and_as_a_workbook(page, two):
    asked = {**two, "kits": [90, 90]}
    order = page.get("/api/pack", params=asked).json()["order"]
    rows = list(csv.DictReader(io.StringIO(page.get("/api/pack/order.csv", params=asked).text)))
    assert [row["what"] for row in rows] == [line["what"] for line in order]
    book = openpyxl.load_workbook(io.BytesIO(page.get("/api/pack/order.xlsx", params=asked).content))
    assert [row[0].value for row in book.active.iter_rows(min_row=2)] == [line["what"] for line in order]
    assert any(line["beads"] for line in order)


def test_cards_lie_eight_to_a_sheet(page, two):
    text = page.get("/api/pack/cards", params={**two, "kits": [8, 1]}).text
    assert text.count('<div class="eight">') == 2
    assert text.count('<article class="card"') == 9
    assert "Kit 9 of 9" in text
    assert text.count("Small parts") == 9
    assert text.count("data:image/jpeg") == 2  # a rope is drawn once for each colourway
    assert "<script" not in text


def test_all_is_booked_at_once_and_undone_at_once(page, two, whole_list, stock_file):
    told = page.get("/api/pack", params=two).json()
    booked = page.post("/api/pack/book", json=two).json()
    assert {(line["id"], line["lot"]): line["beads"] for line in booked["lines"]} == {
        (one["id"], one["lot"]): one["beads"] for one in told["lots"]
    }
    assert "5 kits" in booked["undo"]
    assert stock_file.read_bytes() != whole_list
    page.post("/api/stock/undo").raise_for_status()
    assert stock_file.read_bytes() == whole_list


def test_nothing_is_booked_where_one_kit_is_not_sure(page, two, whole_list, stock_file):
    asked = {**two, "kits": [1, 100]}
    told = page.get("/api/pack", params=asked).json()
    assert {one["colourway"] for one in told["missing"]} == {"Reef"}
    refused = page.post("/api/pack/book", json=asked)
    assert (refused.status_code, "nothing is booked" in refused.text) == (422, True)
    assert stock_file.read_bytes() == whole_list


@pytest.mark.parametrize(
    ("asked", "status"),
    [
        ({"kept": ["quay"], "kits": [1, 2]}, 422),
        ({"kept": ["quay"], "kits": [0]}, 422),
        ({"kept": ["no-such"], "kits": [1]}, 404),
        ({"kept": ["..%2F..%2Fstock"], "kits": [1]}, 404),
    ],
)
def test_what_does_not_fit_is_told(page, asked, status):
    assert page.get("/api/pack", params=asked).status_code == status
