"""One figure and one word for one thing, with the digits that its doubt allows."""

import re
from types import SimpleNamespace

import pytest

from analyser.colourway.matching import Match, Matches, verdict_of
from analyser.colourway.reasons import Fit
from analyser.phrases import bars, figures, matches, pairs, photos
from analyser.stock.bead import Bead

DRIFTWOOD = Bead("driftwood", "Driftwood", "11/0", lab=(70.0, 3.0, 12.0))


@pytest.mark.parametrize("uncertainty", [0.5, 3.4, 7.3])
@pytest.mark.parametrize("de00", [0.4, 1.2, 4.1, 5.2, 12.0])
@pytest.mark.parametrize("chance", [0.01, 0.3, 0.6, 0.9])
def test_a_bead_is_told_alike_in_a_pair_and_in_the_list(de00, uncertainty, chance):
    match = Match(DRIFTWOOD, (), de00, uncertainty, verdict_of(de00), chance)
    fit = Fit("body", "mushroom", de00, uncertainty, chance)
    assert pairs.reason(fit) == f"for the mushroom: {matches.bead(match)}"


@pytest.mark.parametrize(
    ("uncertainty", "chances", "of_one"),
    [(1.0, (0.2, 0.1), True), (7.0, (0.6, 0.1), True), (7.0, (0.3, 0.3), False), (7.0, (0.2, 0.1), False)],
)
def test_what_is_said_of_a_colour_that_is_said_of_its_bead_is_marked(uncertainty, chances, of_one):
    found = tuple(Match(DRIFTWOOD, (), 3.0, uncertainty, verdict_of(3.0), chance) for chance in chances)
    told = Matches((70.0, 0.0, 0.0), "mushroom", found, None, uncertainty, {})
    assert matches.is_of_one(told) is of_one
    assert (matches.colour(told) == f"Driftwood, {matches.bead(found[0])}") is of_one
    assert not matches.is_of_one(Matches((70.0, 0.0, 0.0), "mushroom", (), None, uncertainty, {}))


def test_a_pair_is_told_by_its_bead_that_fits_worst():
    likely, doubtful = Fit("accent", "rust", 3.0, 7.0, 0.9), Fit("body", "steel", 4.0, 7.0, 0.2)
    plain = Fit("body", "steel", 9.0, 3.0, 0.01)

    def line(*fits):
        measures = SimpleNamespace(reads_to_m=2.0)
        return pairs.line(SimpleNamespace(reasons=fits, measures=measures))

    assert line(likely).startswith("very likely match, ")
    assert line(likely, doubtful).startswith("body possible, ")
    assert line(Fit("accent", "rust", 3.0, 7.0, 0.3), doubtful).startswith("possible match, ")
    assert line(likely, plain).startswith("body another colour, ")


def test_the_line_of_doubt_says_what_the_colours_say():
    by_cards = SimpleNamespace(method="white-card", outline=[0, 0], uncertainty_de00=0.8, reference=None)
    assert photos.doubt(by_cards).startswith("Colours are right to within 0.8,")
    assert photos.doubt(by_cards, [1.3, 1.3, 2.4]).startswith("Colours are right to within 1.3,")


def test_no_figure_of_a_pair_has_more_than_two_digits():
    pair = {
        "de00": 52.31,
        "seen_contrast": {"0.35": 31.9, "4": 0.123},
        "blurs_from_m": 7.34,
        "far_hex": "grey",
        "cvd_de00": {"protan": 27.31},
        "lights_de00": {"shop": 48.44},
        "harmony": -0.524,
    }
    for name, says in bars.figures(pair):
        for number in re.findall(r"[\d.]+", says):
            assert len(number.strip(".").replace(".", "").lstrip("0")) <= 2, (name, says)


@pytest.mark.parametrize(
    ("amount", "says"), [(0.071, "0.07"), (0.96, "1.0"), (2.432, "2.4"), (9.96, "10"), (116.0, "116")]
)
def test_a_cost_has_the_digits_that_a_count_to_a_tenth_allows(amount, says):
    assert figures.cost(amount) == says
