"""Lots shared out kit by kit, cards, shopping list, blends."""

from __future__ import annotations

from datetime import date
from itertools import product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analyser.motif import parsing
from analyser.piece import counting, kits, piece_cards
from analyser.piece.gauge import Gauge
from analyser.stock import lots
from analyser.stock.bead import Bead
from analyser.stock.quantity import Quantity

CHENILLE = parsing.load("chenille")


def lot(beads: float, name: str = "T1", which: str = "a") -> Bead:
    return Bead(name, f"bead {name}", size="11/0", quantity=Quantity(beads, "beads"), lot=which)


def brute_force(needs: list[int], holds: list[int]) -> int:
    """Most needs that can be served, by trying every way."""
    best = 0
    for plan in product(range(-1, len(holds)), repeat=len(needs)):
        taken = [sum(n for n, at in zip(needs, plan, strict=True) if at == i) for i in range(len(holds))]
        if all(t <= h for t, h in zip(taken, holds, strict=True)):
            best = max(best, sum(at >= 0 for at in plan))
    return best


@settings(max_examples=60, deadline=None)
@given(needs=st.lists(st.integers(1, 9), max_size=5), holds=st.lists(st.integers(0, 25), max_size=3))
def test_sharing_out_equals_brute_force(needs: list[int], holds: list[int]) -> None:
    boxes = [lot(h, which=str(i)) for i, h in enumerate(holds)]
    shares = lots.share_out(needs, boxes)
    served = [i for share in shares for i in share.served]
    assert len(served) == len(set(served)) == brute_force(needs, holds)
    for share in shares:
        assert sum(needs[i] for i in share.served) <= holds[int(share.bead.lot)]


def test_a_class_serves_kit_by_kit_and_never_two_lots_in_one() -> None:
    """Two lots of 900 hold 1800, but of kits of 400 they serve four, not four and a half."""
    shares = lots.share_out([400] * 5, [lot(900, which="a"), lot(900, which="b")])
    assert [len(share.served) for share in shares] == [2, 2]


@settings(deadline=None)  # the machine may be busy
@given(
    rounds=st.integers(0, 300),
    first=st.integers(0, 2000),
    second=st.integers(0, 2000),
    base=st.integers(0, 12),
    closing=st.integers(0, 12),
)
def test_a_blend_never_takes_more_than_a_lot_holds(
    rounds: int, first: int, second: int, base: int, closing: int
) -> None:
    plan = lots.blend(rounds, 6, base, closing, first, second)
    if plan is None:
        return
    assert plan.before + 3 * plan.step + plan.after == rounds
    mixed = 6 * plan.step
    assert base + 6 * plan.before + mixed * (0.75 + 0.5 + 0.25) <= first
    assert closing + 6 * plan.after + mixed * (0.25 + 0.5 + 0.75) <= second


def test_a_blend_is_there_where_two_lots_suffice() -> None:
    """400 beads are 66 rounds of six: 57 alone and half of the 18 mixed ones."""
    plan = lots.blend(100, 6, 0, 6, 400, 250)
    assert plan is not None
    assert (plan.before, plan.step, plan.after) == (57, 6, 25)
    assert lots.blend(100, 6, 0, 6, 300, 300) is None
    small = lots.blend(100, 6, 0, 0, 588, 20)
    assert small is not None
    assert small.step < 6


