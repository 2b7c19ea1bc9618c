"""Counting: the chain of lengths, rounds, spare, grams and stock, against counts worked by hand."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analyser.errors import OptionError
from analyser.motif import parsing
from analyser.phrases import reckoning
from analyser.piece import counting
from analyser.piece.gauge import Gauge
from analyser.stock.bead import Bead
from analyser.stock.kinds import kind_of
from analyser.stock.quantity import Cost, Quantity

CHENILLE = parsing.load("chenille")
MOTIFS = {name: parsing.load(name) for name in parsing.names()}
NAMES = st.sampled_from(sorted(MOTIFS))


def lot(beads: float | None, name: str = "T1", which: str = "a", **more: object) -> Bead:
    held = None if beads is None else Quantity(beads, "beads")
    return Bead(name, name, size="11/0", quantity=held, lot=which, **more)  # type: ignore[arg-type]  # several types


# Common practice, no source: a bracelet of 178 mm, worked out by hand.
def test_the_chain_of_lengths_of_a_bracelet() -> None:
    """178 mm less 20 clasp, 12 for two end beads of 6 mm and 5 x 1.45 for base and closing = 138.75 mm."""
    made = counting.count(CHENILLE, length_mm=178.0)
    assert made.end_bead_mm == 6.0
    assert made.lengths.patterned_mm == pytest.approx(138.75, abs=1e-9)
    parts = made.lengths
    assert parts.clasp_mm + parts.end_beads_mm + parts.ends_mm + parts.patterned_mm == pytest.approx(178.0)


# Common practice, no source: the same bracelet at two rises.
@pytest.mark.parametrize(
    ("rise_mm", "rounds", "accent", "body", "grams"), [(2.05, 68, 228, 414, 5.8), (1.75, 79, 261, 480, 6.7)]
)
def test_a_bracelet_at_two_rises(rise_mm: float, rounds: int, accent: int, body: int, grams: float) -> None:
    made = counting.count(CHENILLE, length_mm=178.0, gauge=Gauge(100, 100 * rise_mm), spare=0.0)
    assert made.rounds == made.rounds_low == made.rounds_high == rounds
    assert made.beads == made.low == made.high == {"accent": accent, "body": body}
    assert sum(made.beads.values()) / 110 == pytest.approx(grams, abs=0.05)


# Common practice, no source: ten kits of 110 rounds with 15 % spare.
def test_ten_kits() -> None:
    made = counting.count(CHENILLE, rounds=110, kits=10)
    assert made.spare == 0.15
    assert made.with_spare == {"accent": 408, "body": 766}
    assert {role: 10 * n for role, n in made.with_spare.items()} == {"accent": 4080, "body": 7660}
    weights = {role: round(10 * grams, 1) for role, grams in made.grams.items()}
    assert weights == {"accent": 40.8, "body": 76.6}


def test_the_table_gives_about_46_beads_a_centimetre() -> None:
    """Common practice, no source: 43 to 51 beads a cm in 11/0, middle 46, without base and closing."""
    made = counting.count(CHENILLE, length_mm=10_000.0)
    per_cm = [
        9 * n / (made.lengths.patterned_mm / 10) for n in (made.rounds_low, made.rounds, made.rounds_high)
    ]
    assert per_cm[0] == pytest.approx(43, abs=1)
    assert per_cm[1] == pytest.approx(46, abs=1)
    assert per_cm[2] == pytest.approx(51, abs=1)


def test_a_wrist_gets_pi_times_the_rope_on_top() -> None:
    """Common practice, no source: the inside of the loop is pi x the rope's diameter shorter."""
    made = counting.count(CHENILLE, body_mm=160.0)
    assert made.lengths.ease_mm == pytest.approx(math.pi * 7.5, abs=0.01)
    assert made.lengths.finished_mm == pytest.approx(160 + math.pi * 7.5, abs=0.01)


def test_end_beads_grow_with_the_rope() -> None:
    """Common practice, no source: 6 mm or more on 11/0, 8.6 mm or more on 8/0, two a piece."""
    assert counting.count(CHENILLE, rounds=50, size="8/0").end_bead_mm == 8.6
    assert counting.count(CHENILLE, rounds=50, size="8/0").lengths.end_beads_mm == 2 * 8.6
    small = counting.count(CHENILLE, rounds=50, end_mm=2.0)
    assert "end beads of 2 mm slip into the opening of about 2.1 mm; take 6 mm" in reckoning.doubts(small)


