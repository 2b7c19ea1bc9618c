"""Pairs: what is proposed, in which order, and that the measures are those of the sources."""

import itertools

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analyser.colour.difference import delta_e_2000
from analyser.colour.spaces import hex_to_lab
from analyser.colourway import further, pairing, reasons, scores
from analyser.colourway.measures import measure, view_of
from analyser.colourway.palette import PaletteColour
from analyser.motif import parsing
from analyser.stock.bead import Bead
from analyser.stock.quantity import Quantity

VIEW = view_of(parsing.load("chenille"))


def lab(code):
    lightness, a, b = (float(v) for v in hex_to_lab(code))
    return lightness, a, b


def bead(name, code, *, grams=50.0, finish="opaque", finishes=None):
    return Bead(
        name,
        name,
        "11/0",
        finish,
        finishes or (finish,),
        lab(code),
        quantity=Quantity(grams, "grams"),
        lot="a",
    )


def colour(name, code, share):
    return PaletteColour(lab(code), share, 3.0, 2.0, name, (0, 0))


#: An invented outfit: a pale dress, a teal scarf, a few coral flowers and three crimson buttons.
PALETTE = (
    colour("pale blue", "#9aadc3", 0.50),
    colour("teal", "#37575b", 0.40),
    colour("coral", "#cb6959", 0.095),
    colour("crimson", "#9c2530", 0.005),
)
BEADS = (
    bead("sky", "#98abc1"),
    bead("teal", "#35565b"),
    bead("coral", "#c96a5a"),
    bead("crimson", "#9a2631"),
    bead("mud", "#6b6252"),
)


def test_the_accent_is_small_and_vivid_and_the_body_fills_the_photo():
    best = pairing.rank(PALETTE, BEADS, VIEW).best(3)
    assert {pair.accent.name for pair in best} <= {"coral", "crimson"}
    assert {pair.body.name for pair in best} <= {"sky", "teal"}


def test_suggestions_are_not_shades_of_one_idea():
    shades = tuple(bead(f"teal {n}", f"#35{0x50 + n:02x}5b") for n in range(8))
    chosen = pairing.rank(PALETTE, (*BEADS, *shades), VIEW).best(5)
    for one, two in itertools.combinations(chosen, 2):
        accents, bodies = (
            float(delta_e_2000(getattr(one.measures, name), getattr(two.measures, name)))
            for name in ("accent_lab", "body_lab")
        )
        assert max(accents, bodies) >= further.APART_DE00 / 2


def test_two_beads_that_blur_are_never_a_pair():
    twins = (bead("one", "#37575b"), bead("two", "#395a5e"))
    colours = (colour("teal", "#37575b", 0.6), colour("teal too", "#3a5b5f", 0.4))
    assert pairing.rank(colours, twins, VIEW).best(5) == ()


def test_tone_on_tone_with_a_change_of_finish_is_a_soft_pair():
    twins = (bead("gloss", "#37575b", finish="metallic"), bead("matte", "#395a5e", finish="matte"))
    colours = (colour("teal", "#37575b", 1.0),)
    assert pairing.rank(colours, twins, VIEW, contrast="clear").best(1) == ()
    (pair,) = pairing.rank(colours, twins, VIEW, contrast="soft").best(1)
    assert reasons.Finishes("accent" if pair.accent.name == "gloss" else "body") in pair.reasons


@pytest.mark.parametrize(("grams", "enough"), [(50.0, True), (1.0, False)])
def test_enough_looks_at_one_lot_by_its_low_end(grams, enough):
    beads = (bead("sky", "#98abc1", grams=grams), bead("coral", "#c96a5a", grams=grams))
    (pair,) = pairing.rank(PALETTE, beads, VIEW, needs={"accent": 250, "body": 470}).best(1)
    assert pair.enough is enough
    assert pair.needs == {"accent": 250, "body": 470}
    (held,) = (reason for reason in pair.reasons if isinstance(reason, reasons.InStock))
    assert held.enough is enough
    assert bool(held.short) is not enough


