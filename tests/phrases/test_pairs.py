"""What a lamp does to a pair, in words: a figure for shop light, none for an evening lamp.

Of warnings of an evening lamp nine in 24 are false (``benchmarks/lamps.py``, chart spectra), so none is made
as if it were known.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from analyser.colourway import reasons
from analyser.colourway.measures import measure, view_of
from analyser.motif import parsing
from analyser.phrases import bars, pairs
from analyser.report.pair_answers import measures_fields

PAIR = measure([[60, 40, 30]], [[40, -10, -20]], view_of(parsing.load("chenille"))).one(0)


def told(shop: float, evening: float) -> list[str]:
    seen = replace(PAIR, lights_de00={"daylight": 30.0, "shop": shop, "evening": evening})
    found = reasons.of_measures(seen, None, None)
    return [pairs.reason(one) for one in found if one.kind == "lamp"]


def test_an_evening_lamp_is_to_be_tried_and_has_no_figure():
    (says,) = told(30.0, 20.0)
    assert "cannot be told" in says
    assert not any(sign.isdigit() for sign in says)
    assert not any("evening" in one.says for one in bars.bars({**measures_fields(PAIR), "fit_de00": None}))


@pytest.mark.parametrize("evening", [30.0, 10.0])
def test_shop_light_is_told_with_its_figure_whatever_the_evening(evening):
    (says,) = told(20.0, evening)
    assert "shop light" in says
    assert "20 instead of 30" in says


def test_lamps_that_leave_a_pair_alone_are_no_reason():
    assert told(29.0, 29.0) == []