def test_cylinders_of_the_same_size_weigh_little_more_than_half() -> None:
    """11/0 round 100 to 120 a gram, 11/0 cylinder 190 to 210: of each role its own."""
    made = counting.count(CHENILLE, rounds=100, kinds={"accent": kind_of("11/0", "cylinder")})
    assert made.grams["accent"] == pytest.approx(made.with_spare["accent"] / 190)
    assert made.grams["body"] == pytest.approx(made.with_spare["body"] / 100)


def test_a_weighed_gram_beats_the_table() -> None:
    made = counting.count(CHENILLE, rounds=100, stock={"body": (lot(5000, per_gram=90.0),)})
    assert made.kinds["body"].per_gram[1] == 90.0
    assert made.grams["body"] == pytest.approx(made.with_spare["body"] / (90 * 0.97))


def test_larger_beads_are_reckoned_and_doubted() -> None:
    """A 4 mm glass ball weighs about as much as a 6/0 of 4 mm, 13 to 16 to the gram (size table)."""
    made = counting.count(CHENILLE, rounds=10, kinds={"accent": kind_of("4mm", "large")})
    assert 11 < made.kinds["accent"].per_gram[1] < 16
    assert any("reckoned for glass balls" in note for note in reckoning.doubts(made))
    assert any("count a gauge of your own" in note for note in reckoning.doubts(made))


@settings(deadline=None)  # the machine may be busy
@given(name=NAMES, length=st.floats(60, 1200), size=st.sampled_from(["15/0", "11/0", "8/0", "6/0"]))
def test_low_likely_high_and_spare_never_fall(name: str, length: float, size: str) -> None:
    made = counting.count(MOTIFS[name], length_mm=length, size=size)
    assert made.rounds_low <= made.rounds <= made.rounds_high
    for role in made.beads:
        chain = (made.low[role], made.beads[role], made.high[role], made.with_spare[role])
        assert list(chain) == sorted(chain)


@settings(deadline=None)  # the machine may be busy
@given(name=NAMES, first=st.integers(0, 300), more=st.integers(0, 300))
def test_counts_are_additive_in_rounds(name: str, first: int, more: int) -> None:
    made = MOTIFS[name]
    cycle = len(made.rounds)
    none, a, b, both = (
        sum(counting.count(made, rounds=n * cycle).beads.values()) for n in (0, first, more, first + more)
    )
    assert both - none == (a - none) + (b - none)


@settings(deadline=None)  # the machine may be busy
@given(rounds=st.integers(1, 400), length=st.floats(20, 800), pieces=st.integers(1, 2000))
def test_a_gauge_comes_back(rounds: int, length: float, pieces: int) -> None:
    """What a gauge says of a length is what was counted in that length."""
    gauge = Gauge(rounds, length)
    assert Gauge.parse(f"{rounds} rounds in {length!r}mm") == gauge
    finished = 20 + 12 + CHENILLE.ends_beads * 1.45 + pieces * gauge.rise_mm
    assert counting.count(CHENILLE, length_mm=finished, gauge=gauge).rounds == pieces


@settings(deadline=None)  # the machine may be busy
@given(length=st.floats(80, 900), more=st.floats(0, 900))
def test_longer_never_takes_fewer(length: float, more: float) -> None:
    short, long = (counting.count(CHENILLE, length_mm=mm) for mm in (length, length + more))
    assert all(short.with_spare[role] <= long.with_spare[role] for role in short.with_spare)
    assert short.thread.total_m <= long.thread.total_m + 1e-9


def test_enough_looks_at_the_largest_single_lot() -> None:
    two_lots = (lot(500, which="a"), lot(450, which="b"))
    made = counting.count(CHENILLE, rounds=140, spare=0.0, stock={"body": two_lots})
    assert made.stock is not None
    held = made.stock["body"]
    assert (held.bead.lot, held.have, held.enough, held.short) == ("a", 500, False, 846 - 500)
    assert made.enough is False
    assert (held.blend.first.lot, held.blend.second.lot) == ("a", "b")