def test_ten_seats_in_four_colourways() -> None:
    """Two colourways share a body bead: its lots serve both."""
    teal = (lot(3000, "T1", "a"), lot(1500, "T1", "b"))
    boxes = {name: (lot(6000, name),) for name in ("C1", "P1", "G1", "R1", "N1")}
    beads = [
        ("Dusk", "C1", teal),
        ("Dune", "P1", boxes["N1"]),
        ("Sea", "G1", teal),
        ("Fire", "R1", boxes["N1"]),
    ]
    made = []
    for (name, accent, body), number in zip(beads, kits.split_kits(10, 4), strict=True):
        of_it = {"accent": boxes[accent], "body": body}
        made.append(
            kits.KitColourway(name, counting.count(CHENILLE, rounds=110, kits=10, stock=of_it), of_it, number)
        )
    plan = kits.plan(made)
    assert [card.number for card in plan.cards] == list(range(1, 11))
    # 766 body beads a kit: 3000 serve three, 1500 one, of the five of Dusk and Sea; 6000 the other five.
    assert sum(kits_ for _, role, kits_ in plan.missing if role == "body") == 1
    assert not plan.enough
    teal_lots = [p.bead.lot for card in plan.cards for p in card.portions if p.bead and p.bead.id == "T1"]
    assert sorted(teal_lots) == ["a"] * 3 + ["b"]
    buy = {line.what: line for line in plan.shopping}
    assert (buy["bead T1 (T1)"].beads, buy["bead T1 (T1)"].packs) == (766, 1)
    assert buy["clasp"].packs == 10
    assert buy["jump ring"].packs == buy["end bead 6 mm"].packs == 20
    assert buy["needle, size 10 to 12"].packs == 10


# Common practice, no source: ten kits of 110 rounds, 15 % spare, 100 beads to the gram.
def test_the_card_of_a_bag() -> None:
    count = counting.count(CHENILLE, rounds=110, kits=10)
    card = piece_cards.card(count, {"accent": lot(9, "C1", "17"), "body": None}, 3, 10, "Dusk")
    text = card.text()
    assert text.startswith("Kit 3 of 10 · Dusk\nChenille rope, 25.8 cm with clasp: about 110 rounds\n")
    assert "A  bead C1 (C1), 11/0 round, lot 17: 4.1 g (408 beads)" in text
    assert "B  body, 11/0 round: 7.7 g (766 beads)" in text
    for words in ("End beads: 2 of 6 mm", "Clasp: 1 with 2 rings", "Needle: size 10 to 12", "Thread: 3.2 m"):
        assert words in text
    assert "not for children under 3" in text
    assert "nickel" in text
    assert "local product-safety rules" in text


def test_cards_that_are_alike_are_told_once_and_a_bead_without_a_lot_by_its_name() -> None:
    of_it = {"accent": [lot(9000, "C1", "17")], "body": [lot(1600, "T1", "5")]}  # 766 body beads a kit
    count = counting.count(CHENILLE, rounds=110, kits=5, stock=of_it)
    plan = kits.plan([kits.KitColourway("Dusk", count, of_it, 5)])
    told = piece_cards.in_short(plan.cards).split("\n\n")
    assert [one.splitlines()[0] for one in told] == [
        "Kits 1 and 2 of 5 · Dusk, all alike",
        "Kits 3 to 5 of 5 · Dusk, all alike",
    ]
    assert "B  bead T1 (T1), 11/0 round, lot 5: 7.7 g (766 beads)" in told[0]
    assert "B  bead T1 (T1), 11/0 round, no lot yet: 7.7 g (766 beads)" in told[1]


@settings(deadline=None)  # the machine may be busy
@given(st.floats(0.001, 5000))
def test_the_scale_never_gives_short_weight(grams: float) -> None:
    shown = piece_cards.to_scale(grams)
    assert grams - 1e-6 <= shown < grams + 0.1 + 1e-6
    assert shown == round(shown, 1)


def test_shopping_is_rounded_up_to_packs() -> None:
    count = counting.count(CHENILLE, rounds=110, kits=10)
    plan = kits.plan([kits.KitColourway("", count, {}, 10)], pack_grams=10.0)
    assert [(line.beads, line.packs) for line in plan.shopping[:2]] == [(4080, 5), (7660, 8)]
    tube = Bead("T1", "T1", size="11/0", quantity=Quantity(0, "tubes", grams_each=8.0))
    stock = {"body": (tube,)}
    count = counting.count(CHENILLE, rounds=110, kits=10, stock=stock)
    plan = kits.plan([kits.KitColourway("", count, stock, 10)])
    body = next(line for line in plan.shopping if line.what == "T1 (T1)")
    assert (body.packs, body.pack) == (10, "tube of 8 g")


