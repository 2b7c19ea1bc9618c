"""Letters of a motif beyond accent and body: each has a bead of its own, and counts everywhere."""

from dataclasses import replace
from itertools import combinations, permutations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analyser.colour.difference import delta_e_2000
from analyser.colour.spaces import hex_to_lab, lab_to_linear, linear_to_lab
from analyser.colourway import collection, further, pairing, scores
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


LABS = st.tuples(st.floats(20, 90), st.floats(-50, 50), st.floats(-50, 50))


@settings(max_examples=60, deadline=None)
@given(
    colours=st.lists(LABS, min_size=2, max_size=4),
    near=st.lists(st.tuples(st.integers(0, 3), st.floats(-7, 7), st.integers(0, 200)), max_size=5),
    count=st.integers(1, 3),
)
def test_the_letters_are_chosen_together(colours, near, count):
    """As good as the best of all sets, written out plainly."""
    palette = tuple(PaletteColour(lab, 0.25, 3.0, 2.0, "c", (0, 0)) for lab in colours)
    beads = []
    for number, (at, off, held) in enumerate(near):
        lightness, a, b = colours[at % len(colours)]
        beads.append(
            replace(BEADS[0], id=str(number), lab=(lightness, a, b + off), quantity=Quantity(held, "beads"))
        )
    roles = ("third", "D", "E")[:count]
    needs = dict.fromkeys(roles, 100)
    standing = scores.standings(palette)[1]

    fits = {
        (k, at): delta_e_2000(bead.lab, palette[at].lab)
        for k, bead in enumerate(beads)
        for at in range(len(palette))
    }
    worth = {
        (role, one): float(scores.fit_score(fit, fit))
        + float(standing[one[1]])
        + scores.holds(beads[one[0]], needs, role)
        for one, fit in fits.items()
        for role in roles
    }
    every = [one for one, fit in fits.items() if fit <= further.STANDS_FOR_DE00]
    go = {
        (one, other): one[1] != other[1]
        and delta_e_2000(beads[one[0]].lab, beads[other[0]].lab) >= further.APART_DE00
        for one, other in combinations(every, 2)
    }
    sets = [
        chosen
        for size in range(count + 1)
        for chosen in permutations(every, size)
        if all(go.get((a, b), go.get((b, a))) for a, b in combinations(chosen, 2))
    ]
    filled = max(len(chosen) for chosen in sets)
    most = max(
        sum(worth[pair] for pair in zip(roles, chosen, strict=False))
        for chosen in sets
        if len(chosen) == filled
    )
    found, score = further.LetterSets(roles, palette, beads, needs).best((), ())
    assert list(found) == list(roles[:filled])
    assert score == pytest.approx(most / (3 * count))


def test_a_pair_that_leaves_no_letter_empty_comes_first():
    """A ranking that knows the letters: the first pair fills them all where any of the pairs can."""
    beads = tuple(one for one in BEADS if one.name != "straw")
    ranking = pairing.rank(PALETTE, beads, VIEW, needs=NEEDS)
    filled = [len(ranking.pair(int(k)).others) for k in ranking.order]
    assert filled == sorted(filled, reverse=True)


def test_beads_that_are_not_told_apart_are_no_letters():
    twin = replace(BEADS[0], id="twin", name="twin", lab=(BEADS[0].lab[0] + 1.0, *BEADS[0].lab[1:]))
    found = further.choose(("third",), BEADS[:2], (0, 1), PALETTE, (*BEADS[:2], twin))
    assert found == {}
