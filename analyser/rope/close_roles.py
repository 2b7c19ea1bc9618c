"""Two roles of nearly one colour, told by the motif: their pixels run into each other, their beads do not.

Where a mixture of Gaussians finds one role, hue is averaged over each bead's middle, which leaves out gaps
and what lens and stored chroma blur into them, and over the motif's repeats, which leaves out noise and
gloss. A rope of one colour then shows no pattern: light changes its hue slowly, and what beads do to it they
do once a bead. Two roles show theirs. Which places want which role being known, both looks are learned from
all their pixels.

Sources
-------
Common practice, no single source: signal averaging over a known period; Otsu (1979), IEEE Trans. SMC 9(1)
62-66, for the parting of one row of numbers in two.
"""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
import numpy.typing as npt

from analyser.arrays import BoolArray, FloatArray, IntArray
from analyser.imaging.mixtures import gaussian_fit, log_density, looks_of
from analyser.rope.placing import Placed, beads_of
from analyser.rope.repeats import STEPS_A_BEAD, grid_of, on_grid, on_strip, repeats_in, vote
from analyser.rope.roles import SHADE, RoleModel, bhattacharyya_distance

BLUR = 0.3
"""Standard deviation, in bead diameters, of the mean over a bead: what repeats once a bead keeps 0.17 of
itself, what repeats every second bead 0.64."""

SLOW = 3.0, 0.2
"""The same along and across the rope for light, which is taken off."""

SIDE = 0.85
"""Share of the radius looked at."""

RIM = 0.35
"""Bead diameters from the table within which it is blurred into what is seen."""

END_BEADS = 2.6
"""Bead diameters at each end that are not looked at: base, closing, end beads."""

LEAST_VOTES = 2.5
"""Repeats in sight that a place needs."""

LEAST_PLACES = 300
"""Of the grid, five beads' worth."""

LEAST_PART = 0.15
"""Share of the places that the smaller of both roles has at the least. Table and gaps that show between the
loops of one-colour spirals had up to 0.10."""

GAP = 0.06
"""Distance of both roles' log ratios. Of 35 drawn ropes of one colour, of any finish and in any light, one
had 0.056 (a spiral of clear glass) with a part large enough, the others 0.037 at most; roles 4 to 12
CIEDE2000 apart that show no other way had 0.045 to 0.18."""

LIKE = 0.4
"""Correlation of the places with their repeats: noise of a dark photo took it to 0.45."""

UNSURE = 0.4
"""Share of that distance beside the cut within which a place is told neither."""

LEAST_PIXELS = 400
"""Of either role, to learn its look from."""

VOICES = 3.0
"""Pixels of a bead that speak independently when their evidence is put together."""


def told_by_repeats(placed: Placed) -> Placed | None:
    """A rope of one role with two, where its beads' hues follow a motif; None where they do not."""
    places = _places(placed)
    if places is None:
        return None
    wanted = on_strip(placed, places)
    looks = [placed.features[wanted == role].astype(float) for role in (0, 1)]
    if min(len(pixels) for pixels in looks) < LEAST_PIXELS:
        return None
    posterior = _posterior(placed, looks)
    fits = [gaussian_fit(pixels) for pixels in looks]
    share = np.array([len(pixels) for pixels in looks], float)
    distance = bhattacharyya_distance(*fits[0], *fits[1])
    model = RoleModel(
        np.array([mean for mean, _ in fits]),
        np.array([covariance for _, covariance in fits]),
        share / share.sum(),
        distance,
    )
    beads = beads_of(placed.strip, posterior, placed.table, placed.bead)
    return replace(placed, model=model, posterior=posterior, beads=beads, averaged=True)


def _places(placed: Placed) -> IntArray | None:
    """Which of two roles each place of the grid wants, -1 where unsure, shape (a, s), or None."""
    hue, inside = _hue(placed)
    if inside.sum() < LEAST_PLACES:
        return None
    scale = hue[:, inside].std(axis=1)[:, None, None]
    hue /= scale
    # Where noise hides hue's own repeats, those of the beads' light are the motif's too, or parts of them.
    found = [
        _told_by(hue, inside, repeats_in(picture, placed.bead, placed.strip.radius), scale)
        for picture in (hue, np.concatenate([hue, _light(placed, inside)[None]]))
    ]
    best = max((one for one in found if one is not None), key=lambda one: one[0], default=None)
    return None if best is None else best[1]


