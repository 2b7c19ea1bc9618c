"""What is said of a count."""

from __future__ import annotations

from analyser.phrases import reckoning
from analyser.stock.bead import Bead
from analyser.stock.lots import Blend, BlendedLots


def test_two_lots_are_named_by_their_lot_or_else_by_their_row():
    first, second = (Bead("teal-deep", "Deep teal", lot=lot, row=row) for lot, row in (("a", 4), ("", 9)))
    assert reckoning.blend("body", BlendedLots(Blend(57, 6, 25), first, second)) == (
        "one lot a piece is best; if two lots of the body must be mixed: 57 rounds of lot a, then 6 rounds "
        "each of 3:1, 1:1 and 1:3 (lot a to row 9), then 25 rounds of row 9"
    )
