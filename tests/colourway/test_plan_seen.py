"""A planned rope as the eye has it: each stretch is judged as its pair, a fade by its beads side by side.

Common practice, no source: identities that follow from the definitions; contrast and reading distance are
tested against their sources elsewhere.
"""

from __future__ import annotations

import pytest

from analyser.colourway.measures import measure, view_of
from analyser.colourway.plan_seen import plan_seen
from analyser.colourway.turns import taking_turns
from analyser.motif import parsing
from analyser.motif.plan import Plan, Stretch, even_fade

VIEW = view_of(parsing.load("chenille"))
CORAL, TEAL, SAND, WHITE = (62.0, 44.0, 29.0), (36.0, -12.0, -12.0), (74.0, 3.0, 18.0), (95.0, 0.0, 2.0)
COLOURS = {"accent": CORAL, "body:teal": TEAL, "body:sand": SAND, "body:white": WHITE}


def test_a_stretch_is_judged_as_its_pair() -> None:
    told = Plan((Stretch({"body": "teal"}, rounds=20), Stretch({"body": "sand"}, rounds=20)), repeat=True)
    seen = plan_seen(told, VIEW, 80, 2.0, COLOURS)
    assert [one.beads["body"] for one in seen.stretches] == ["body:teal", "body:sand"]
    assert [(one.start, one.share) for one in seen.stretches] == [(0.0, 0.5), (0.25, 0.5)]
    for one, body in zip(seen.stretches, (TEAL, SAND), strict=True):
        assert one.measures == measure([CORAL], [body], VIEW).one(0)
    assert seen.largest_step is None
    assert seen.unevenness is None


def test_the_steps_of_a_fade_are_those_of_its_beads_once_each() -> None:
    fade = even_fade("body", ["teal", "sand", "white"])
    there = plan_seen(fade, VIEW, 60, 2.0, COLOURS)
    assert [(step.before, step.after) for step in there.steps] == [
        ("body:teal", "body:sand"),
        ("body:sand", "body:white"),
    ]
    # A mirrored fade has the steps of its first half.
    assert plan_seen(Plan(fade.stretches, mirror=True), VIEW, 60, 2.0, COLOURS).steps == there.steps
    assert there.largest_step == max(there.steps, key=lambda step: step.seen)
    mean = sum(step.seen for step in there.steps) / 2
    assert there.unevenness == pytest.approx(max(step.seen for step in there.steps) / mean)


def test_beads_that_are_alike_show_no_step() -> None:
    same = COLOURS | {"body:sand": TEAL}
    (step,) = plan_seen(even_fade("body", ["teal", "sand"]), VIEW, 40, 2.0, same).steps
    assert (step.de00, step.reads_to_m) == (0.0, 0.0)
    assert step.seen == pytest.approx(0.0, abs=1e-9)


def test_what_has_no_colour_is_left_out() -> None:
    known = {key: lab for key, lab in COLOURS.items() if key != "body:sand"}
    seen = plan_seen(even_fade("body", ["teal", "sand", "white"]), VIEW, 60, 2.0, known)
    assert seen.steps == ()
    assert [one.beads["body"] for one in seen.stretches] == ["body:teal", "body:white"]


@pytest.mark.parametrize("motif", parsing.names())
def test_two_beads_can_take_turns_in_every_role(motif: str) -> None:
    """Half of the role's area is the one's, half the other's, as far as the tile's few beads allow."""
    made = parsing.load(motif)
    for role in made.roles:
        turns = taking_turns(made, made.bead_mm, role)
        one, two = (turns.pattern.shares[place] for place in turns.pair)
        assert one == pytest.approx(two, rel=0.2)
