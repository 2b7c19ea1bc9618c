"""Collections: the integer program against brute force on small stocks."""

import itertools

import numpy as np
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from analyser.colourway import collection, pairing
from analyser.colourway.measures import view_of
from analyser.colourway.palette import PaletteColour
from analyser.colourway.scores import SUMMED
from analyser.motif import parsing
from analyser.phrases import designs
from analyser.stock.bead import Bead
from analyser.stock.quantity import Quantity

VIEW = view_of(parsing.load("chenille"))
NEEDS = {"accent": 100, "body": 200}


def brute_force(ranking, count):
    """Largest makeable, conflict-free set; of those the highest sum of scores."""
    rows = [int(k) for k in ranking.order]
    alike = set(collection.conflicts(ranking, rows))
    gain = ranking.scores[rows][:, :SUMMED].sum(axis=1)
    for size in range(min(count, len(rows)), 0, -1):
        best = None
        for places in itertools.combinations(range(len(rows)), size):
            if any(pair in alike for pair in itertools.combinations(places, 2)):
                continue
            used = [int(b[rows[p]]) for p in places for b in (ranking.accent, ranking.body)]
            if max(used.count(bead) for bead in used) > collection.MOST_WITH_ONE_BEAD:
                continue
            taken = np.zeros(len(ranking.beads))
            for place in places:
                taken[ranking.accent[rows[place]]] += NEEDS["accent"]
                taken[ranking.body[rows[place]]] += NEEDS["body"]
            held = [bead.amount().low for bead in ranking.beads]
            if np.all(taken <= held):
                total = float(gain[list(places)].sum())
                best = total if best is None else max(best, total)
        if best is not None:
            return size, best
    return 0, 0.0


labs = st.tuples(st.floats(20, 80), st.floats(-40, 40), st.floats(-40, 40))
lots = st.tuples(labs, st.sampled_from([0, 150, 250, 450, 900]))


@settings(max_examples=10, deadline=None)
@given(
    st.lists(lots, min_size=2, max_size=4, unique_by=lambda lot: lot[0]),
    st.integers(1, 3),
)
def test_the_choice_equals_brute_force(stock, count):
    beads = tuple(
        Bead(f"b{i}", f"b{i}", "11/0", "opaque", ("opaque",), lab, quantity=Quantity(float(held), "beads"))
        for i, (lab, held) in enumerate(stock)
    )
    colours = tuple(
        PaletteColour(lab, 1 / len(stock), 1.0, 1.0, f"c{i}", (0, 0)) for i, (lab, _) in enumerate(stock)
    )
    ranking = pairing.rank(colours, beads, VIEW, needs=NEEDS)
    assume(len(ranking.order) <= 14)  # brute force over more would take too long
    chosen = collection.choose(ranking, count)
    size, total = brute_force(ranking, count)
    assert len(chosen.pairs) == size
    got = sum(sum(list(pair.scores.values())[:SUMMED]) for pair in chosen.pairs)
    assert abs(got - total) < 1e-6


def test_what_one_colourway_uses_the_other_cannot():
    labs = [(45.0, -20.0, -8.0), (60.0, 40.0, 25.0), (25.0, 5.0, -30.0)]
    beads = tuple(
        Bead(f"b{i}", f"b{i}", "11/0", "opaque", ("opaque",), lab, quantity=Quantity(210.0, "beads"))
        for i, lab in enumerate(labs)
    )
    colours = tuple(PaletteColour(lab, 1 / 3, 1.0, 1.0, f"c{i}", (0, 0)) for i, lab in enumerate(labs))
    chosen = collection.choose(pairing.rank(colours, beads, VIEW, needs=NEEDS), 3)
    # Three lots of 210: each colourway takes a body lot of its own, and one lot is left for both accents.
    assert len(chosen.pairs) == 2
    says = designs.remark(chosen)
    assert "2 of 3 colourways" in says
    assert "no more can be made at once" in says
