"""What the motif wants where: each place compared with the places its repeats put beside it.

A rope's motif maps onto itself when shift_picture along the rope and turned round it by certain steps. The
steps are found as peaks of the role picture's correlation with itself over (along, round the tube), so
any repeating motif is served, rows, spirals and lattices, without being told which. A place is expected
to show the role that the majority of its repeats show.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
import numpy.typing as npt

from analyser.arrays import BoolArray, FloatArray, IntArray
from analyser.rope.motif_steps import MotifSteps
from analyser.rope.placing import Placed

STEPS_A_BEAD = 8
"""Grid cells along one bead diameter; an eighth of a bead is finer than hand work is regular."""

SEEN_ANGLE = np.deg2rad(72)
"""Beyond this the tube turns away: a bead shows under a third of its width there."""

REACH_BEADS = 14.0
"""Longest step along the rope looked for, in bead diameters: a spiral needs about 5, rows up to 6."""


ALIKE, ALIKE_TOLD = 0.35, 0.25
"""Least correlation of a repeat; a repeat that a told motif predicts needs less proof."""

WITNESSES = 6
"""Steps used, each forwards and back: twelve repeats outvote a fault and its neighbours."""


@dataclass(frozen=True, slots=True, eq=False)
class Expected:
    """The roles seen and those expected, on a grid over the tube's seen surface.

    Attributes
    ----------
    seen : ndarray, shape (k, a, s)
        For each role: +1 where the picture surely shows it, -1 where it shows another, 0 where unknown.
    known : ndarray, shape (a, s)
        Probability that a pixel is in a role at all.
    expected, expected_known : ndarray, shapes (k, a, s) and (a, s)
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
    steps_in_cells : ndarray of int, shape (m, 2)
        The motif's steps in grid cells: along, round.
    in_step : ndarray of int, shape (2 * m, 2, s)
        For each step forwards, then back, how many cells along and round a column's repeat lies, in step.
    """

    seen: FloatArray
    known: FloatArray
    expected: FloatArray
    expected_known: FloatArray
    votes: FloatArray
    framed: BoolArray
    table: FloatArray
    columns: FloatArray
    rows: FloatArray
    cell: float
    steps_in_cells: IntArray
    in_step: IntArray


def expect(placed: Placed, motif: MotifSteps | None = None) -> Expected:
    """Find the motif's repeats in a placed rope and what they want at each place.

    Parameters
    ----------
    placed : Placed
    motif : MotifSteps, optional
        Of the motif that was woven: only repeats it predicts are then taken, if the picture shows any.

    Returns
    -------
    Expected
        With no steps, and nothing expected, if the rope shows no repeat (a plain rope, or one role).
    """
    bead = placed.bead
    columns, rows, cell = grid_of(placed)
    sampled = np.stack([on_grid(placed, role) for role in placed.posterior])
    known = sampled.sum(axis=0)
    seen = 2 * sampled - known
    steps = np.zeros((0, 2), int)
    if len(placed.posterior) > 1:
        steps = repeats_in(telling(seen), bead, placed.strip.radius, motif)
    expected, expected_known, votes, framed, in_step = vote(seen, known, steps)
    table = on_grid(placed, placed.table.astype(np.float32))
    return Expected(
        seen, known, expected, expected_known, votes, framed, table, columns, rows, cell, steps, in_step
    )


def grid_of(placed: Placed) -> tuple[FloatArray, FloatArray, float]:
    """Columns (s,) and rows (a,) in the strip of a grid even over the tube's seen surface, and its cell."""
    strip = placed.strip
    cell = placed.bead / STEPS_A_BEAD
    columns = np.arange(strip.start, strip.stop - 1, cell)
    angles = np.arange(-SEEN_ANGLE, SEEN_ANGLE + 1e-9, cell / strip.radius)
    return columns, strip.middle + strip.radius * np.sin(angles), cell


def on_grid(placed: Placed, picture: FloatArray) -> FloatArray:
    """A picture of the strip, shape (across, along), on that grid, shape (a, s)."""
    columns, rows, cell = grid_of(placed)
    blurred = cv2.GaussianBlur(picture.astype(np.float32), (0, 0), max(0.5, 0.4 * cell))
    x, y = np.meshgrid(columns.astype(np.float32), rows.astype(np.float32))
    return np.asarray(cv2.remap(blurred, x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE), float)


def on_strip(placed: Placed, roles: IntArray) -> npt.NDArray[np.int8]:
    """Roles on the grid, shape (a, s), in the strip, shape (across, along); -1 is none, so beyond it."""
    strip = placed.strip
    offsets = (np.arange(strip.linear.shape[0]) - strip.middle) / strip.radius
    seen = np.abs(offsets) < np.sin(SEEN_ANGLE)
    angle = np.arcsin(np.clip(offsets, -1, 1))
    cell = placed.bead / STEPS_A_BEAD
    rows = (angle + SEEN_ANGLE) / (cell / strip.radius)
    columns = (np.arange(strip.linear.shape[1]) - strip.start) / cell
    x, y = np.meshgrid(columns.astype(np.float32), rows.astype(np.float32))
    role = cv2.remap(
        roles.astype(np.float32), x, y, cv2.INTER_NEAREST, borderMode=cv2.BORDER_CONSTANT, borderValue=-1
    )
    out: BoolArray = ~seen[:, None] | placed.table
    return np.where(out, -1, role).astype(np.int8)


