"""What the motif wants where: each place compared with the places its repeats put beside it.

A rope's motif maps onto itself when shifted along the rope and turned round it by certain steps. The
steps are found as peaks of the role picture's correlation with itself over (along, round the tube), so
any repeating motif is served, rows, spirals and lattices, without being told which. A place is expected
to show the role that the majority of its repeats show.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
import numpy.typing as npt

from analyser.rope.placing import Placed

FloatArray = npt.NDArray[np.floating]

STEPS_A_BEAD = 8
"""Grid cells along one bead diameter; an eighth of a bead is finer than hand work is regular."""

SEEN_ANGLE = np.deg2rad(72)
"""Beyond this the tube turns away: a bead shows under a third of its width there."""

REACH_BEADS = 14.0
"""Longest step along the rope looked for, in bead diameters: a spiral needs about 5, rows up to 6."""


WITNESSES = 6
"""Steps used, each forwards and back: twelve repeats outvote a fault and its neighbours."""


@dataclass(frozen=True, slots=True, eq=False)
class Expected:
    """The roles seen and those expected, on a grid over the tube's seen surface.

    Attributes
    ----------
    seen : ndarray, shape (a, s)
        +1 where the picture surely shows role 0, -1 role 1, 0 where unknown.
    known : ndarray, shape (a, s)
        Probability that a pixel is in a role at all.
    expected, expected_known : ndarray, shape (a, s)
        The same two, averaged over the repeats.
    votes : ndarray, shape (a, s)
        How many repeats of the place were in sight.
    framed : bool ndarray, shape (a, s)
        Whether there were repeats both before and behind the place.
    table : ndarray, shape (a, s)
        Probability that the table is seen there.
    columns, rows : ndarray, shape (s,), (a,)
        The grid's places in the strip.
    cell : float
        Strip pixels per grid cell along the rope.
    steps : ndarray, shape (m, 2)
        The motif's steps: bead diameters along, degrees round.
    """

    seen: FloatArray
    known: FloatArray
    expected: FloatArray
    expected_known: FloatArray
    votes: FloatArray
    framed: npt.NDArray[np.bool_]
    table: FloatArray
    columns: FloatArray
    rows: FloatArray
    cell: float
    steps: FloatArray


def expect(placed: Placed) -> Expected:
    """Find the motif's repeats in a placed rope and what they want at each place.

    Returns
    -------
    Expected
        With no steps, and nothing expected, if the rope shows no repeat (a plain rope, or one role).
    """
    strip, bead = placed.strip, placed.bead
    cell = bead / STEPS_A_BEAD
    columns = np.arange(strip.start, strip.stop - 1, cell)
    angles = np.arange(-SEEN_ANGLE, SEEN_ANGLE + 1e-9, cell / strip.radius)
    rows = strip.middle + strip.radius * np.sin(angles)
    belongs = placed.belongs
    if len(belongs) < 2:
        belongs = np.concatenate([belongs, np.zeros_like(belongs)])
    sampled = [_sampled(role, rows, columns, cell) for role in belongs[:2]]
    seen, known = sampled[0] - sampled[1], sampled[0] + sampled[1]
    steps = _steps(seen, columns, cell, bead) if len(placed.belongs) > 1 else np.zeros((0, 2), int)
    expected, expected_known, votes, framed = _vote(seen, known, steps, bead / cell)
    scale = np.array([cell / bead, np.rad2deg(cell / strip.radius)])
    table = _sampled(placed.table.astype(np.float32), rows, columns, cell)
    return Expected(
        seen, known, expected, expected_known, votes, framed, table, columns, rows, cell, steps * scale
    )


def _sampled(picture: FloatArray, rows: FloatArray, columns: FloatArray, cell: float) -> FloatArray:
    blurred = cv2.GaussianBlur(picture.astype(np.float32), (0, 0), max(0.5, 0.4 * cell))
    x, y = np.meshgrid(columns.astype(np.float32), rows.astype(np.float32))
    return np.asarray(cv2.remap(blurred, x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE), float)


def _correlation(seen: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Normalised correlation of the picture with itself over shifts, and the overlap, both (2a-1, 2s-1)."""
    from scipy.signal import fftconvolve

    deviation = seen - seen.mean()
    flipped = deviation[::-1, ::-1]
    ones = np.ones_like(seen)
    products = fftconvolve(deviation, flipped)
    squares = fftconvolve(deviation**2, ones[::-1, ::-1])
    other = fftconvolve(ones, (deviation**2)[::-1, ::-1])
    overlap = fftconvolve(ones, ones[::-1, ::-1])
    norm = np.sqrt(np.maximum(squares, 1e-9) * np.maximum(other, 1e-9))
    return products / np.maximum(norm, 1e-6), overlap


