"""A piece booked out of the list, with its card, and taken back."""

import json
import shutil

import jsonschema
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
