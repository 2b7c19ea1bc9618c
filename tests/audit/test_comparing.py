"""A rope against its stock beads: woven and piled differ, and that is no fault."""

from __future__ import annotations

import math
from itertools import count
from types import SimpleNamespace

import pytest

from analyser.audit.comparing import WOVEN_AGAINST_PILED, against_stock, between
from analyser.audit.verdict import RoleColour
from analyser.colour.spaces import lab_to_linear, linear_to_lab, xyz_to_linear
from analyser.phrases import sets


def piece(*roles, photo="", method="white-card", together=4.0, field=None):
    found = {role.role: role for role in roles}
    calibration = SimpleNamespace(
        method=method, uncertainty_of_difference=lambda *labs: together, field=field
    )
    sha256 = photo or str(next(_NUMBERS))
    return SimpleNamespace(
        roles=roles, role=found.get, photo=SimpleNamespace(sha256=sha256), calibration=calibration
    )


_NUMBERS = count()


BODY = RoleColour("body", (40.0, 10.0, 10.0), 1.0, 0.6, 100, 0)


def test_what_weaving_explains_is_no_fault():
    # A lightness step of 3 at L 40 is under 3 CIEDE2000 and so under the allowance.
    said = against_stock(piece(BODY), "body", "teal-deep", (43.0, 10.0, 10.0))
    assert said.de00 < WOVEN_AGAINST_PILED[1] < said.allowance_de00
    assert said.explained
    assert "within what weaving and the photo explain" in sets.against_stock(said)


def test_what_weaving_does_not_explain_is_asked_about():
    said = against_stock(piece(BODY), "body", "teal-deep", (60.0, 10.0, 10.0))
    assert said.de00 > said.allowance_de00
    assert not said.explained
    assert "another bead" in sets.against_stock(said)


def test_a_role_the_rope_does_not_show_is_not_compared():
    assert against_stock(piece(BODY), "accent", "teal-deep", (60.0, 0.0, 0.0)) is None


def test_pieces_are_compared_within_their_uncertainties():
    near = RoleColour("body", (40.5, 10.0, 10.0), 1.0, 0.6, 90, 0)
    far = RoleColour("body", (55.0, 10.0, 10.0), 1.0, 0.6, 90, 0)
    said = {(one.a, one.b): one for one in between([piece(BODY), piece(near), piece(far)])}
    assert set(said) == {(0, 1), (0, 2), (1, 2)}
    assert "same as far as the photos can tell" in sets.between(said[0, 1])
    assert "more than the photos' uncertainty" in sets.between(said[0, 2])
    # 1 and 1 in quadrature with the reading's 0.5
    assert said[0, 1].uncertainty_de00 == pytest.approx(1.5)


def test_roles_only_one_piece_has_are_left_out():
    accent = RoleColour("accent", (70.0, 0.0, 0.0), 1.0, 0.4, 50, 1)
    assert [one.role for one in between([piece(BODY, accent), piece(BODY)])] == ["body"]


def test_ropes_of_one_photo_are_compared_by_what_their_difference_is_known_to():
    near = RoleColour("body", (43.0, 10.0, 10.0), 4.0, 0.6, 90, 0)
    (apart,) = between([piece(BODY), piece(near)])
    (together,) = between([piece(BODY, photo="x", method="none"), piece(near, photo="x", method="none")])
    # The camera's 4.0 as far as 3 of 20 Lab leave it alone (0.42), the reading's 0.5, light stronger by 5 %.
    camera = 4.0 * (1 - math.exp(-0.5 * (3 / 20) ** 2)) ** 0.5
    assert camera == pytest.approx(0.42, abs=0.01)
    # L* + 16 goes with the cube root of the light: 5 % less at L* 40 is 0.95 L* less, 0.75 in CIEDE2000.
    assert together.uncertainty_de00 == pytest.approx((camera**2 + 0.5**2 + 0.75**2) ** 0.5, abs=0.1)
    assert (apart.told, together.told) == ("same", "differs")