def test_enough_is_judged_by_the_high_count() -> None:
    made = counting.count(CHENILLE, length_mm=178.0)
    between = (made.beads["body"] + made.high["body"]) // 2
    held = counting.count(CHENILLE, length_mm=178.0, spare=0.0, stock={"body": (lot(between),)}).stock
    assert held is not None
    assert held["body"].enough is False


def test_grams_count_by_their_low_end() -> None:
    """4.2 g of 11/0 are 420 beads for sure, however many more there may be."""
    bead = Bead("T1", "T1", size="11/0", quantity=Quantity(4.2, "grams"))
    held = counting.hold({"body": 421}, {"body": (bead,)})["body"]
    assert (held.have, held.enough, held.short) == (420, False, 1)
    assert counting.hold({"body": 420}, {"body": (bead,)})["body"].enough is True


def test_a_lot_of_unknown_content_is_no_answer() -> None:
    held = counting.hold({"body": 100}, {"body": (lot(None),)})["body"]
    assert (held.have, held.enough, held.short) == (None, None, None)
    held = counting.hold({"body": 100}, {"body": (lot(50), lot(None, which="b"))})["body"]
    assert (held.have, held.enough) == (50, None)
    held = counting.hold({"body": 100}, {"body": (lot(150), lot(None, which="b"))})["body"]
    assert (held.have, held.enough) == (150, True)


def test_two_roles_of_one_bead_draw_on_one_box() -> None:
    bead = (lot(250),)
    held = counting.hold({"accent": 100, "body": 200}, {"accent": bead, "body": bead})
    assert sum(bool(of_role.enough) for of_role in held.values()) == 1


def test_cost_where_the_list_says_it() -> None:
    beads = {
        "accent": (lot(1000, "C1", cost=Cost(5.0, "EUR", 500, "beads")),),
        "body": (lot(1000, "T1", cost=Cost(2.0, "EUR", 100, "beads")),),
    }
    made = counting.count(CHENILLE, rounds=100, spare=0.0, stock=beads)
    assert made.cost == pytest.approx(324 * 0.01 + 606 * 0.02)
    assert made.currency == "EUR"
    beads["body"] = (lot(1000, "T1"),)
    assert counting.count(CHENILLE, rounds=100, stock=beads).cost is None


def test_what_cannot_be_counted_is_said() -> None:
    with pytest.raises(OptionError, match="30 mm is too short: clasp and rings 20, end beads 12"):
        counting.count(CHENILLE, length_mm=30.0)
    with pytest.raises(OptionError, match="no bead size '12/0' in the table; known are 15/0"):
        counting.count(CHENILLE, length_mm=178.0, size="12/0")
    with pytest.raises(OptionError, match="the motif chenille has no third; it has accent, body"):
        counting.count(CHENILLE, rounds=1, stock={"third": (lot(1),)})
    with pytest.raises(OptionError, match="no piece of jewellery"):
        counting.count(CHENILLE, length_mm=1e6)
    with pytest.raises(OptionError, match="kits from 1 to 1000, got 0"):
        counting.count(CHENILLE, rounds=1, kits=0)
    with pytest.raises(ValueError, match="give one of"):
        counting.count(CHENILLE, rounds=1, length_mm=178.0)


@settings(deadline=None)  # the machine may be busy
@given(rounds=st.integers(0, 900), spare=st.sampled_from([0.0, 0.1, 0.15, 0.2, 0.25]))
def test_spare_is_the_next_whole_bead(rounds: int, spare: float) -> None:
    """Exact arithmetic in hundredths: 100 and 10 % are 110, not 111."""
    made = counting.count(CHENILLE, rounds=rounds, spare=spare)
    exact = -(-made.high["body"] * (100 + round(spare * 100)) // 100)
    assert made.with_spare["body"] == exact


def test_the_stock_list_holds_where_it_says_another_size() -> None:
    made = counting.count(CHENILLE, rounds=10, size="8/0", stock={"body": (lot(900),)})
    assert made.size == "11/0"
    assert "body: T1 is 11/0 in the stock list, not 8/0; the list holds" in reckoning.doubts(made)
    assert made.kinds["accent"].size == "8/0"


def test_a_shape_holds_where_the_stock_says_none() -> None:
    made = counting.count(CHENILLE, rounds=10, shape="cylinder", stock={"body": (lot(900),)})
    assert (str(made.kinds["accent"]), str(made.kinds["body"])) == ("11/0 cylinder", "11/0 round")
