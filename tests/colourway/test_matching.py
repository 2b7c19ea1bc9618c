"""Matching against brute force, and its verdicts against the published thresholds."""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from skimage.color import deltaE_ciede2000

from analyser.colour.spaces import hex_to_lab, lab_to_linear, linear_to_lab
from analyser.colourway import matching
from analyser.errors import StockError
from analyser.phrases import matches as says
from analyser.stock.bead import Bead
from analyser.stock.quantity import Quantity
from analyser.stock.stock import Stock

PUBLISHED = Path(__file__).parents[1] / "published"
THRESHOLDS = list(csv.DictReader((PUBLISHED / "thresholds.csv").read_text(encoding="utf-8").splitlines()))


def bead(id_: str, colour: tuple[float, float, float] | None, **more) -> Bead:
    return Bead(id_, f"bead {id_}", more.pop("size", "11/0"), lab=colour, **more)


def stock(*beads: Bead) -> Stock:
    return Stock(Path("box.csv"), tuple(beads))


BOX = stock(
    bead("M1", (40, 55, 35), finish="matte", finishes=("matte",), quantity=Quantity(30, "grams"), lot="A"),
    bead("M1", (42, 54, 33), finish="matte", finishes=("matte",), quantity=Quantity(4, "grams"), lot="B"),
    bead("G2", (45, -30, 20), finish="metallic", finishes=("metallic", "matte"), shape="cylinder"),
    bead("B3", (30, 5, -40), size="8/0", quantity=Quantity(900, "beads")),
    bead("W4", (92, 0, 4), uncertainty_de00=2.0, quantity=Quantity(2, "tubes")),
    bead("N5", None),
)


def ids(found: matching.Matching, colour: int = 0) -> list[str]:
    return [match.bead.id for match in found.colours[colour].beads]


# Paravina et al. (2015), J Esthet Restor Dent 27(S1) S1-S9, abstract: half the observers see, half accept.
def test_thresholds_are_the_published_ones():
    published = {
        row["criterion"]: float(row["value"])
        for row in THRESHOLDS
        if row["formula"] == "CIEDE2000" and row["source"].startswith("Paravina")
    }
    assert published["perceptibility 50:50"] == matching.SAME_DE00
    assert published["acceptability 50:50"] == matching.CLOSE_DE00


@pytest.mark.parametrize(
    ("de00", "verdict"),
    [
        (0.0, "same"),
        (0.8, "same"),
        (0.81, "close"),
        (1.8, "close"),
        (3.1, "off"),
        (5.01, "different"),
    ],
)
def test_a_verdict_is_a_matter_of_thresholds(de00, verdict):
    assert matching.verdict_of(de00) == verdict


def test_a_difference_comes_in_words():
    assert says.difference(3.1) == "difference 3: seen by most people side by side"
    assert says.difference(0.5) == "difference 0.5: not seen by most people side by side"


def test_nearest_lot_stands_for_the_bead():
    found = matching.nearest([[42, 54, 33]], BOX)
    first = found.colours[0].beads[0]
    assert (first.bead.id, first.bead.lot) == ("M1", "B")
    assert [lot.lot for lot in first.other_lots] == ["A"]
    assert first.verdict == "same"
    assert first.de00 == 0
    assert len(set(ids(found))) == len(ids(found)) == 3


def test_one_id_in_two_sizes_is_two_beads():
    box = stock(bead("K", (50, 0, 0)), bead("K", (50, 1, 0), size="8/0"))
    found = matching.nearest([[50, 0, 0]], box)
    assert [match.bead.size for match in found.colours[0].beads] == ["11/0", "8/0"]


def test_beads_without_a_colour_are_left_out_and_said():
    found = matching.nearest([[50, 0, 0]], BOX, top=9)
    assert "N5" not in ids(found)
    assert found.left_out == (matching.LeftOut("no-colour", 1, "box.csv"),)
    assert says.left_out(found.left_out[0]) == "1 row of box.csv without a colour left out"


@pytest.mark.parametrize(
    ("wish", "left"),
    [
        ({"size": "8/0"}, {"B3"}),
        ({"size": "8"}, {"B3"}),
        ({"shape": "cylinder"}, {"G2"}),
        ({"finish": "matte"}, {"M1", "G2"}),
        ({"finish": "metallic"}, {"G2"}),
        ({"at_least": 600}, {"M1", "B3"}),
        ({"at_least": 900}, {"M1", "B3"}),
        ({"at_least": 901}, {"M1"}),
    ],
)
def test_filters(wish, left):
    assert set(ids(matching.nearest([[50, 0, 0]], BOX, top=9, **wish))) == left


def test_quantity_is_judged_lot_by_lot_and_the_unknown_left_out():
    found = matching.nearest([[42, 54, 33]], BOX, at_least=1000)
    match = found.colours[0].beads[0]
    assert match.bead.lot == "A"
    assert match.other_lots == ()
    assert [one.why for one in found.left_out] == ["no-colour", "no-quantity"]


