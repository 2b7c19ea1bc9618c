"""What belongs to a role's colour: its pixels, and what shines beside them."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

from analyser.rope.colours import mean_linear, with_gloss

BEAD = 20


def placed(light):
    """A strip of that light, 81 across and 200 along, wholly rope, of two roles."""
    strip = SimpleNamespace(
        linear=np.repeat(light[..., None], 3, axis=-1).astype(np.float32),
        middle=40, radius=40, start=0, stop=200,
    )  # fmt: skip
    return SimpleNamespace(
        strip=strip, bead=BEAD, posterior=np.zeros((2, 81, 200)), table=np.zeros((81, 200), bool)
    )


def test_what_shines_beside_a_role_is_its_own_and_what_is_dark_or_a_bead_is_not():
    light, role = np.full((81, 200), 0.05), np.full((81, 200), -1, np.int8)
    role[20:60, 20:180] = 0
    role[34:40, 50:56], light[34:40, 50:56] = -1, 0.9  # a highlight
    role[34:40, 80:86], light[34:40, 80:86] = -1, 0.01  # a hole
    role[30:50, 120:140], light[30:50, 120:140] = -1, 0.6  # a stray bead, twenty pixels wide
    found = with_gloss(placed(light), role)
    assert (found[34:40, 50:56] == 0).all()
    assert (found[34:40, 80:86] == -1).all()
    assert (found[30:50, 120:140] == -1).all()
    assert (found[role == 0] == 0).all()


def test_gloss_between_two_roles_goes_to_the_nearer():
    light, role = np.full((81, 200), 0.05), np.zeros((81, 200), np.int8)
    role[:, 100:] = 1
    role[38:43, 94:99], light[38:43, 94:99] = -1, 0.9
    found = with_gloss(placed(light), role)
    assert (found[40, 94:98] == 0).all()
    # Light sent back counts whole, clipped or not: the mean of the drawn numbers.
    rope = placed(light)
    where = found == 0
    assert mean_linear(rope, where) == pytest.approx([light[where].mean()] * 3, rel=1e-5)
