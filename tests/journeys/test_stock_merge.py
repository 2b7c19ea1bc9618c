"""Two lists become one; a colour is touched in a photo. The lists are invented."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import cv2
import numpy as np
import pytest
from coloraide import Color

from analyser.stock.list import stock_list

MINE = "id,name,size,hex,lot\na,Anchor,11/0,#102030,1\nb,Brine,11/0,,\n"
THEIRS = "Bead no;Colour hex;Größe;Lot;Menge (g);Name\na;#ffffff;11/0;1;5;Anchor\na;#112233;11/0;2;7;Anchor\n"
THEIRS += "b;#405060;11/0;;;Brine\nc;#708090;8/0;;9,5;Cove\n"


def test_beads_of_another_list_join_and_undo_takes_them_out(analyser: Callable, tmp_path: Path) -> None:
    mine, theirs = tmp_path / "mine.csv", tmp_path / "theirs.csv"
    mine.write_text(MINE, encoding="utf-8")
    theirs.write_text(THEIRS, encoding="utf-8")
    told = analyser("stock", "merge", mine, theirs, "--json", "-").answer("stock merge")
    assert (told["added"], told["filled"], told["known"]) == (["a", "c"], ["b"], ["a"])
    assert told["left_out"] == ["quantity"]
    beads = stock_list.read(mine).beads
    assert [(bead.id, bead.lot, bead.size) for bead in beads] == [
        ("a", "1", "11/0"), ("b", "", "11/0"), ("a", "2", "11/0"), ("c", "", "8/0"),
    ]  # fmt: skip
    assert "#102030" in mine.read_text(encoding="utf-8").splitlines()[1]  # what was there stays
    assert theirs.read_text(encoding="utf-8") == THEIRS
    again = analyser("stock", "merge", mine, theirs, "--json", "-").answer("stock merge")
    assert (again["added"], again["filled"], len(again["known"])) == ([], [], 4)
    assert analyser("stock", "undo", mine).code == 0
    assert mine.read_text(encoding="utf-8") == MINE
    assert analyser("stock", "undo", mine, "--steps", "2").code == 2


def test_a_touched_colour_is_told_with_its_nearest_beads(analyser: Callable, tmp_path: Path) -> None:
    picture = np.full((400, 600, 3), 128, np.uint8)
    picture[100:300, 200:400] = (200, 40, 30)
    cv2.imwrite(str(tmp_path / "patch.png"), picture[..., ::-1])
    (tmp_path / "mine.csv").write_text("id,hex\nred,#c8281e\ngrey,#808080\n", encoding="utf-8")
    spots = ("--spot", "300,200", "--spot", "50,50")
    told = analyser(
        *("palette", "patch.png", "--calibration", "none", *spots, "--stock", "mine.csv", "--json", "-")
    ).answer("palette")
    red, grey = told["spots"]
    by_coloraide = Color("#c8281e").convert("lab-d65").coords()  # a second library
    assert red["colour"]["lab"] == pytest.approx(by_coloraide, abs=0.1)
    assert (red["beads"][0]["id"], grey["beads"][0]["id"]) == ("red", "grey")
    outside = analyser("palette", "patch.png", "--spot", "700,20")
    assert outside.code == 2
    assert "lies outside the photo of 600 x 400" in outside.err