def test_uncertainty_of_photo_and_bead_count_together():
    found = matching.nearest([[92, 0, 4], [92, 0, 4]], BOX, top=1, uncertainty_de00=[0.0, 1.5])
    first, second = (colour.beads[0] for colour in found.colours)
    assert first.uncertainty_de00 == pytest.approx(2.0)
    assert second.uncertainty_de00 == pytest.approx(2.5)
    assert first.verdict == "same"  # of the colours as measured: doubt is another statement
    assert first.de00 == 0


def test_where_nothing_is_near_it_gives_the_colour_to_shop_for():
    found = matching.nearest([hex_to_lab("#02ab2e"), [41, 54, 34]], BOX)
    missing = found.colours[0].shop_for
    assert missing is not None
    assert missing.hex == "#02ab2e"
    told = says.shop_for(missing)
    assert missing.name in told
    assert told.startswith("none you own: shop for")
    assert found.colours[1].shop_for is None


def test_filters_that_leave_nothing_leave_the_colour_to_shop_for():
    found = matching.nearest([[50, 0, 0]], BOX, size="15/0")
    assert found.colours[0].beads == ()
    assert found.colours[0].shop_for is not None
    assert matching.LeftOut("filters", 0, "box.csv") in found.left_out


def test_a_stock_without_any_colour_cannot_be_matched():
    with pytest.raises(StockError, match=r"box.csv: no bead has a colour yet"):
        matching.nearest([[50, 0, 0]], stock(bead("N5", None)))


@pytest.mark.parametrize(
    ("lab", "top", "says"),
    [
        (np.zeros((2, 2, 3)), 3, "must be a list of colours"),
        ([[50, 0, 0]], 0, "top must be at least 1; got 0"),
    ],
)
def test_what_does_not_fit_is_named(lab, top, says):
    with pytest.raises(ValueError, match=says):
        matching.nearest(lab, BOX, top=top)


colour = st.tuples(st.integers(0, 20), st.integers(-12, 12), st.integers(-12, 12)).map(
    lambda steps: (5.0 * steps[0], 5.0 * steps[1], 5.0 * steps[2])
)


# scikit-image over all pairs: same beads, same differences.
@settings(max_examples=40, deadline=None)
@given(
    st.lists(st.tuples(st.sampled_from("PQRSTUVW"), colour), min_size=1, max_size=30),
    st.lists(colour, min_size=1, max_size=4),
    st.integers(1, 4),
)
def test_matching_equals_brute_force(rows, wanted, top):
    box = stock(*(bead(id_, lab) for id_, lab in rows))
    found = matching.nearest(wanted, box, top=top)
    table = deltaE_ciede2000(np.array(wanted)[:, None], np.array([lab for _, lab in rows])[None])
    for matches, differences in zip(found.colours, table, strict=True):
        best: dict[str, float] = {}
        for (id_, _), de00 in zip(rows, differences, strict=True):
            best[id_] = min(best.get(id_, np.inf), de00)
        expected = sorted(best.values())[:top]
        np.testing.assert_allclose([match.de00 for match in matches.beads], expected, rtol=0, atol=1e-9)
        for match in matches.beads:
            assert match.de00 == pytest.approx(best[match.bead.id], abs=1e-9)
            assert 1 + len(match.other_lots) == sum(id_ == match.bead.id for id_, _ in rows)


def test_what_is_used_up_is_not_offered_and_said():
    held = stock(
        bead("gone", (50, 10, 10), quantity=Quantity(0, "grams")),
        bead("there", (60, 10, 10), quantity=Quantity(5, "grams")),
        bead("perhaps", (70, 10, 10)),
    )
    found = matching.nearest([(50, 10, 10)], held)
    assert ids(found) == ["there", "perhaps"]
    assert [says.left_out(one) for one in found.left_out] == ["1 row of box.csv used up, not offered"]
    assert [one.id for one in held.owned] == ["there", "perhaps"]


def test_a_bead_that_the_light_of_the_photo_explains_is_no_bead_to_shop_for():
    """All colours lie off their beads in one light: none is 'none you own' where the beads are likely."""
    true = [hex_to_lab(code) for code in ("#cb6959", "#37575b", "#e0d8c6", "#7d3b45", "#98abc1")]
    warm = linear_to_lab(lab_to_linear(true) * np.array([1.3, 1.0, 0.68]))
    box = stock(*(bead(f"b{k}", tuple(map(float, lab))) for k, lab in enumerate(true)))
    told = matching.nearest(warm, box, uncertainty_de00=5.1, shared_de00=5.0)
    assert any(m.beads[0].de00 > 5.1 and m.beads[0].chance > 0.5 for m in told.colours)
    assert all(m.shop_for is None for m in told.colours if m.beads[0].chance >= matching.POSSIBLE)
    for m in told.colours:
        assert m.chance_of[m.beads[0].bead.id] == pytest.approx(m.beads[0].chance)
