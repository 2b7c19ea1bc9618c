"""Two photos of one rope: what both show stands, what the angle made goes. The findings are made up."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import pytest

from analyser.audit.evenness import audit
from analyser.audit.same_piece import same_piece
from analyser.audit.verdict import Finding, LotChanged, StrayBead
from analyser.errors import OptionError
from analyser.photo.calibration import calibrate
from synthetic.ropes import Recipe, draw, photo_of

EVEN = Recipe(
    "chenille", "straight", "even", "paper", (32, 25, -8), (76, -20, 8), 30, 8.0, 0.6, 70, 11, gloss=0.05
)


@cache
def even():
    photo = photo_of(draw(EVEN).linear)
    return audit(photo, calibrate(photo, "none"))


def change(at, role="body", sheen="metallic", de00=4.0):
    return Finding("lot-change", role, at, (0.0, 0.0), de00, 0.99, LotChanged(de00, sheen))


def shown(findings, *, photo="a", sheen="metallic"):
    piece = even()
    roles = tuple(replace(role, sheen=sheen if role.role == "body" else "plain") for role in piece.roles)
    return replace(
        piece,
        photo=replace(piece.photo, sha256=photo * 64),
        roles=roles,
        findings=tuple(findings),
        verdict="check" if findings else "even",
    )


def test_a_change_in_metal_that_both_photos_show_is_no_longer_the_angles():
    one, other = same_piece([shown([change(0.4)]), shown([change(0.42)], photo="b")])
    assert one.verdict == other.verdict == "uneven"
    assert [finding.about for finding in one.findings] == [LotChanged(4.0)]
    assert one.findings[0].confidence == pytest.approx(1 - 0.01**2)


def test_a_change_in_metal_that_one_photo_shows_is_left_out_and_said():
    one, other = same_piece([shown([change(0.4)]), shown([], photo="b")])
    assert one.verdict == other.verdict == "even"
    assert not one.findings
    assert any("left out" in note for note in one.notes)


def test_the_ends_may_have_changed_places():
    one, _ = same_piece([shown([change(0.2)]), shown([change(0.8)], photo="b")])
    assert [finding.at for finding in one.findings] == [0.2]


def test_a_plain_role_needs_no_second_witness():
    stray = Finding("stray-bead", "accent", 0.3, (0.0, 0.0), 9.0, 0.9, StrayBead("body"))
    one, _ = same_piece([shown([stray]), shown([], photo="b")])
    assert one.findings == (stray,)
    assert one.verdict == "uneven"


def test_one_photo_given_twice_is_refused():
    with pytest.raises(OptionError, match="two photos of one rope"):
        same_piece([shown([]), shown([])])
