"""Plans: counts equal the chart's beads at any length, fades keep their share, mirrored is mirrored.

Common practice, no source: what a plan means is our own format; the properties follow from its definition.
"""

from __future__ import annotations

from collections import Counter

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analyser.motif import parsing, plan
from analyser.motif.plan import Plan, PlannedBead, Stretch
from analyser.motif.planned_rope import PlannedRope, lay
from analyser.motif.weaving_chart import chart_rows

SHIPPED = parsing.names()
FADE = Plan((Stretch({"body": "teal"}, share=0.1), Stretch(fade=True), Stretch({"body": "coral"}, share=0.1)))

BEADS = st.sampled_from(["teal", "coral", "slate", "brass"])
SIZES = st.one_of(
    st.fixed_dictionaries({"rounds": st.integers(0, 40)}),
    st.fixed_dictionaries({"share": st.floats(0, 0.4)}),
    st.fixed_dictionaries({"length_mm": st.floats(0.1, 60)}),
)
PLAIN = st.builds(
    lambda size, beads: Stretch(beads, **size),
    SIZES,
    st.dictionaries(st.sampled_from(["accent", "body"]), BEADS, min_size=1),
)
FADES = st.builds(lambda size: Stretch(**size, fade=True), SIZES)


@st.composite
def plans(draw: st.DrawFn) -> Plan:
    """A plain stretch at either end, anything between."""
    between = draw(st.lists(st.one_of(PLAIN, FADES), max_size=4))
    stretches = (draw(PLAIN), *between, draw(PLAIN))
    return Plan(stretches, draw(st.booleans()), draw(st.booleans()))


def letters(planned: PlannedRope, number: int, role: str) -> list[str]:
    """The beads of one role in one round of the pattern, in stringing order."""
    beads = planned.beads
    mine = (beads.part == "pattern") & (beads.round == number)
    return [str(key) for key in beads.role[mine] if str(key).split(":")[0] == role]


@pytest.mark.parametrize("name", SHIPPED)
@settings(max_examples=15, deadline=None)
@given(plan_=plans(), rounds=st.integers(0, 90), rise_mm=st.floats(0.5, 4))
def test_counts_equal_the_beads_of_the_chart(name: str, plan_: Plan, rounds: int, rise_mm: float) -> None:
    made = parsing.load(name)
    counted = plan.counts(plan_, made, rounds, rise_mm)
    planned = lay(plan_, made, rounds, rise_mm)
    charted: Counter[PlannedBead] = Counter()
    for row in chart_rows(planned, made):
        for stitch in row.stitches:
            for index in stitch:
                charted[planned.kinds[index]] += row.times
    assert counted == dict(charted)
    totals = Counter(dict.fromkeys(made.roles, 0))
    for bead, number in counted.items():
        totals[bead.role] += number
    assert dict(totals) == made.counts(rounds)


@pytest.mark.parametrize("name", SHIPPED)
@settings(max_examples=15, deadline=None)
@given(plan_=plans(), rounds=st.integers(0, 200), rise_mm=st.floats(0.5, 4))
def test_stretches_cover_the_rope_without_gaps(name: str, plan_: Plan, rounds: int, rise_mm: float) -> None:
    spans = plan.spans_of(plan_, rounds, rise_mm)
    covered = [round_ for span in spans for round_ in range(span.start, span.stop)]
    assert covered == list(range(rounds))


@pytest.mark.parametrize("name", SHIPPED)
@pytest.mark.parametrize("rounds", [20, 61, 150])
def test_a_fade_keeps_its_share_in_any_ten_rounds_to_within_a_bead(name: str, rounds: int) -> None:
    made = parsing.load(name)
    planned = lay(FADE, made, rounds, 2.0)
    (span,) = [span for span in planned.spans if span.stretch == 1]
    length = span.stop - span.start
    fresh = [letters(planned, span.start + k + 1, "body") for k in range(length)]
    for start in range(max(1, length - 9)):
        window = range(start, min(start + 10, length))
        wanted = sum(len(fresh[k]) * (k + 0.5) / length for k in window)
        assert abs(sum(key == "body:coral" for k in window for key in fresh[k]) - wanted) <= 1.0 + 1e-9


