"""What is typed for a colourway, read once for the command line and the page."""

from __future__ import annotations

from pathlib import Path

import pytest

from analyser.colourway.request import ColourwayTexts
from analyser.errors import OptionError
from analyser.motif import parsing
from analyser.piece.gauge import Gauge
from analyser.stock.list import stock_list

DEMO = Path(__file__).resolve().parents[2] / "palettes" / "demo-stock.csv"


@pytest.fixture(scope="module")
def stock():
    return stock_list.read(DEMO)


def test_nothing_typed_is_the_usual(stock):
    wishes = ColourwayTexts().wishes(parsing.load("chenille"), stock)
    assert (wishes.size, wishes.shape, wishes.finish) == ("11/0", "round", None)
    assert (wishes.length_mm, wishes.gauge, wishes.thread_lab, wishes.stands_for) == (None,) * 4


def test_lengths_are_read_in_any_unit(stock):
    # 1 inch is 25.4 mm by the international yard and pound agreement of 1959.
    wishes = ColourwayTexts(length="7in", size="8/0").wishes(parsing.load("chenille"), stock)
    assert wishes.length_mm == pytest.approx(177.8)
    assert wishes.size == "8/0"


def test_a_gauge_that_is_typed_beats_the_kept_one(stock):
    kept, motif = Gauge.parse("30 rounds in 5cm"), parsing.load("chenille")
    assert ColourwayTexts().wishes(motif, stock, kept).gauge == kept
    typed = ColourwayTexts(gauge="25 rounds in 50mm").wishes(motif, stock, kept).gauge
    assert typed.rise_mm == pytest.approx(2.0)


def test_an_unknown_word_is_refused_with_those_known():
    with pytest.raises(OptionError, match=r"a shape is one of .*round"):
        ColourwayTexts(shape="hexagon-ish")
    with pytest.raises(OptionError, match="a finish is one of"):
        ColourwayTexts(finish="sparkly")
