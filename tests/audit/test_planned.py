"""Ropes with a plan, drawn with exact truth: the truth is the drawing's, no outside source."""

import json
from dataclasses import replace
from importlib import resources

import jsonschema
import pytest

from analyser.audit.evenness import audit
from analyser.audit.told_plan import ToldPlan, told_plan
from analyser.audit.verdict import Piece
from analyser.photo.calibration import calibrate
from analyser.phrases import audits as phrases
from analyser.piece import plan_file
from analyser.report.audit_answers import audit_answer
from synthetic.planned import Course, plan_text
from synthetic.ropes import Recipe, draw, photo_of

TEAL, CORAL = (45.0, -30.0, -12.0), (62.0, 42.0, 30.0)
MIDDLE = Course("middle", (CORAL,), "accent", start=0.2, stop=0.55)
ROPE = Recipe(
    "chenille", "straight", "even", "paper", (78, 2, 16), TEAL, 48, 8.0, 0.4, 40, 5, gloss=0.03, course=MIDDLE
)


def judged(course: Course, plan: ToldPlan | None, *, planned: bool = False) -> Piece:
    photo = photo_of(draw(replace(ROPE, course=course)).linear)
    return audit(photo, calibrate(photo, "none"), plan=plan, planned=planned)


def told() -> ToldPlan:
    return told_plan(plan_file.parse(plan_text(MIDDLE, TEAL), "plan.toml"))


@pytest.fixture(scope="module")
def kept() -> Piece:
    return judged(MIDDLE, told())


def test_a_rope_that_keeps_to_its_plan_is_even(kept):
    assert kept.findings == ()
    assert kept.verdict == "even"
    inner = kept.plan[1]
    assert (inner.start, inner.stop) == pytest.approx((0.2, 0.55), abs=0.04)
    assert [role.role for role in kept.roles] == ["body", "accent", "accent"]


def test_the_answer_tells_the_stretches_and_keeps_to_the_schema(kept):
    answer = audit_answer([kept], [], {})
    piece = answer["pieces"][0]
    assert piece["planned"] is True
    assert [part["stretch"] for part in piece["plan"]] == [1, 2, 3]
    assert all(len(part["beads"]["accent"]) == 1 for part in piece["plan"])
    text = resources.files("analyser.report").joinpath("schemas", "audit.json").read_text(encoding="utf-8")
    schema = json.loads(text)["allOf"][1]["properties"]["pieces"]["items"]["properties"]
    jsonschema.validate(piece["plan"], schema["plan"])


def test_a_border_five_rounds_late_is_off_the_plan():
    late = judged(replace(MIDDLE, fault="border"), told())
    (off,) = [finding for finding in late.findings if finding.kind == "plan-off"]
    assert late.verdict == "uneven"
    assert off.role == "accent"
    # The border that was planned at 0.2 lies 5 of 48 rounds further on.
    assert off.at == pytest.approx(0.2 + 5 / 48, abs=0.05)
    assert "comes" in phrases.finding(off, late.ruler)


def test_without_its_plan_it_is_asked_about_and_a_tick_makes_it_even():
    asked = judged(MIDDLE, None)
    assert asked.verdict == "check"
    assert asked.asked is not None
    assert asked.asked.kind == "middle"
    assert (asked.asked.start, asked.asked.stop) == pytest.approx((0.2, 0.55), abs=0.05)
    assert not any(finding.kind in ("stray-bead", "lot-change") for finding in asked.findings)
    assert phrases.notes(asked)[0].startswith("this looks planned: another accent from")
    ticked = judged(MIDDLE, None, planned=True)
    assert ticked.asked is None
    assert ticked.verdict == "even"