@pytest.mark.parametrize("name", SHIPPED)
@settings(max_examples=15, deadline=None)
@given(plan_=plans(), rounds=st.integers(1, 80))
def test_mirrored_is_mirrored(name: str, plan_: Plan, rounds: int) -> None:
    made = parsing.load(name)
    planned = lay(Plan(plan_.stretches, plan_.repeat, mirror=True), made, rounds, 2.0)
    for number in range(1, rounds // 2 + 1):
        for role in made.roles:
            here, there = letters(planned, number, role), letters(planned, rounds + 1 - number, role)
            if len(here) == len(there):
                assert here == there[::-1]


@pytest.mark.parametrize("share", [0.15, 0.33, 0.5])
def test_like_beads_of_a_fade_do_not_clump(share: float) -> None:
    """Beside places drawn by lot, the nearest two like beads lie farther apart."""
    made = parsing.load("chenille")
    rope = lay(FADE, made, 120, 2.0).beads
    around = 2.0 * np.pi * float(np.median(rope.out))
    body = np.array([str(key).startswith("body") for key in rope.role]) & (rope.part == "pattern")
    here = body & (np.abs((rope.round - 12) / 96.0 - share) < 0.08)
    x, y = rope.angle_turns[here] * around, rope.along_beads[here]
    fresh = rope.role[here] == "body:coral"

    def nearest(chosen: np.ndarray) -> float:
        across = np.abs(x[chosen][:, None] - x[chosen][None])
        across = np.minimum(across, around - across)
        apart = np.hypot(across, y[chosen][:, None] - y[chosen][None]) + 1e9 * np.eye(int(chosen.sum()))
        return float(apart.min(axis=1).mean())

    lots = np.random.default_rng(11)
    assert nearest(fresh) > max(nearest(lots.permutation(fresh)) for _ in range(20))


def test_what_is_not_named_stays_as_before() -> None:
    made = parsing.load("chenille")
    told = Plan((Stretch({"body": "teal"}, rounds=4), Stretch({"accent": "brass"}, rounds=4)))
    planned = lay(told, made, 8, 2.0)
    assert set(letters(planned, 2, "accent")) == {"accent"}
    assert set(letters(planned, 7, "body")) == {"body:teal"}
    assert set(letters(planned, 7, "accent")) == {"accent:brass"}


def test_bands_come_again_and_the_last_is_cut() -> None:
    told = Plan((Stretch({"accent": "a"}, rounds=8), Stretch({"accent": "b"}, rounds=8)), repeat=True)
    spans = plan.spans_of(told, 20, 2.0)
    assert [(s.stretch, s.start, s.stop) for s in spans] == [(0, 0, 8), (1, 8, 16), (0, 16, 20), (1, 20, 20)]


def test_a_length_in_millimetres_becomes_rounds_by_the_rise() -> None:
    told = Plan((Stretch({"body": "a"}, length_mm=40.0), Stretch({"body": "b"})))
    assert [span.stop for span in plan.spans_of(told, 100, 2.0)] == [20, 100]
    assert [span.stop for span in plan.spans_of(told, 100, 1.6)] == [25, 100]


def test_impossible_ropes_are_programming_mistakes() -> None:
    with pytest.raises(ValueError, match="rounds must be 0 or more"):
        plan.spans_of(FADE, -1, 2.0)
    with pytest.raises(ValueError, match="rise_mm above 0"):
        plan.counts(FADE, parsing.load("chenille"), 3, 0.0)


def test_the_chart_tells_like_rounds_together() -> None:
    made = parsing.load("chenille")
    told = Plan((Stretch({"body": "teal"}, rounds=3), Stretch({"body": "coral"})))
    rows = chart_rows(lay(told, made, 7, 2.0), made)
    pattern = [row for row in rows if row.part == "pattern"]
    assert [(row.first, row.last, row.times) for row in pattern] == [(1, 3, 3), (4, 7, 4)]
    assert [times for times, _ in pattern[0].runs] == [3]