def telling(seen: FloatArray) -> FloatArray:
    """Of the roles' pictures, shape (k, a, s), those that tell all: of two either one does."""
    return seen if len(seen) > 2 else seen[:1]


def self_correlation(seen: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Normalised correlation of pictures (k, a, s) with themselves, and the overlap, both (2a-1, 2s-1)."""
    deviations = [one - one.mean() for one in seen]
    power = np.sum([deviation**2 for deviation in deviations], axis=0)
    ones = np.ones_like(power)
    products = np.sum([_over_shifts(one, one) for one in deviations], axis=0)
    squares = _over_shifts(power, ones)
    other = squares[::-1, ::-1]  # the same sums, seen from the other picture
    overlap = _over_shifts(ones, ones)
    norm = np.sqrt(np.maximum(squares, 1e-9) * np.maximum(other, 1e-9))
    return products / np.maximum(norm, 1e-6), overlap


def _over_shifts(one: FloatArray, other: FloatArray) -> FloatArray:
    """Sum of products over every shift of two pictures of one shape, shape (2a-1, 2s-1).

    As ``scipy.signal.fftconvolve`` with the other picture reversed; importing that takes a second.
    """
    from scipy.fft import next_fast_len

    full = [2 * side - 1 for side in one.shape]
    shape = [next_fast_len(side, real=True) for side in full]
    product = np.fft.rfft2(one, shape) * np.fft.rfft2(other[::-1, ::-1], shape)
    return np.asarray(np.fft.irfft2(product, shape)[: full[0], : full[1]])


def repeats_in(seen: FloatArray, bead: float, radius: float, motif: MotifSteps | None = None) -> IntArray:
    """The best shifts (along, round) in cells of a picture on the grid, shape (k, a, s).

    One of each opposite pair, shape (m, 2); none where it does not repeat.
    """
    from scipy.ndimage import maximum_filter

    cell = bead / STEPS_A_BEAD
    across, along = seen.shape[1:]
    correlation, overlap = self_correlation(seen)
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
    peaks = np.argwhere((worth == maximum_filter(worth, size=size)) & (half > ALIKE_TOLD))
    alike = half[peaks[:, 0], peaks[:, 1]]
    if motif is not None:
        places = np.column_stack([least + peaks[:, 1], peaks[:, 0] - middle_a]) * cell / radius
        told = motif.predicts(places, alike)
        peaks = peaks[told] if told.any() else peaks[alike > ALIKE]
    else:
        peaks = peaks[alike > ALIKE]
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


def shift_picture(picture: FloatArray, along: int, round_: int) -> FloatArray:
    """The picture, shape (..., a, s), read at (a + round_, s + along); 0 outside."""
    out = np.zeros_like(picture)
    a, s = picture.shape[-2:]
    rows = slice(max(0, -round_), min(a, a - round_))
    cols = slice(max(0, -along), min(s, s - along))
    if rows.stop > rows.start and cols.stop > cols.start:
        out[..., rows, cols] = picture[
            ..., rows.start + round_ : rows.stop + round_, cols.start + along : cols.stop + along
        ]
    return out


def vote(
    seen: FloatArray, known: FloatArray, steps: IntArray
) -> tuple[FloatArray, FloatArray, FloatArray, BoolArray, IntArray]:
    """Mean of the repeats' pictures, each locally brought into step first.

    Returns
    -------
    expected, expected_known, votes, framed, in_step : ndarray
        As those of ``Expected``.
    """
    bead_cells = STEPS_A_BEAD
    total, total_known, votes = np.zeros_like(seen), np.zeros_like(known), np.zeros_like(known)
    sides = {True: np.zeros(known.shape, bool), False: np.zeros(known.shape, bool)}
    in_step = np.zeros((2 * len(steps), 2, known.shape[1]), np.intp)
    if not len(steps):
        return total, total_known, votes, sides[True], in_step
    counts = np.ones_like(known)
    # The outermost beads are base, closing and knots: they are no witnesses for the pattern.
    margin = round(2.0 * bead_cells)
    counts[:, :margin] = 0
    counts[:, counts.shape[1] - margin :] = 0
    slip = round(0.15 * bead_cells), round(0.3 * bead_cells)
    slips = sorted({0, slip[0], slip[1], -slip[0], -slip[1]}, key=abs)
    window = round(8 * bead_cells)
    for number, (along, turn) in enumerate([*steps.tolist(), *(-steps).tolist()]):
        best = np.full(known.shape[1], -np.inf)
        chosen = np.zeros_like(seen)
        chosen_known, chosen_counts = np.zeros_like(known), np.zeros_like(known)
        for da in slips:
            for ds in slips:
                there = shift_picture(seen, along + ds, turn + da)
                likeness = ((seen * there).sum(axis=(0, 1)) / 2)[None].astype(np.float32)
                local = cv2.blur(likeness, (window, 1))[0] - 1e-3 * (abs(da) + abs(ds))
                better = local > best
                best = np.where(better, local, best)
                chosen[:, :, better] = there[:, :, better]
                in_step[number][:, better] = [[along + ds], [turn + da]]
                chosen_known[:, better] = shift_picture(known, along + ds, turn + da)[:, better]
                chosen_counts[:, better] = shift_picture(counts, along + ds, turn + da)[:, better]
        total += chosen * chosen_counts
        total_known += chosen_known * chosen_counts
        votes += chosen_counts
        sides[along > 0] |= chosen_counts > 0
    many = np.maximum(votes, 1)
    return total / many, total_known / many, votes, sides[True] & sides[False], in_step
