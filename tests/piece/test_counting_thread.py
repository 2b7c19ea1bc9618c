"""Thread from its path."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analyser.motif import parsing
from analyser.piece.thread import Threading, need, passes

CHENILLE = parsing.load("chenille")
ROUND_11 = {"accent": 1.45, "body": 1.45}
BARE = Threading(working_mm=1e9, tail_mm=0.0, turns=0.0)


# Common practice, no source: three-stitch chenille, 14 bead lengths a round, 26 with a reinforcing lap, 23 in
# the first round; at 1.45 mm 20 and 38 mm a round before turns and waste.
def test_chenille_passes() -> None:
    assert passes(CHENILLE) == (14, 23)
    assert passes(CHENILLE, reinforced=True)[0] == 26
    once = need(CHENILLE, 101, ROUND_11, BARE).path_m - need(CHENILLE, 1, ROUND_11, BARE).path_m
    assert once * 1000 == pytest.approx(100 * 14 * 1.45)
    assert round(14 * 1.45) == 20
    reinforced = Threading(working_mm=1e9, tail_mm=0.0, turns=0.0, reinforced=True)
    twice = need(CHENILLE, 101, ROUND_11, reinforced).path_m - need(CHENILLE, 1, ROUND_11, reinforced).path_m
    assert twice * 1000 == pytest.approx(100 * 26 * 1.45)
    assert round(26 * 1.45) == 38
    first = need(CHENILLE, 1, ROUND_11, BARE).path_m - need(CHENILLE, 0, ROUND_11, BARE).path_m
    assert first * 1000 == pytest.approx(23 * 1.45)


def test_tails_and_joins_are_counted() -> None:
    """A thread of 1.8 m with tails of 18 cm gives 1.44 m of path; each join costs 2.5 and 15 cm."""
    how = Threading(turns=0.0)
    for rounds in range(0, 400, 7):
        made = need(CHENILLE, rounds, ROUND_11, how)
        path = made.path_m * 1000
        assert made.total_m * 1000 == pytest.approx(path + 360 + made.joins * 175)
        # So many threads hold it, and one less does not.
        assert made.total_m * 1000 <= (made.joins + 1) * 1800 + 1e-6
        if made.joins:
            assert path + 360 + (made.joins - 1) * 175 > made.joins * 1800 - 1e-6


@settings(deadline=None)  # the machine may be busy
@given(rounds=st.integers(0, 500), more=st.integers(0, 200), name=st.sampled_from(parsing.names()))
def test_more_rounds_never_take_less_thread(rounds: int, more: int, name: str) -> None:
    made = parsing.load(name)
    length = dict.fromkeys(made.roles, 1.45)
    some, longer = (need(made, n, length, Threading()) for n in (rounds, rounds + more))
    assert longer.total_m >= some.total_m - 1e-9


def test_a_thread_must_be_longer_than_its_tails() -> None:
    with pytest.raises(ValueError, match="all tails"):
        need(CHENILLE, 100, ROUND_11, Threading(working_mm=150.0))
