"""How far apart a rope's rounds lie, where its motif is known.

The role picture is compared with itself one step of the motif farther on; the step says how many rounds that
is. First the one rise that serves all steps at once is found, so that no step is taken for another; then
its longest fitting step is measured window by window, finer than a cell, which tells the mean and
how sure it is. A motif whose roles stand in lines along the rope looks alike at every shift, and tells
nothing.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

from analyser.arrays import FloatArray
from analyser.rope.motif_steps import SEEN_WIDER, MotifSteps
from analyser.rope.placing import Placed
from analyser.rope.repeats import STEPS_A_BEAD, Expected, self_correlation, telling
from analyser.rope.rise import finest, likeness_along

_FINE = 0.004  # share by which the rises tried differ
_LONGEST_BEADS = 9.0  # steps compared at first; farther ones fall out of step in hand work
_MEASURED_BEADS = 3.5, 8.0  # length of the step that is measured: longer is finer, shorter is surer found
_WINDOW_BEADS = 8.0
_LEAST_LIKENESS = 0.3  # correlation from which a window has found its repeat
_SHARP = 0.08  # how much less alike a rise a tenth off must be, or the motif tells nothing
_FEWEST_WINDOWS = 3


@dataclass(frozen=True, slots=True, eq=False)
class Rounds:
    """Windows along a rope, and how many rounds lie between two places of each.

    Attributes
    ----------
    start, stop : ndarray, shape (n,)
        Columns of the strip.
    rounds : float
        From ``start`` to ``stop``.
    windows : float
        How many of them do not overlap.
    """

    start: FloatArray
    stop: FloatArray
    rounds: float
    windows: float


def rounds_along(placed: Placed, expected: Expected, motif: MotifSteps) -> Rounds | None:
    """Where a rope's rounds lie, or None where its motif does not show or does not tell."""
    cell, radius = expected.cell, placed.strip.radius
    if len(expected.seen) < 2:
        return None
    correlation, _ = self_correlation(telling(expected.seen))
    best: tuple[float, float, bool] | None = None
    rises = np.exp(np.arange(np.log(motif.low), np.log(motif.high * SEEN_WIDER), _FINE))
    for mirrored in (False, True):
        worth = np.array(
            [_worth(correlation, _cells(motif, rise, mirrored, radius, cell)) for rise in rises.tolist()]
        )
        at = int(worth.argmax())
        tenth = round(0.1 / _FINE)
        beside = worth[[i for i in (at - tenth, at + tenth) if 0 <= i < len(worth)]]
        sharp = worth[at] - float(beside.max(initial=-1.0))
        if sharp > _SHARP and (best is None or worth[at] > best[0]):
            best = float(worth[at]), float(rises[at]), mirrored
    if best is None:
        return None
    return _measured(expected, motif, best[1], best[2], radius)


def _cells(motif: MotifSteps, rise: float, mirrored: bool, radius: float, cell: float) -> FloatArray:
    """Steps and their repeats up to the longest, as cells along and round, and their rounds; shape (m, 3)."""
    shifts = motif.shifts(rise, mirrored=mirrored)
    # bead middles lie inside the outline, so they are seen to turn by less
    turn = np.deg2rad(shifts[:, 1]) * (1 - motif.bead_of_radius / 2) * radius / cell
    along = shifts[:, 0] * motif.bead_of_radius * radius / cell
    steps = np.column_stack([along, turn, motif.rounds])[motif.rounds > 0]
    more = np.concatenate([steps * times for times in (1, 2, 3, 4)])
    return more[more[:, 0] < _LONGEST_BEADS * STEPS_A_BEAD]


def _worth(correlation: FloatArray, steps: FloatArray) -> float:
    """Mean likeness at the steps that lie in the picture."""
    middle_a, middle_s = (np.array(correlation.shape) - 1) // 2
    inside = np.abs(steps[:, 1]) < 0.55 * middle_a
    if not inside.any():
        return -1.0
    x = (middle_s + steps[inside, 0]).astype(np.float32)[None]
    y = (middle_a + steps[inside, 1]).astype(np.float32)[None]
    return float(cv2.remap(correlation.astype(np.float32), x, y, cv2.INTER_LINEAR).mean())


def _measured(
    expected: Expected, motif: MotifSteps, rise: float, mirrored: bool, radius: float
) -> Rounds | None:
    steps = _cells(motif, rise, mirrored, radius, expected.cell)
    beads = steps[:, 0] / STEPS_A_BEAD
    fitting = (beads > _MEASURED_BEADS[0]) & (beads < _MEASURED_BEADS[1])
    fitting &= np.abs(steps[:, 1]) < 0.4 * expected.seen.shape[1]
    if not fitting.any():
        return None
    # least turn, then longest: what does not turn stays in sight
    along, turn, rounds = min(steps[fitting].tolist(), key=lambda step: (round(abs(step[1])), -step[0]))
    seen = expected.seen
    shifts = np.arange(round(0.9 * along), round(1.1 * along) + 2)
    likeness = likeness_along(seen, shifts, round(turn), _WINDOW_BEADS)
    best, top = likeness.argmax(axis=0), likeness.max(axis=0)
    good = np.flatnonzero((top > _LEAST_LIKENESS) & (best > 0) & (best < len(shifts) - 1))
    windows = len(good) / (_WINDOW_BEADS * STEPS_A_BEAD)
    if windows < _FEWEST_WINDOWS:
        return None
    local = finest(likeness, shifts, good)
    start = expected.columns[0] + good * expected.cell
    return Rounds(start, start + local * expected.cell, rounds, windows)
