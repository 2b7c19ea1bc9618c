"""Series of beads for a fade: the search is exact, equal to trying every one.

Common practice, no source: the search is held against brute force on small lists; CIEDE2000 itself is tested
against its published pairs elsewhere.
"""

from __future__ import annotations

from itertools import pairwise, permutations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analyser.colour.difference import delta_e_2000
from analyser.colourway import series
from analyser.colourway.reasons import SHINE_APART, shine
from analyser.colourway.series import BeadSeries, FadeCourse
from analyser.stock.bead import Bead
from analyser.stock.quantity import Quantity

START, STOP = (35.0, -20.0, -25.0), (65.0, 25.0, 30.0)
NUMBERS = st.floats(-8.0, 8.0)
FINISHES = st.sampled_from(["opaque", "matte", "lustre", "metallic"])


@st.composite
def beads_near_the_course(draw: st.DrawFn) -> list[Bead]:
    found = []
    for number in range(draw(st.integers(2, 7))):
        along = draw(st.floats(-0.1, 1.1))
        lab = tuple(a + along * (b - a) + draw(NUMBERS) for a, b in zip(START, STOP, strict=True))
        finish = draw(FINISHES)
        holds = draw(st.one_of(st.none(), st.integers(0, 400)))
        found.append(
            Bead(
                f"b{number}", f"B {number}", "11/0", finish, (finish,), lab,
                quantity=None if holds is None else Quantity(float(holds), "beads"),
            )
        )  # fmt: skip
    return found


def by_trying_all(beads: list[Bead], count: int, needs: list[int] | None) -> float | None:
    """The least cost of every series there is, written out plainly."""
    start, stop = np.array(START), np.array(STOP)
    way = stop - start
    costs = []
    for chosen in permutations(beads, count):
        labs = [np.array(bead.lab) for bead in chosen]
        along = [float((lab - start) @ way / (way @ way)) for lab in labs]
        course = [start + min(max(part, 0.0), 1.0) * way for part in along]
        if any(float(delta_e_2000(a, b)) > series.OFF_COURSE_DE00 for a, b in zip(labs, course, strict=True)):
            continue
        if any(one >= two for one, two in pairwise(along)):
            continue
        if any(abs(shine(a) - shine(b)) >= SHINE_APART for a, b in pairwise(chosen)):
            continue
        if needs and any(b.quantity and b.quantity.amount < n for b, n in zip(chosen, needs, strict=True)):
            continue
        steps = [float(delta_e_2000(a, b)) for a, b in pairwise(labs)]
        ends = (float(delta_e_2000(labs[0], start)), float(delta_e_2000(labs[-1], stop)))
        costs.append(sum(s * s for s in steps) + series.END_WEIGHS * sum(e * e for e in ends))
    return min(costs, default=None)


@settings(max_examples=150, deadline=None)
@given(beads=beads_near_the_course(), count=st.integers(2, 4), counted=st.booleans())
def test_the_search_is_exact(beads: list[Bead], count: int, counted: bool) -> None:
    needs = [300, 100, 200, 300][:count] if counted else None
    wanted = by_trying_all(beads, count, needs)
    found = FadeCourse(START, STOP, beads).best(count, needs)
    if wanted is None:
        assert found is None
    else:
        assert found is not None
        assert found.cost == pytest.approx(wanted, rel=1e-9, abs=1e-9)


def test_like_steps_win_over_unlike_ones() -> None:
    """Of greys at L* 20, 30, 40, 50, 80 three from 20 to 80 go over 50: 30 + 30 and not 20 + 40."""
    greys = [Bead(f"g{level}", f"g{level}", lab=(float(level), 0.0, 0.0)) for level in (20, 30, 40, 50, 80)]
    found = FadeCourse((20, 0, 0), (80, 0, 0), greys).best(3)
    assert isinstance(found, BeadSeries)
    assert [bead.id for bead in found.beads] == ["g20", "g50", "g80"]
    assert found.ends_de00 == (0.0, 0.0)


def test_no_matte_bead_beside_a_mirror() -> None:
    ends = [Bead("a", "A", lab=START, finishes=("matte",)), Bead("z", "Z", lab=STOP, finish="metallic")]
    assert FadeCourse(START, STOP, ends).best(2) is None


def test_impossible_counts_are_programming_mistakes() -> None:
    with pytest.raises(ValueError, match="2 beads or more"):
        FadeCourse(START, STOP, []).best(1)
    with pytest.raises(ValueError, match="a need for each"):
        FadeCourse(START, STOP, []).best(3, [1, 2])
    assert FadeCourse(START, STOP, []).best(3) is None