def test_needles_and_threads_by_bead_size() -> None:
    """Common practice, no source: 10 for 8/0, 10 to 12 for 11/0, 12 to 13 for 15/0; braided 8-10, 6, 4 lb."""
    assert [piece_cards.needle_for(mm) for mm in (3.0, 2.1, 1.5)] == [
        "size 10",
        "size 10 to 12",
        "size 12 to 13",
    ]
    assert "8 to 10 lb" in piece_cards.thread_for(3.0)
    assert "4 to 8 lb" in piece_cards.thread_for(2.1)
    assert "4 lb" in piece_cards.thread_for(1.5)


def test_a_piece_card_tells_how_to_make_it_again() -> None:
    count = counting.count(CHENILLE, length_mm=178.0, gauge=Gauge(25, 50))
    made = piece_cards.piece_card(
        count, {"accent": lot(900, "C1", "17"), "body": lot(900)}, date(2026, 5, 4), "for Mo"
    )
    text = made.text()
    assert text.splitlines()[0] == "Chenille rope, 2026-05-04"
    assert f"{count.rounds} rounds, 17.8 cm with clasp" in text
    assert "Gauge: 25 rounds in 50mm" in text
    assert f"A  accent: bead C1 (C1), 11/0 round, lot 17: {count.beads['accent']} beads" in text
    assert text.endswith("for Mo")
    assert {p.role: p.beads for p in made.portions} == count.beads


@pytest.mark.parametrize(
    ("number", "ways", "each"), [(12, 4, (3, 3, 3, 3)), (12, 5, (3, 3, 2, 2, 2)), (3, 3, (1, 1, 1))]
)
def test_kits_are_split_evenly(number: int, ways: int, each: tuple[int, ...]) -> None:
    assert kits.split_kits(number, ways) == each


def test_end_beads_from_the_stock_are_two_a_piece() -> None:
    ends = (Bead("E1", "pearl", size="8mm", shape="large", quantity=Quantity(7, "beads"), lot="x"),)
    stock = {"body": (lot(90_000),), "end": ends}
    count = counting.count(CHENILLE, length_mm=178.0, kits=4, stock=stock)
    assert count.end_bead_mm == 8.0
    assert "end" not in count.beads
    assert count.stock is not None
    assert (count.stock["end"].enough, count.stock["end"].short) == (False, 2)
    plan = kits.plan([kits.KitColourway("", count, stock, 4)])
    assert plan.missing == (("", "end", 1),)
    assert [line.packs for line in plan.shopping if line.what.startswith("end bead")] == [2]
    assert plan.cards[0].end_beads == "2 of 8 mm, pearl (E1), lot x"


def test_a_lot_of_unknown_content_is_asked_for_not_bought() -> None:
    unknown = Bead("T1", "T1", size="11/0", lot="b")
    stock = {"body": (lot(1000), unknown)}
    count = counting.count(CHENILLE, rounds=110, kits=3, stock=stock)
    plan = kits.plan([kits.KitColourway("", count, stock, 3)])
    assert (plan.enough, plan.missing, plan.unknown) == (None, (), (("", "body", 2),))
    assert [line.what for line in plan.shopping if line.beads] == ["accent, 11/0 round"]


def test_end_beads_that_are_owned_are_not_bought() -> None:
    count = counting.count(CHENILLE, length_mm=178.0, kits=4, stock={"body": (lot(90_000),)})
    made = [kits.KitColourway("", count, {"body": (lot(90_000),)}, 4)]
    assert count.end_bead_mm == 6.0

    def owned(size: str, beads: int) -> Bead:
        return Bead("E1", "pearl", size=size, shape="large", quantity=Quantity(beads, "beads"))

    # Four kits take eight; seven are too few, and another size closes no end.
    for bead, bought in ((owned("6mm", 8), 0), (owned("6mm", 7), 8), (owned("8mm", 8), 8)):
        ends = kits.owned_end_beads(made, [bead])
        plan = kits.plan(made, owned_ends=ends)
        packs = [line.packs for line in plan.shopping if line.what.startswith("end bead")]
        assert (sum(packs), bool(ends)) == (bought, not bought)
    # What the rope is woven of is left to the rope.
    assert kits.owned_end_beads(made, [lot(90_000)]) == {}
