"""A drawn rope spoilt over a known part of its length: the cause, the share and the place are told."""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
import pytest

from analyser.audit.evenness import audit
from analyser.photo.calibration import calibrate
from analyser.phrases import audits
from analyser.rope.locating import locate
from analyser.rope.seeing import unseen
from analyser.rope.unrolling import unroll
from synthetic.ropes import Recipe, draw, photo_of

RECIPE = Recipe("chenille", "straight", "even", "paper", (42, 25, -8), (76, -20, 8), 36, 8.0, 0.6, 70, 11)
LINEAR = draw(RECIPE).linear
WIDTH = LINEAR.shape[1]
BEAD = draw(RECIPE).bead_px
FROM = 0.55
"""Share of the frame from which on it is spoilt; about 0.57 of the rope, which does not fill the frame."""


def spoilt(cause):
    part = np.clip((np.arange(WIDTH) - FROM * WIDTH) / 12, 0, 1)[None, :, None]
    worse = {
        "shadow": LINEAR * 0.07,
        "blur": cv2.GaussianBlur(LINEAR, (0, 0), 0.27 * BEAD),
    }[cause]
    return photo_of((LINEAR * (1 - part) + worse * part).astype(np.float32))


@pytest.mark.parametrize(("cause", "remedy"), [("shadow", "even light"), ("blur", "focus")])
def test_a_rope_spoilt_over_a_third_is_to_be_checked_with_a_remedy(cause, remedy):
    photo = spoilt(cause)
    piece = audit(photo, calibrate(photo, "none"))
    (poor,) = piece.unseen
    assert poor.cause == cause
    assert poor.share == pytest.approx(0.43, abs=0.12)
    assert poor.stop > 0.9
    assert piece.verdict == "check"
    assert remedy in audits.unseen(poor)


def test_a_lamp_at_one_end_is_light_enough():
    photo = photo_of(draw(replace(RECIPE, light="falloff")).linear)
    piece = audit(photo, calibrate(photo, "none"))
    assert piece.unseen == ()
    assert piece.verdict == "even"


def test_burnt_out_pixels_are_counted_along_the_rope():
    photo = photo_of(LINEAR)
    strip = unroll(photo, locate(photo))
    clipped = np.zeros_like(strip.clipped)
    middle = (strip.start + strip.stop) // 2
    clipped[::2, middle:] = True
    (poor,) = unseen(replace(strip, clipped=clipped), BEAD)
    assert poor.cause == "burnt"
    assert poor.share == pytest.approx(0.5, abs=0.05)
    assert poor.start == pytest.approx(0.5, abs=0.05)
    clipped[:, : middle + round(0.3 * (strip.stop - strip.start))] = False
    assert unseen(replace(strip, clipped=clipped), BEAD) == ()
