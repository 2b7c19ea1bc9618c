"""A rope against its stock beads: woven and piled differ, and that is no fault."""

from __future__ import annotations

from types import SimpleNamespace

import pytest

from analyser.audit.comparing import WOVEN_AGAINST_PILED, against_stock, between
from analyser.audit.verdict import RoleColour
from analyser.phrases import sets


def piece(*roles):
    found = {role.role: role for role in roles}
    return SimpleNamespace(roles=roles, role=found.get)


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
