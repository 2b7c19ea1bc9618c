"""How far apart the motif's repeats lie along a rope: where it was drawn up less tightly, they lie farther.

The role picture is compared with itself one repeat farther along, in a window of a few beads, and the
shift that fits best there is the local length of the repeat. A motif whose roles stand in lines along the
rope looks alike at every shift, and tells nothing.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

from analyser.arrays import FloatArray, IntArray
from analyser.rope.repeats import STEPS_A_BEAD, Expected, shift_picture

STEP_BEADS = 5.0
"""Length of the repeats compared, as near as the motif has them: a tenth more is half a bead there."""

WINDOW_BEADS = 5.0
"""Length of rope each comparison looks at."""

RANGE = 0.82, 1.26
"""Shifts tried, over the usual one."""

LEAST_LIKENESS = 0.3
"""Correlation from which a window has found its repeat."""

SHARP = 0.15
"""How much less alike a shift a tenth off must be in the median window, or the motif tells nothing."""


@dataclass(frozen=True, slots=True, eq=False)
class RiseCourse:
    """The local rise of a rope over its usual one.

    Attributes
    ----------
    at : ndarray, shape (n,)
        Fraction of the strip's length, rising.
    ratio : ndarray, shape (n,)
        1 where the rounds lie as usual, 1.1 where they lie a tenth farther apart.
    gain : ndarray, shape (n,)
        How much more alike the repeat is there than the place one usual repeat farther on, 0..2.
    """

    at: FloatArray
    ratio: FloatArray
    gain: FloatArray


def rise_along(expected: Expected) -> RiseCourse | None:
    """The local rise along a rope, or None where its motif does not tell."""
    step = _long_step(expected)
    if step is None:
        return None
    along, turn = step
    seen, length = expected.seen, expected.seen.shape[-1]
    shifts = np.arange(round(RANGE[0] * along), round(RANGE[1] * along) + 1)
    likeness = likeness_along(seen, shifts, turn, WINDOW_BEADS)
    best, top = likeness.argmax(axis=0), likeness.max(axis=0)
    good = (top > LEAST_LIKENESS) & (best > 0) & (best < len(shifts) - 1)
    if good.sum() < 0.5 * max(length - along, 1):
        return None
    index, off = np.flatnonzero(good), round(0.1 * along)
    beside = [likeness[np.clip(best[good] + o, 0, len(shifts) - 1), index] for o in (-off, off)]
    sharp = top[good] - np.maximum(*beside)
    if np.median(sharp) < SHARP:
        return None
    local = finest(likeness, shifts, index)
    from scipy.ndimage import median_filter

    ratio = median_filter(local / np.median(local), size=3 * STEPS_A_BEAD, mode="nearest")
    usual = int(np.median(best[good]))
    gain = top[good] - likeness[max(usual - 1, 0) : usual + 2].max(axis=0)[good]
    return RiseCourse((index + local / 2) / length, ratio, gain)


def _long_step(expected: Expected) -> tuple[int, int] | None:
    """The repeat, or repeat of repeats, nearest ``STEP_BEADS`` long, in cells along and round."""
    cells = np.round(expected.steps_in_cells).astype(int)
    found = []
    for along, turn in cells.tolist():
        for times in range(1, 8):
            beads = times * along / STEPS_A_BEAD
            if 3 <= beads <= 8 and abs(times * turn) < 0.5 * expected.seen.shape[1]:
                found.append((abs(beads - STEP_BEADS), times * along, times * turn))
    return min(found)[1:] if found else None


def likeness_along(seen: FloatArray, shifts: IntArray, turn: int, window_beads: float) -> FloatArray:
    """How alike the role picture is to itself so many cells on, shape (shifts, along), -1 beyond its end."""
    length = seen.shape[-1]
    power = _local((seen**2).sum(axis=(0, 1)), window_beads)
    likeness = np.full((len(shifts), length), -1.0)
    for row, shift in enumerate(shifts.tolist()):
        for slip in (-2, -1, 0, 1, 2):  # a rope that twists a little as it lies
            there = shift_picture(seen, shift, turn + slip)
            alike = _local((seen * there).sum(axis=(0, 1)), window_beads)
            alike = alike / np.sqrt(power * _local((there**2).sum(axis=(0, 1)), window_beads) + 1e-6)
            alike[max(0, length - shift) :] = -1
            likeness[row] = np.maximum(likeness[row], alike)
    return likeness


def finest(likeness: FloatArray, shifts: IntArray, at: IntArray) -> FloatArray:
    """The best shift at these places, finer than a cell: the top of the parabola through three neighbours.

    The best must not be the first or last of ``shifts``.
    """
    best = likeness.argmax(axis=0)[at]
    before, top, after = (likeness[best + step, at] for step in (-1, 0, 1))
    bend = np.minimum(before - 2 * top + after, -1e-6)
    return np.asarray(shifts[best] + np.clip(0.5 * (before - after) / bend, -1, 1))


def _local(values: FloatArray, window_beads: float) -> FloatArray:
    window = (round(window_beads * STEPS_A_BEAD), 1)
    return np.asarray(cv2.blur(values[None].astype(np.float32), window, borderType=cv2.BORDER_REFLECT)[0])
