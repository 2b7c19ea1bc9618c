"""Plans in words: each case says what is true of it and nothing more."""

from __future__ import annotations

from analyser.colourway.plan_choice import PlanProposal
from analyser.colourway.plan_seen import FadeStep, PlanSeen
from analyser.phrases import plans
from analyser.stock.bead import Bead

TEAL, FOG, SAND = (Bead(name.lower(), name, "11/0") for name in ("Teal", "Fog", "Sand"))
NAMES = {"body:teal": "Teal", "body:fog": "Fog", "body:sand": "Sand"}


def step(before: str, after: str, seen: float, reads_to_m: float) -> FadeStep:
    return FadeStep("body", f"body:{before}", f"body:{after}", 12.0, seen, reads_to_m)


def test_a_proposal_is_named_by_its_beads() -> None:
    def title(kind: str, role: str, *beads: Bead) -> str:
        return plans.title(PlanProposal(kind, role, beads, {}, ()))  # type: ignore[arg-type]  # one of KINDS

    assert title("fade", "body", TEAL, FOG, SAND) == "A fade of the body from Teal over Fog to Sand"
    assert title("fade", "body", TEAL, SAND) == "A fade of the body from Teal to Sand"
    assert title("bands", "accent", TEAL, FOG, SAND) == "Bands of 8 rounds, the accent in Teal, Fog and Sand"
    assert title("middle", "body", TEAL, FOG, TEAL) == "The middle third of the body in Fog, the ends in Teal"
    assert plans.title(None) == "By your plan"


def test_a_fade_is_even_or_its_largest_step_is_told() -> None:
    even = PlanSeen((), (step("teal", "fog", 9.0, 2.0), step("fog", "sand", 10.0, 2.2)))
    assert plans.fade_steps(even, NAMES) == (
        "2 even steps: the largest, Fog to Sand, stands out at arm's length by 10, told apart at a glance to "
        "about 2 m"
    )
    uneven = PlanSeen((), (step("teal", "fog", 3.0, 1.0), step("fog", "sand", 9.0, 2.2)))
    assert "2 steps up to 1.5 times the mean" in plans.fade_steps(uneven, NAMES)
    quiet = PlanSeen((), (step("teal", "fog", 0.4, 0.3),))
    assert plans.fade_steps(quiet, NAMES) == "one step, Teal to Fog: it is not told apart at arm's length"
    assert plans.fade_steps(PlanSeen((), ()), NAMES) == ""
