"""What a planned piece takes: the roles' counts shared out, and whether the stock holds each bead.

Common practice, no source: sums and ranges follow from the definition of a plan.
"""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analyser.errors import PlanError
from analyser.motif import parsing
from analyser.motif.plan import Plan, PlannedBead, Stretch
from analyser.piece import plan_file
from analyser.piece.counting import count
from analyser.piece.planned_count import count_plan
from analyser.stock.bead import Bead
from analyser.stock.quantity import Quantity

CHENILLE = parsing.load("chenille")
FADE = plan_file.fade("body=teal-deep..driftwood")


@settings(max_examples=30, deadline=None)
@given(length=st.floats(120, 900), rounds=st.integers(1, 30))
def test_the_beads_of_a_role_add_up(length: float, rounds: int) -> None:
    made = count(CHENILLE, length_mm=length)
    for plan in (FADE, plan_file.bands(rounds, "accent=coral,honey")):
        needs = count_plan(plan, made).needs
        for role in CHENILLE.roles:
            mine = [need for need in needs if need.bead.role == role]
            assert sum(need.beads for need in mine) == made.beads[role]
        assert all(need.low <= need.beads <= need.high <= need.with_spare for need in needs)


def test_the_stock_is_asked_bead_by_bead() -> None:
    made = count(CHENILLE, rounds=60)
    teal = Bead("teal-deep", "Teal deep", "11/0", quantity=Quantity(50.0, "grams"))
    drift = Bead("driftwood", "Driftwood", "11/0", quantity=Quantity(20.0, "beads"))
    lots = {"body:teal-deep": (teal,), "body:driftwood": (drift,)}
    planned = count_plan(FADE, made, lots)
    held = {need.bead: need.held for need in planned.needs}
    assert held[PlannedBead("accent")] is None
    assert held[PlannedBead("body", "teal-deep")].enough is True
    short = held[PlannedBead("body", "driftwood")]
    need = next(need for need in planned.needs if need.bead.text == "driftwood")
    assert (short.enough, short.short) == (False, need.with_spare - 20)
    assert planned.enough is False


def test_a_role_the_motif_has_not_is_refused() -> None:
    plan = Plan((Stretch({"third": "x"}),))
    with pytest.raises(PlanError, match="names the third; the motif chenille has accent, body"):
        count_plan(plan, count(CHENILLE, rounds=10))
