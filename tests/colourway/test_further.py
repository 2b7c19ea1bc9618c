"""Letters of a motif beyond accent and body: each has a bead of its own, and counts everywhere."""

from dataclasses import replace

import numpy as np
import pytest

from analyser.colour.difference import delta_e_2000
from analyser.colour.spaces import hex_to_lab, lab_to_linear, linear_to_lab
from analyser.colourway import collection, further, pairing
from analyser.colourway.companions import companions
from analyser.colourway.measures import view_of
from analyser.colourway.palette import PaletteColour
from analyser.colourway.reasons import InStock
from analyser.motif import parsing
from analyser.phrases.pairs import reason
from analyser.stock.bead import Bead
from analyser.stock.quantity import Quantity

FOUR_LETTERS = """
name = "four"
columns = 6
repeats_after = 1
rise = 1.0
[stitch.one]
beads = [ { along = 0.5 } ]
[[round]]
stitch = "one"
stitches = 6
beads = "A B C D B B"
"""
VIEW = view_of(parsing.parse(FOUR_LETTERS, "four.toml"))
NEEDS = {"accent": 100, "body": 300, "third": 100, "D": 100}
CODES = {"sky": "#98abc1", "teal": "#35565b", "coral": "#c96a5a", "crimson": "#9a2631", "straw": "#d9c27a"}


def lab(code):
    lightness, a, b = (float(v) for v in hex_to_lab(code))
    return lightness, a, b


def bead(name, beads=5000):
    return Bead(
        name,
        name,
        "11/0",
        "opaque",
        ("opaque",),
        lab(CODES[name]),
        quantity=Quantity(beads, "beads"),
        lot="a",
    )


BEADS = tuple(bead(name) for name in CODES)
PALETTE = tuple(
    PaletteColour(lab(code), share, 3.0, 2.0, name, (0, 0))
    for (name, code), share in zip(CODES.items(), (0.5, 0.3, 0.1, 0.05, 0.05), strict=True)
)


def best(beads=BEADS, **wishes):
    return pairing.rank(PALETTE, beads, VIEW, needs=NEEDS, **wishes).best(1)[0]


def test_every_letter_has_a_bead_of_its_own_that_stands_for_another_colour():
    pair = best()
    assert list(pair.beads) == ["accent", "body", "third", "D"]
    assert len({one.id for one in pair.beads.values()}) == 4
    assert len(set(pair.stands_for.values())) == 4
    for role, one in pair.beads.items():
        wanted = PALETTE[pair.stands_for[role]].lab
        assert pair.fit_de00[role] == pytest.approx(float(delta_e_2000(one.lab, wanted)))
    assert pair.needs == NEEDS
    assert pair.enough is True


@pytest.mark.parametrize("role", ["third", "D"])
def test_a_lot_that_is_short_of_a_further_letter_is_not_enough(role):
    name = best().beads[role].name
    # All further letters would take another bead if they could: none is left.
    held = tuple(
        bead(one.name, 50 if one.name == name else 5000)
        for one in BEADS
        if one.id in {b.id for b in best().beads.values()}
    )
    pair = best(held)
    assert name in {one.name for one in pair.beads.values()}
    assert pair.enough is False
    (stock,) = (why for why in pair.reasons if isinstance(why, InStock))
    assert [one.bead.name for one in stock.short] == [name]


def test_a_letter_that_no_bead_is_left_for_is_said():
    pair = best(BEADS[:3])
    assert list(pair.beads) == ["accent", "body", "third"]
    assert pair.enough is None
    (stock,) = (why for why in pair.reasons if isinstance(why, InStock))
    assert stock.unfilled == ("D",)
    assert "a letter of the motif has none" in reason(stock)


def test_far_away_all_letters_mix():
    pair = best()
    labs = np.array([pair.beads[role].lab for role in VIEW.roles])
    expected = linear_to_lab(VIEW.pattern.shares @ lab_to_linear(labs))
    np.testing.assert_allclose(pair.measures.far_lab, expected, atol=1e-9)


def test_a_pair_with_a_third_of_its_own_is_offered_no_other():
    pair = best()
    assert companions(pair, PALETTE, BEADS, ()).third is None
    assert companions(replace(pair, others={}), PALETTE, BEADS, ()).third is not None


def test_a_collection_lends_no_bead_twice():
    ranking = pairing.rank(PALETTE, BEADS, VIEW, needs=NEEDS)
    together = collection.choose(ranking, 2)
    others = [{one.id for one in pair.others.values()} for pair in together.pairs]
    pairs = [{pair.accent.id, pair.body.id} for pair in together.pairs]
    assert len(pairs) == 2
    assert not others[0] & (pairs[1] | others[1])
    assert not others[1] & (pairs[0] | others[0])


def test_beads_that_are_not_told_apart_are_no_letters():
    twin = replace(BEADS[0], id="twin", name="twin", lab=(BEADS[0].lab[0] + 1.0, *BEADS[0].lab[1:]))
    found = further.choose(("third",), BEADS[:2], (0, 1), PALETTE, (*BEADS[:2], twin))
    assert found == {}
