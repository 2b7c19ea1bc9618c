"""Sentences as a maker reads them: place from the nearer end, and from where to unpick.

A tubular rope is unpicked from the end worked last (common practice, no source); sums of length and rounds
are done by hand beside each.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from analyser.audit.ruler import Ruler
from analyser.audit.verdict import About, Finding, LotChanged, PlainRound, SlackStretch, StrayBead
from analyser.phrases import audits

# 18 cm and 130 rounds from end to end.
RULER = Ruler(length_mm=180.0, rounds=130)
LEFT, RIGHT = replace(RULER, worked="first"), replace(RULER, worked="last")


def says(role: str, at: float, about: About, ruler: Ruler) -> str:
    return audits.finding(Finding("lot-change", role, at, (0.0, 0.0), None, 0.9, about), ruler)


def lot_change(role: str, at: float, de00: float, ruler: Ruler, sheen: str = "plain") -> str:
    return says(role, at, LotChanged(de00, sheen), ruler)


def stray_bead(role: str, becomes: str | None, at: float, ruler: Ruler) -> str:
    return says(role, at, StrayBead(becomes), ruler)


def plain_round(role: str, at: float, ruler: Ruler) -> str:
    return says(role, at, PlainRound(), ruler)


def test_a_lot_change_near_the_end_worked_last_is_unpicked_from_there():
    # 1 - 0.689 = 0.311; of 18 cm 5.6, of 130 rounds 40.
    assert lot_change("body", 0.689, 3.06, RIGHT) == (
        "the body changes lot 5.6 cm from the right end, about 40 rounds (CIEDE2000 3.1); "
        "unpick from that end to here and fade the lots 3:1, 1:1, 1:3"
    )


def test_a_lot_change_near_the_base_says_how_much_must_be_unpicked():
    # 0.311 from the right, so 0.689 from the left: 12.4 cm, 90 rounds.
    assert lot_change("body", 0.689, 3.06, LEFT) == (
        "the body changes lot 5.6 cm from the right end, about 40 rounds (CIEDE2000 3.1); "
        "unpick from the left end to here (12.4 cm, about 90 rounds) and fade the lots 3:1, 1:1, 1:3"
    )


def test_where_the_end_worked_last_is_not_known_the_maker_knows_it():
    assert lot_change("body", 0.689, 3.06, RULER) == (
        "the body changes lot 5.6 cm from the right end, about 40 rounds (CIEDE2000 3.1); "
        "unpick from the end worked last to here and fade the lots 3:1, 1:1, 1:3"
    )


def test_beads_that_change_with_the_angle_are_not_accused():
    said = lot_change("accent", 0.2, 3.06, LEFT, "metallic")
    assert said == (
        "the accent looks metallic and seems to change 3.6 cm from the left end, about 26 rounds "
        "(CIEDE2000 3.1); such beads change with the angle: photograph the rope again turned by 90 degrees "
        "before unpicking anything"
    )


def test_a_stray_bead_near_the_base_is_broken_out():
    # 0.2: 3.6 cm and 26 rounds from the left, 14.4 cm and 104 rounds from the right.
    assert stray_bead("accent", "body", 0.2, RIGHT) == (
        "a body bead sits where an accent bead belongs, 3.6 cm from the left end, about 26 rounds; break it "
        "out with pliers and stitch the right one in: less work than unpicking 14.4 cm from the right end, "
        "about 104 rounds"
    )


def test_a_stray_bead_near_the_end_worked_last_leaves_the_choice():
    assert stray_bead("accent", None, 0.2, LEFT).endswith(
        "3.6 cm from the left end, about 26 rounds; break it out with pliers and stitch the right one in, "
        "or unpick from that end to here"
    )
    assert stray_bead("accent", None, 0.2, RULER).endswith("or unpick from the end worked last to here")


def test_a_plain_round_is_worked_again():
    assert plain_round("accent", 0.2, LEFT) == (
        "a round has no accent beads, 3.6 cm from the left end, about 26 rounds; unpick from that end to "
        "here and work the round again"
    )
    assert "unpick from the right end to here (14.4 cm, about 104 rounds) and" in plain_round(
        "accent", 0.2, RIGHT
    )


def test_without_a_length_places_are_shares_and_ends_have_their_names():
    ruler = Ruler(first_end="top", last_end="bottom", worked="last")
    assert audits.place(0.25, ruler) == "25 % of the length from the top end"
    assert audits.unpick(0.25, ruler) == "unpick from the bottom end to here (75 % of the length)"
    assert audits.unpick(0.8, ruler) == "unpick from that end to here"


@pytest.mark.parametrize(("at", "rounds"), [(0.002, "1 round"), (0.0115, "1 round"), (0.0155, "2 rounds")])
def test_rounds_are_whole_and_at_least_one(at, rounds):
    assert audits.place(at, RULER).endswith(f"about {rounds}")


def test_advice_that_rests_on_the_picture_says_so():
    assert audits.base_seen(RIGHT) == ""
    note = audits.base_seen(replace(RIGHT, base_seen=True))
    assert "round the left end is taken for the base, so unpick from the right end" in note
    assert "if the left end was worked last, unpick from there instead" in note


def test_a_slack_stretch_is_a_remark_with_its_size_and_middle():
    # 0.1 to 0.3 of 18 cm: 3.6 cm long, its middle 3.6 cm and 26 rounds from the left.
    assert says("body", 0.2, SlackStretch(0.1, 0.3, 1.12), LEFT) == (
        "3.6 cm, with its middle 3.6 cm from the left end, about 26 rounds, is drawn up less tightly: its "
        "rounds lie 12 % farther apart; gaps darken it, and that is no fault of colour"
    )