def test_without_a_length_nothing_is_said_of_enough():
    (pair,) = pairing.rank(PALETTE, BEADS[:1] + BEADS[2:3], VIEW).best(1)
    assert pair.enough is None
    assert pair.needs is None


def test_bold_asks_for_more_than_soft():
    seen = {
        wish: pairing.rank(PALETTE, BEADS, VIEW, contrast=wish).best(1)[0].measures.seen[scores.SEEN_FROM_M]
        for wish in ("soft", "bold")
    }
    assert seen["bold"] > seen["soft"]


def test_no_beads_and_one_bead_give_no_pair():
    assert pairing.rank(PALETTE, (), VIEW).best(5) == ()
    assert pairing.rank(PALETTE, BEADS[:1], VIEW).best(5) == ()


def test_measures_are_those_of_their_sources():
    measures = measure([lab("#ffffff")], [lab("#000000")], VIEW).one(0)
    # W3C WCAG 2.2, contrast ratio: white on black is 21 to 1.
    assert measures.luminance_contrast == pytest.approx(21.0, abs=1e-6)
    # Sharma, Wu, Dalal (2005): on the neutral axis CIEDE2000 is |dL| / S_L; at a mean of 50, S_L = 1.
    assert measures.de00 == pytest.approx(100.0, abs=1e-6)
    assert measures.delta_l == pytest.approx(100.0, abs=1e-6)


labs = st.tuples(st.floats(5, 95), st.floats(-50, 50), st.floats(-50, 50))


@settings(max_examples=10, deadline=None)
@given(st.lists(labs, min_size=2, max_size=9), st.lists(labs, min_size=2, max_size=4))
def test_the_ranking_equals_brute_force(bead_labs, colour_labs):
    beads = tuple(
        Bead(f"b{i}", f"b{i}", "11/0", "opaque", ("opaque",), value) for i, value in enumerate(bead_labs)
    )
    share = 1 / len(colour_labs)
    colours = tuple(PaletteColour(v, share, 1.0, 1.0, f"c{i}", (0, 0)) for i, v in enumerate(colour_labs))
    ranking = pairing.rank(colours, beads, VIEW)
    off = np.array([[float(delta_e_2000(b.lab, c.lab)) for b in beads] for c in colours])
    near = np.argsort(off, axis=1, kind="stable")[:, : pairing.TRIED]
    expected = set()
    for i, j in itertools.permutations(range(len(beads)), 2):
        seen = measure([bead_labs[i]], [bead_labs[j]], VIEW).seen[scores.SEEN_FROM_M][0]
        for p, q in itertools.permutations(range(len(colours)), 2):
            tried = i in near[p] and j in near[q]
            if tried and max(off[p, i], off[q, j]) <= further.STANDS_FOR_DE00 and seen >= scores.BLURS:
                expected.add((i, j, p, q))
    got = {
        (int(ranking.accent[k]), int(ranking.body[k]), int(ranking.accent_for[k]), int(ranking.body_for[k]))
        for k in ranking.order
    }
    assert got == expected
    # The first is beaten by none that stands for the same two colours.
    if len(ranking.order):
        first = ranking.order[0]
        same = (ranking.accent_for == ranking.accent_for[first]) & (
            ranking.body_for == ranking.body_for[first]
        )
        steps = np.round(ranking.scores / 0.02)
        worth = np.isin(np.arange(len(steps)), ranking.order) & same
        beats = np.all(steps[worth] >= steps[first], axis=1) & np.any(steps[worth] > steps[first], axis=1)
        assert not beats.any()


@settings(max_examples=50, deadline=None)
@given(st.lists(st.lists(st.floats(0, 1), min_size=3, max_size=3), min_size=1, max_size=12))
def test_the_pareto_front_is_what_no_row_beats(rows):
    table = np.array(rows)
    steps = np.round(table / 0.02)
    expected = [
        k
        for k, row in enumerate(steps)
        if not any(np.all(other >= row) and np.any(other > row) for other in steps)
    ]
    assert scores.pareto_front(table).tolist() == expected