def _steps(seen: FloatArray, columns: FloatArray, cell: float, bead: float) -> npt.NDArray[np.intp]:
    """The best shifts (along, round) in cells, one of each opposite pair, shape (m, 2)."""
    from scipy.ndimage import maximum_filter

    across, along = seen.shape
    correlation, overlap = _correlation(seen)
    middle_a, middle_s = across - 1, along - 1
    least, most = round(0.7 * bead / cell), min(round(REACH_BEADS * bead / cell), along // 2)
    if most <= least:
        return np.zeros((0, 2), np.intp)
    half = correlation[:, middle_s + least : middle_s + most]
    enough = overlap[:, middle_s + least : middle_s + most] > 0.45 * across * (along - most)
    shifts = np.arange(least, most)
    # Near repeats are better witnesses than far ones: hand work and slack put far ones out of step.
    worth = np.where(enough, half - 0.012 * shifts[None] * cell / bead, -1.0)
    size = (max(3, round(0.8 * bead / cell)), max(3, round(0.8 * bead / cell)))
    peaks = np.argwhere((worth == maximum_filter(worth, size=size)) & (half > 0.35))
    if not len(peaks):
        return np.zeros((0, 2), np.intp)
    values = worth[peaks[:, 0], peaks[:, 1]]
    order = np.argsort(-values)
    good = [i for i in order if values[i] > 0.72 * values[order[0]]][:WITNESSES]
    steps = np.column_stack([shifts[peaks[good, 1]], peaks[good, 0] - middle_a])
    # A rope that winds about in its strip matches itself only nearby: then the repeats of its repeats.
    multiples = [steps * k for k in range(2, WITNESSES + 1)]
    more = np.vstack([steps, *multiples])
    more = more[(more[:, 0] <= most) & (np.abs(more[:, 1]) < 0.6 * across)]
    return np.asarray(more[np.sort(np.unique(more, axis=0, return_index=True)[1])][:WITNESSES])


def _shifted(picture: FloatArray, along: int, round_: int) -> FloatArray:
    """The picture read at (a + round_, s + along); 0 outside."""
    out = np.zeros_like(picture)
    a, s = picture.shape
    rows = slice(max(0, -round_), min(a, a - round_))
    cols = slice(max(0, -along), min(s, s - along))
    if rows.stop > rows.start and cols.stop > cols.start:
        out[rows, cols] = picture[
            rows.start + round_ : rows.stop + round_, cols.start + along : cols.stop + along
        ]
    return out


def _vote(
    seen: FloatArray, known: FloatArray, steps: npt.NDArray[np.intp], bead_cells: float
) -> tuple[FloatArray, FloatArray, FloatArray, npt.NDArray[np.bool_]]:
    """Mean of the repeats' pictures, each locally brought into step first."""
    total, total_known, votes = np.zeros_like(seen), np.zeros_like(seen), np.zeros_like(seen)
    sides = {True: np.zeros(seen.shape, bool), False: np.zeros(seen.shape, bool)}
    if not len(steps):
        return total, total_known, votes, sides[True]
    counts = np.ones_like(seen)
    # The outermost beads are base, closing and knots: they are no witnesses for the pattern.
    margin = round(2.0 * bead_cells)
    counts[:, :margin] = 0
    counts[:, counts.shape[1] - margin :] = 0
    slip = round(0.15 * bead_cells), round(0.3 * bead_cells)
    slips = sorted({0, slip[0], slip[1], -slip[0], -slip[1]}, key=abs)
    window = round(8 * bead_cells)
    for along, turn in [*steps.tolist(), *(-steps).tolist()]:
        best = np.full(seen.shape[1], -np.inf)
        chosen = [np.zeros_like(seen) for _ in range(3)]
        for da in slips:
            for ds in slips:
                there = _shifted(seen, along + ds, turn + da)
                there_counts = _shifted(counts, along + ds, turn + da)
                likeness = (seen * there).sum(axis=0)[None].astype(np.float32)
                local = cv2.blur(likeness, (window, 1))[0] - 1e-3 * (abs(da) + abs(ds))
                better = local > best
                best = np.where(better, local, best)
                there_known = _shifted(known, along + ds, turn + da)
                for target, value in zip(chosen, (there, there_known, there_counts), strict=True):
                    target[:, better] = value[:, better]
        total += chosen[0] * chosen[2]
        total_known += chosen[1] * chosen[2]
        votes += chosen[2]
        sides[along > 0] |= chosen[2] > 0
    many = np.maximum(votes, 1)
    return total / many, total_known / many, votes, sides[True] & sides[False]
