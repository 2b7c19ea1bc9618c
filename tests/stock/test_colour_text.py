"""Colours as makers give them."""

from pathlib import Path

import pytest

from analyser.errors import OptionError, StockError
from analyser.stock.bead import Bead
from analyser.stock.colour_text import read_colour
from analyser.stock.stock import Stock

STOCK = Stock(
    Path("box.csv"),
    (
        Bead("T1", "teal", lab=(35.0, -10.0, -5.0), row=2),
        Bead("101010", "jet", lab=(3.0, 0.0, 0.0), row=3),
        Bead("X9", "unmeasured", row=4),
    ),
)


def test_a_code_with_or_without_its_sign():
    # IEC 61966-2-1: sRGB white is D65 white, L* = 100 and neutral.
    for text in ("#ffffff", "ffffff", " #FFFFFF "):
        assert read_colour(text).lab == pytest.approx((100.0, 0.0, 0.0), abs=1e-6)


def test_lab_numbers_are_taken_as_they_are():
    assert read_colour("lab:52.5,40,-3").lab == (52.5, 40.0, -3.0)


def test_a_bead_by_id_or_name_wins_over_a_code():
    assert read_colour("t1", STOCK).bead is STOCK.beads[0]
    assert read_colour("teal", STOCK).lab == (35.0, -10.0, -5.0)
    assert read_colour("101010", STOCK).lab == (3.0, 0.0, 0.0)
    assert read_colour("#101010", STOCK).bead is None


@pytest.mark.parametrize(
    "text", ["lab:1,2", "lab:101,0,0", "lab:50,nan,0", "lab:50,0,900", "#12345", "red", ""]
)
def test_what_is_no_colour_is_said_in_a_line(text):
    with pytest.raises(OptionError, match="got"):
        read_colour(text)


def test_a_bead_that_is_not_there_or_not_measured():
    with pytest.raises(StockError, match="nope"):
        read_colour("nope", STOCK)
    with pytest.raises(StockError, match="row 4: X9 has no colour yet"):
        read_colour("X9", STOCK)
