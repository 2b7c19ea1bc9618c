"""Roles of nearly one colour, drawn: two where beads follow a motif, one where a rope has one colour."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from analyser.audit.evenness import audit
from analyser.photo.calibration import calibrate
from analyser.rope.close_roles import told_by_repeats
from analyser.rope.colours import labels
from analyser.rope.locating import locate
from analyser.rope.placing import place
from analyser.rope.unrolling import unroll
from synthetic.ropes import Recipe, draw, photo_of

CLOSE = Recipe(
    "rings", "straight", "even", "paper", (30, 8, 9), (29, 3, 9), 60, 10.0, 0.4, 40, 31, climb=0.5, gloss=0.03
)
"""5.8 CIEDE2000 apart; a fourth of its beads are accents."""


def placed(recipe):
    photo = photo_of(draw(recipe).linear)
    return place(unroll(photo, locate(photo)))


def piece_of(rope):
    photo = photo_of(rope.linear)
    return audit(photo, calibrate(photo, "none"))


def test_roles_that_run_into_each_other_are_told_by_the_motif():
    first = placed(CLOSE)
    assert len(first.model.means) == 1
    told = told_by_repeats(first)
    assert told is not None
    assert told.averaged
    assert len(told.model.means) == 2
    # One round in four is of accents.
    shown = labels(told)
    shares = [float((shown == role).sum() / (shown >= 0).sum()) for role in (0, 1)]
    assert min(shares) == pytest.approx(0.25, abs=0.06)


@pytest.mark.parametrize("kind", ["rings", "rows", "chenille", "winding"])
def test_one_colour_is_one_role_though_its_beads_repeat(kind):
    one = placed(replace(CLOSE, kind=kind, light="mixed", accent=CLOSE.body))
    assert len(one.model.means) == 1
    assert told_by_repeats(one) is None


def test_an_odd_bead_among_close_colours_is_found():
    assert piece_of(draw(CLOSE)).verdict == "even"
    rope = draw(replace(CLOSE, fault="stray-bead", fault_role="accent", seed=33))
    piece = piece_of(rope)
    assert {role.role for role in piece.roles} == {"body", "accent"}
    (finding,) = piece.findings
    assert (finding.kind, finding.role) == ("stray-bead", "accent")
    assert np.hypot(*np.subtract(finding.pixel, rope.faults[0].pixel)) < rope.bead_px
