"""How well a rope is seen along its length: where light, focus or exposure are too poor to judge it.

A deep shadow has next to no colour left, a blur mixes each bead with its neighbours, and a burnt-out stretch
has lost its colour. Even there nothing odd is found, which says nothing of the rope.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import cv2
import numpy as np

from analyser.arrays import BoolArray, FloatArray
from analyser.rope.unrolling import Strip

DEEP = 0.2
"""Light below this share of the rope's bright part is a deep shadow, more than two stops down. On sixteen
rendered photos, some beside a window or under one lamp, it came down to 0.4."""

BURNT = 0.25
"""Share of clipped pixels from which a place is burnt out; gloss clipped up to 0.04 on rendered photos."""

MELTED = 1.3
"""Edges at a sixteenth of a bead over those at a fifth of one, under which beads melt into each other. A
straight edge comes to 3.5 when sharp and to 1.3 under a blur with a standard deviation of 0.25 beads; the
softest twentieth of a rope on rendered photos to 1.5, mostly to 2 and more."""

LEAST_SHARE = 0.25
"""Of the length from which a rope is not called even: a lot change could hide there."""

LEAST_STRETCH = 0.03
"""Of the length: shorter ones count in the share, and do not tell from where to where it is seen poorly."""

Cause = Literal["shadow", "blur", "burnt"]


@dataclass(frozen=True, slots=True)
class Unseen:
    """Part of a rope that is seen too poorly to judge.

    Attributes
    ----------
    cause : str
    share : float
        Of the length, 0..1.
    start, stop : float
        Between these fractions of the length it lies.
    """

    cause: Cause
    share: float
    start: float
    stop: float


def unseen(strip: Strip, bead: float, own: FloatArray | None = None) -> tuple[Unseen, ...]:
    """Where too much of a rope is seen too poorly.

    Parameters
    ----------
    strip : Strip
    bead : float
        Its diameter in strip pixels.
    own : ndarray, shape (stop - start,), optional
        How light the beads themselves are at each place, over their mean, where a plan tells: dark beads are
        no shadow.
    """
    poor = {
        "shadow": light_along(strip, bead, own) < DEEP,
        "blur": sharpness_along(strip, bead) < MELTED,
        "burnt": _along(strip, strip.clipped.astype(float), 3 * bead) > BURNT,
    }
    found = []
    taken = np.zeros(strip.stop - strip.start, bool)
    causes: tuple[Cause, ...] = ("shadow", "burnt", "blur")
    for cause in causes:
        part = poor[cause] & ~taken
        taken |= part
        if part.mean() >= LEAST_SHARE:
            found.append(_unseen(cause, part))
    return tuple(found)


def _unseen(cause: Cause, part: BoolArray) -> Unseen:
    from scipy.ndimage import binary_opening

    # An end bead or a base says nothing of where the stretch lies.
    long = binary_opening(part, np.ones(round(LEAST_STRETCH * len(part)) | 1))
    places = np.flatnonzero(long if long.any() else part) / len(part)
    return Unseen(cause, float(part.mean()), float(places[0]), float(places[-1]))


def light_along(strip: Strip, bead: float, own: FloatArray | None = None) -> FloatArray:
    """Light at each place over that of the rope's bright part, shape (stop - start,); ``own`` as above."""
    level = _along(strip, strip.linear.mean(axis=-1), 6 * bead)
    if own is not None:
        level = level / np.maximum(own, 0.05)
    return np.asarray(level / max(float(np.percentile(level, 85)), 1e-9))


def sharpness_along(strip: Strip, bead: float) -> FloatArray:
    """Strength of fine edges over that of coarse ones at each place, shape (stop - start,)."""
    compressed = np.cbrt(np.maximum(strip.linear.mean(axis=-1), 0) + 0.002).astype(np.float32)
    fine, coarse = (
        _along(strip, _edges(cv2.GaussianBlur(compressed, (0, 0), max(0.6, part * bead))), 6 * bead)
        for part in (0.06, 0.2)
    )
    return np.asarray(fine / np.maximum(coarse, 1e-9))


def _edges(picture: FloatArray) -> FloatArray:
    return np.hypot(cv2.Scharr(picture, cv2.CV_32F, 1, 0), cv2.Scharr(picture, cv2.CV_32F, 0, 1))


def _along(strip: Strip, picture: FloatArray, width: float) -> FloatArray:
    """Mean over the middle of the tube, calmed over a width along it, of the rope's columns."""
    from scipy.ndimage import uniform_filter1d

    reach = round(0.6 * strip.radius)
    middle = picture[strip.middle - reach : strip.middle + reach + 1, strip.start : strip.stop]
    return np.asarray(uniform_filter1d(middle.mean(axis=0), max(3, round(width)), mode="nearest"), float)
