"""Which bead of the list a heap may be: those without a colour first, the nearest names before the others."""

from __future__ import annotations

from pathlib import Path

import pytest

from analyser.errors import StockError
from analyser.stock.bead import Bead
from analyser.stock.stock import Stock
from analyser.tray import filling
from analyser.tray.naming import PileName


def test_beads_without_a_colour_come_first_and_the_nearest_name_before_the_others():
    # CIELAB of sRGB primaries (IEC 61966-2-1): red 53, 80, 67; blue 32, 79, -108.
    beads = [
        Bead("k1", "Known red", lab=(53, 80, 67)),
        Bead("g1", "Gull"),
        Bead("b1", "Bright blue, matte"),
        Bead("r1", "Sunset", extra={"Farbe": "red"}),
        Bead("k2", "Known blue", lab=(32, 79, -108)),
        Bead("f1", "Fern", lab=(52, 78, 60), guessed=True),
    ]
    red = [bead.id for bead in filling.candidates((53, 80, 67), beads)]
    assert set(red[:2]) == {"f1", "r1"}
    assert red[2:] == ["b1", "g1", "k1", "k2"]
    blue = [bead.id for bead in filling.candidates((32, 79, -108), beads)]
    assert blue[0] == "b1"
    assert blue[-2:] == ["k2", "k1"]


def test_a_line_means_the_one_lot_that_has_no_colour_or_must_say_which():
    beads = (Bead("a", "A", lot="1", lab=(50, 0, 0)), Bead("a", "A", lot="2"), Bead("a", "A", "8/0", lot="3"))
    held = Stock(Path("mine.csv"), beads[:2])
    assert filling.row_named(held, PileName("a", "a")).lot == "2"
    assert filling.row_named(held, PileName("a", "a", "1")).lot == "1"
    with pytest.raises(StockError, match="no lot '9'"):
        filling.row_named(held, PileName("a", "a", "9"))
    with pytest.raises(StockError, match=r"3 lots; write which is meant: a;;1, a;;2, a;;3"):
        filling.row_named(Stock(Path("mine.csv"), beads), PileName("a", "a"))
