"""Which lot of a bead a piece is made from."""

from __future__ import annotations

from pathlib import Path

from analyser.stock import lots
from analyser.stock.bead import Bead
from analyser.stock.holding import hold
from analyser.stock.list import stock_list
from analyser.stock.quantity import Quantity


def lot(which: str, held: Quantity | None) -> Bead:
    return Bead("sea", "Sea", size="11/0", quantity=held, lot=which)


def test_one_lot_is_taken_wherever_the_list_is_asked(tmp_path: Path) -> None:
    """Three thousand beads counted are more for sure than 28 g, though 28 g are likely more."""
    path = tmp_path / "box.csv"
    path.write_text(
        "id,name,size,hex,quantity,lot\n"
        "sea,Sea,11/0,#102030,28 g,weighed\n"
        "sea,Sea,11/0,#104030,3000 beads,counted\n"
    )
    read = stock_list.read(path)
    weighed, counted = read.beads
    likely = [bead.amount() for bead in (weighed, counted)]
    assert likely[0] is not None
    assert likely[1] is not None
    assert likely[0].likely > likely[1].likely > likely[0].low
    assert read.find("sea") == counted
    assert lots.largest(read.lots("sea")) == counted
    assert hold({"body": 3000}, {"body": read.lots("sea")})["body"].bead == counted


def test_a_lot_of_unknown_content_comes_before_an_empty_one() -> None:
    empty, unknown, some = lot("a", Quantity(0, "grams")), lot("b", None), lot("c", Quantity(5, "grams"))
    assert lots.largest([empty, unknown]) == unknown
    assert lots.largest([unknown, some]) == some
    assert lots.largest([empty]) == empty