def test_little_beyond_the_doubt_nothing_is_claimed():
    near = RoleColour("body", (42.0, 10.0, 10.0), 1.0, 0.6, 90, 0)
    (said,) = between([piece(BODY, photo="x"), piece(near, photo="x")])
    assert said.uncertainty_de00 < said.de00 < 2 * said.uncertainty_de00
    assert said.told == "cannot tell"
    assert "little beyond the photos' uncertainty" in sets.between(said)


def test_light_that_was_evened_out_leaves_less_open():
    left, evened = (
        between([piece(BODY, photo="x", field=field), piece(BODY, photo="x", field=field)])[0]
        for field in (None, object())
    )
    assert evened.uncertainty_de00 < left.uncertainty_de00 < 1


def test_two_photos_without_a_reference_in_each_cannot_tell():
    near = RoleColour("body", (41.0, 10.0, 10.0), 6.0, 0.6, 90, 0)
    far = RoleColour("body", (90.0, 10.0, 10.0), 6.0, 0.6, 90, 0)
    with_card, without = piece(BODY), piece(near, method="none")
    assert between([with_card, without])[0].told == "cannot tell"
    assert sets.between(between([with_card, without])[0]).startswith(
        "cannot tell whether the body is the same"
    )
    assert between([piece(BODY, method="none"), piece(far, method="none")])[0].told == "differs"


def test_what_a_lamp_may_have_made_is_no_difference_between_photos_without_a_reference():
    # CIE illuminant A (X, Z of table T.3 of CIE 15:2004) on daylight's white: an indoor photo left as it is.
    lamp = xyz_to_linear([1.0985, 1.0, 0.35585])
    beads = {"body": (38.0, -20.0, -8.0), "accent": (62.0, 20.0, 22.0)}
    other_beads = {"body": (38.0, -20.0, -8.0), "accent": (62.0, -25.0, 30.0)}

    def rope(labs, light=1.0, method="none"):
        seen = {role: tuple(linear_to_lab(lab_to_linear(lab) * light)) for role, lab in labs.items()}
        return piece(
            *(RoleColour(role, lab, 6.0, 0.5, 90, k) for k, (role, lab) in enumerate(seen.items())),
            method=method,
            together=2.0,
        )

    for light in (lamp, 0.6 * lamp**0.9, 1.4 / lamp**0.9):
        told = between([rope(beads), rope(beads, light)])
        assert max(one.de00 / one.uncertainty_de00 for one in told) > 2  # which had been called a difference
        assert {one.told for one in told} == {"cannot tell"}
        assert "photograph the ropes together, or with a card" in sets.between(told[0])
    # Green for salmon beside a body that stays: no one light turns the one and leaves the other.
    told = {one.role: one.told for one in between([rope(beads), rope(other_beads)])}
    assert told["accent"] == "differs"
    told = {one.role: one.told for one in between([rope(beads, method="white-card"), rope(beads, lamp)])}
    assert set(told.values()) == {"cannot tell"}


def test_roles_answer_to_each_other_by_colour_not_by_name():
    light = RoleColour("accent", (90.0, 0.0, 0.0), 1.0, 0.4, 50, 1)
    turned = (
        RoleColour("body", (89.5, 0.0, 0.0), 1.0, 0.6, 90, 0),
        RoleColour("accent", BODY.lab, 1.0, 0.4, 40, 1),
    )
    said = between([piece(BODY, light), piece(*turned)])
    assert {(one.role, one.role_b) for one in said} == {("body", "accent"), ("accent", "body")}
    assert all(one.told == "same" for one in said)
    assert "the body (the accent of the other)" in sets.between(said[0])


def test_a_set_is_summed_up():
    assert sets.of_a_set(["even", "even"]) == "all 2 ropes are even"
    assert sets.of_a_set(["even", "check", "uneven"]) == "1 of 3 ropes is even"