def _told_by(
    hue: FloatArray, inside: BoolArray, steps: IntArray, scale: FloatArray
) -> tuple[float, IntArray] | None:
    """How far apart and how surely, and which role where, by the motif's steps; None for one role."""
    mean, seen, votes, *_ = vote(hue, inside.astype(float), steps)
    good = inside & (votes * seen >= LEAST_VOTES)
    if good.sum() < LEAST_PLACES:
        return None
    mean = mean / np.maximum(seen, 0.3) * scale
    repeated, own = mean[:, good], (hue * scale)[:, good]
    towards = np.linalg.eigh(np.cov(repeated))[1][:, -1]
    cut, part = _two_parts(towards @ repeated)
    second = towards @ repeated > cut
    # A place has no voice in the mean of its repeats: noise alone leaves no gap.
    gap = float(np.hypot(*(own[:, second].mean(axis=1) - own[:, ~second].mean(axis=1))))
    like = float(np.corrcoef(towards @ repeated, towards @ own)[0, 1])
    if not LEAST_PART <= part <= 1 - LEAST_PART or gap < GAP or like < LIKE:
        return None
    values = np.tensordot(towards, mean, 1)
    low, high = np.median((towards @ repeated)[~second]), np.median((towards @ repeated)[second])
    sure = good & (np.abs(values - cut) > UNSURE * (high - low))
    return gap * like, np.where(sure, values > cut, -1)


def _light(placed: Placed, inside: BoolArray) -> FloatArray:
    """Log light on the grid in its own spread, shape (a, s)."""
    light = on_grid(placed, np.ascontiguousarray(placed.features[..., 0]))
    off = light - np.median(light[inside])
    own = off / (1.4826 * np.median(np.abs(off[inside])) + 1e-6)
    return np.where(inside, np.clip(own, -3, 3), 0.0)


def _hue(placed: Placed) -> tuple[FloatArray, BoolArray]:
    """Both log ratios averaged over a bead less slow light, shape (2, a, s), and where they are told."""
    columns, rows, _ = grid_of(placed)
    table = on_grid(placed, placed.table.astype(np.float32))
    rim = round(2 * RIM * STEPS_A_BEAD) | 1
    inside = cv2.dilate((table > 0.3).astype(np.uint8), np.ones((rim, rim))) == 0
    inside &= (np.abs(rows - placed.strip.middle) < SIDE * placed.strip.radius)[:, None]
    ends = round(END_BEADS * STEPS_A_BEAD)
    inside[:, :ends] = inside[:, len(columns) - ends :] = False
    weight = inside.astype(np.float32)

    def mean(picture: FloatArray, along: float, across: float) -> FloatArray:
        sigma = along * STEPS_A_BEAD, across * STEPS_A_BEAD
        total = cv2.GaussianBlur(picture.astype(np.float32) * weight, (0, 0), sigma[0], sigmaY=sigma[1])
        near = cv2.GaussianBlur(weight, (0, 0), sigma[0], sigmaY=sigma[1])
        return np.asarray(total / np.maximum(near, 0.05))

    hues = []
    for axis in (1, 2):
        ratio = on_grid(placed, np.ascontiguousarray(placed.features[..., axis]))
        off = ratio - np.median(ratio[inside]) if inside.any() else ratio
        spread = 1.4826 * np.median(np.abs(off[inside])) if inside.any() else 1.0
        over_bead = mean(np.clip(off, -4 * spread, 4 * spread), BLUR, BLUR)
        level = over_bead - mean(over_bead, *SLOW)
        hues.append(np.where(inside, level, 0.0))
    return np.stack(hues), inside


def _two_parts(values: FloatArray) -> tuple[float, float]:
    """The cut that parts numbers best in two, and the share above it."""
    best = -np.inf, 0.0, 0.0
    for cut in np.quantile(values, np.linspace(0.06, 0.94, 45)):
        low, high = values[values <= cut], values[values > cut]
        within = (low.var() * len(low) + high.var() * len(high)) / len(values)
        apart = float((high.mean() - low.mean()) / np.sqrt(within + 1e-12))
        best = max(best, (apart, float(cut), len(high) / len(values)))
    return best[1], best[2]


def _posterior(placed: Placed, looks: list[FloatArray]) -> npt.NDArray[np.float32]:
    """Probability of each role by the evidence of a bead's middle together, shape (2, across, along)."""
    logs = []
    for pixels in looks:
        parts = [
            np.log(share) + log_density(placed.features, mean, 1.5 * covariance + 0.1 * SHADE)
            for share, mean, covariance in zip(*looks_of(pixels), strict=True)
        ]
        logs.append(np.logaddexp.reduce(parts, axis=0))
    none = np.log(0.02 / 50)
    known = 1 / (1 + np.exp(np.clip(none - np.logaddexp(*logs), -50, 50)))
    weight = np.where(placed.table, 0.0, known).astype(np.float32)
    evidence = np.clip(logs[1] - logs[0], -4, 4).astype(np.float32) * weight
    sigma = 0.2 * placed.bead
    over_bead = cv2.GaussianBlur(evidence, (0, 0), sigma) / np.maximum(
        cv2.GaussianBlur(weight, (0, 0), sigma), 0.05
    )
    second = 1 / (1 + np.exp(-VOICES * over_bead))
    return np.asarray(np.stack([(1 - second) * weight, second * weight]), np.float32)
