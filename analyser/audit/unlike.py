"""Places of a rope that are unlike their repeats.

How a bead looks hangs on where it lies on the tube: shade, gloss and what shines through are the same at a
place and at the places that the motif's steps put beside it. The difference from their median leaves all
that out, and what is left counts in its own scatter. Roles need not be told well for it, nor at all: a rope
told as one role repeats itself too.

Sources
-------
Common practice, no single source: differences from a median over like places, in their robust scatter, with
logistic odds fitted to drawn ropes.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import pairwise

import cv2
import numpy as np

from analyser.arrays import BoolArray, FloatArray, IntArray
from analyser.audit.strays import SURE_ONE_SIDED, Oddness, Stray, end_cells
from analyser.rope.placing import Placed
from analyser.rope.repeats import STEPS_A_BEAD, Expected, on_grid, repeats_in, vote

SPOT = 0.22
"""Standard deviation of the blur, in bead diameters, over which a place's colour is taken."""

FEWEST_REPEATS = 3
"""In sight of a place: of two, one may itself be wrong."""

END_BEADS = 2
"""Bead diameters at each end that are no witness: base, closing and knots."""

BANDS = (0.0, 0.5, 0.8, 1.1)
"""Shares of the radius between which a role's scatter is taken together: towards the side it grows."""

FEWEST_CELLS = 200
"""Of the grid, in which a scatter is taken."""

LEAST_SCATTER = np.array([0.03, 0.012, 0.012])
"""Of log light and the two log ratios, between beads of one lot."""

LEAST_OFF = 3.5
"""Scatters from which a place is looked at."""

LEAST_AREA = 0.15
"""Of a place, in bead areas: beads told at the tube's side came down to 0.16, what shines through gaps lies
below."""

MOST_SPOTS = 25
"""Places looked at: the first may be odd, the others tell how far off this rope's beads usually are."""

USUAL = slice(7, 15)
"""Of them, in order: so many faults no rope has in sight, and what is left is its own unrest."""

ODD_UNTOLD = 0.5
"""Taken for how surely the roles show another bead where there is one role only, which tells nothing."""

SLOW_BEADS = 12
"""Bead diameters over which a rope of one role changes slowly: that is light."""


@dataclass(frozen=True, slots=True)
class Unlike:
    """A place that is unlike its repeats.

    Attributes
    ----------
    column, row : float
        Its middle in the strip.
    wanted : int
        Role index the motif wants there.
    becomes : int or None
        Role index it shows; None if a colour of no role.
    off : float
        How many scatters it is off its repeats.
    usual : float
        The same of this rope's other places that stand out.
    area : float
        Of what is off half as far or more, on the tube, in bead areas.
    fill : float
        How far off most of a bead is, over ``off``.
    across : float
        From the middle of the tube, in radii.
    strange : float
        Share of the bead that is of no role's colour.
    table : float
        Share of the table in and about it.
    sure : float
        How surely the motif wants that role, up to 1.
    repeats : int
        In sight.
    framed : bool
        Whether they lie both before and behind it.
    odd : float
        How surely its roles show another bead, 0..1.
    """

    column: float
    row: float
    wanted: int
    becomes: int | None
    off: float
    usual: float
    area: float
    fill: float
    across: float
    strange: float
    table: float
    sure: float
    repeats: int
    framed: bool
    odd: float

    @property
    def log_odds(self) -> float:
        """That a bead is odd there, by a logistic fit to such places of drawn ropes, seeds from 40000."""
        side = max(self.across - 0.7, 0.0)
        return float(
            2.45 * np.log(self.off / self.usual)
            + 3.93 * np.log(self.off)
            + 1.21 * np.log(min(self.area, 0.5))
            + 3.47 * min(self.fill, 0.8)
            + 6.74 * self.odd
            + 1.8 * min(self.sure, 0.6)
            - self.strange * (9.5 + 6.8 * side + 39.0 * self.table)
            - 16.6
        )


def unlike_spots(placed: Placed, expected: Expected, odd: Oddness) -> list[Stray]:
    """Places that may be odd beads because they are unlike their repeats, each with its odds.

    Parameters as of ``unlike_places``.
    """
    return [
        Stray(
            place.column,
            place.row,
            place.wanted,
            place.becomes,
            place.area,
            place.odd,
            place.fill,
            0.0,
            0.0,
            place.log_odds,
        )
        for place in unlike_places(placed, expected, odd)
    ]


def unlike_places(placed: Placed, expected: Expected, odd: Oddness) -> list[Unlike]:
    """Places that stand out against their repeats, the farthest off first.

    Parameters
    ----------
    placed : Placed
    expected : Expected
    odd : Oddness
    """
    table = (
        on_grid(placed, cv2.dilate(placed.table.astype(np.uint8), np.ones((7, 7))).astype(np.float32)) > 0.5
    )
    one_role = len(placed.posterior) == 1
    colour = np.stack([on_grid(placed, picture) for picture in np.moveaxis(placed.features, -1, 0)])
    if one_role:
        expected = _of_one_role(placed, expected, colour, table)
    if not len(expected.steps_in_cells):
        return []
    colour = _blurred(colour, table, SPOT * STEPS_A_BEAD)
    off, repeats = _off(placed, expected, colour)
    margin = end_cells(off.shape[1])
    off[:, :margin] = 0
    off[:, off.shape[1] - margin :] = 0
    shown = np.full(off.shape, ODD_UNTOLD) if one_role else odd.smooth
    spots = _spots(placed, expected, off, repeats, shown)
    steady = [spot.off for spot in spots if spot.framed]
    usual = float(np.median(steady[USUAL])) if len(steady) > USUAL.start + 1 else LEAST_OFF
    # Repeats on one side only do not show that the pattern goes on.
    return [
        replace(spot, usual=usual)
        for spot in spots
        if spot.area >= LEAST_AREA and (spot.framed or spot.sure > SURE_ONE_SIDED)
    ]


def _blurred(colour: FloatArray, table: BoolArray, width: float) -> FloatArray:
    """The mean about each place without the table, NaN where that is most of it, shape (3, a, s)."""
    share = cv2.GaussianBlur((~table).astype(np.float32), (0, 0), width)
    parts = [
        cv2.GaussianBlur(np.where(table, 0, one).astype(np.float32), (0, 0), width) / np.maximum(share, 1e-3)
        for one in colour
    ]
    return np.where(share < 0.5, np.float32(np.nan), np.asarray(parts, np.float32))


def _off(placed: Placed, expected: Expected, colour: FloatArray) -> tuple[FloatArray, IntArray]:
    """How many scatters each place is off its repeats, 0 where too few are in sight; how many are.

    Both of shape (a, s).
    """
    beside = _at_repeats(colour, expected.in_step)
    repeats = np.isfinite(beside[:, 0]).sum(axis=0)
    enough = (repeats >= FEWEST_REPEATS) & np.isfinite(colour[0])
    beside, here = beside[:, :, enough], colour[:, enough]
    usual = _middle(beside)
    own = 1.4826 * _middle(np.abs(beside - usual))
    gap = here - usual
    across = np.abs(expected.rows - placed.strip.middle) / placed.strip.radius
    across = np.broadcast_to(across[:, None], enough.shape)[enough]
    role = expected.expected.argmax(axis=0)[enough]
    found = np.zeros(len(role))
    for one in range(len(expected.expected)):
        for low, high in pairwise(BANDS):
            mine = (role == one) & (across >= low) & (across < high)
            if mine.sum() < FEWEST_CELLS:
                continue
            part = gap[:, mine]
            # Half the role's own, half the place's: an edge between beads is never quite in step.
            pooled = 1.4826 * np.median(np.abs(part), axis=1)[:, None]
            part = part / np.sqrt((pooled**2 + own[:, mine] ** 2) / 2 + LEAST_SCATTER[:, None] ** 2)
            near = np.clip(part, -3, 3)
            spread = near @ near.T / near.shape[1] + 1e-2 * np.eye(3)
            found[mine] = np.sqrt((part * np.linalg.solve(spread, part)).sum(axis=0))
    off = np.zeros(enough.shape)
    off[enough] = found
    return off, repeats


def _middle(values: FloatArray) -> FloatArray:
    """Median along the first axis without NaN, which ``numpy.nanmedian`` takes ten times as long for."""
    order = np.sort(values, axis=0)
    count = np.isfinite(values).sum(axis=0)[None]
    low = np.take_along_axis(order, np.maximum(count - 1, 0) // 2, axis=0)
    high = np.take_along_axis(order, np.minimum(count // 2, len(order) - 1), axis=0)
    return np.asarray((low + high)[0] / 2)


def _at_repeats(colour: FloatArray, in_step: IntArray) -> FloatArray:
    """What each place's repeats show, NaN where they are out of sight, shape (m, 3, a, s)."""
    height, width = colour.shape[1:]
    margin = END_BEADS * STEPS_A_BEAD
    rows, columns = np.arange(height)[:, None], np.arange(width)
    found = []
    for along, turn in in_step:
        row, column = rows + turn, np.broadcast_to(columns + along, (height, width))
        seen = (row >= 0) & (row < height) & (column >= margin) & (column < width - margin)
        there = colour[:, np.clip(row, 0, height - 1), np.clip(column, 0, width - 1)]
        found.append(np.where(seen, there, np.nan))
    return np.stack(found)


def _of_one_role(placed: Placed, expected: Expected, colour: FloatArray, table: BoolArray) -> Expected:
    """What a rope of one role repeats: its beads, by how they look and are shaded."""
    pictures = []
    for one in _blurred(colour, table, 0.15 * STEPS_A_BEAD):
        level = one - _middle(np.where(table, np.nan, one).T)[:, None]
        level = np.where(table, 0, np.nan_to_num(level))
        slow = cv2.blur(level.astype(np.float32), (SLOW_BEADS * STEPS_A_BEAD | 1, 3 * STEPS_A_BEAD | 1))
        level = level - slow
        spread = 1.4826 * np.median(np.abs(level[~table])) + 1e-3
        pictures.append(np.clip(level / (2 * spread), -1, 1))
    seen = np.stack(pictures)
    steps = repeats_in(seen, placed.bead, placed.strip.radius)
    flat = np.ones(seen.shape[1:])
    _, _, votes, framed, in_step = vote(seen, flat, steps)
    return replace(
        expected,
        expected=flat[None],
        expected_known=flat,
        votes=votes,
        framed=framed,
        steps_in_cells=steps,
        in_step=in_step,
    )


def _spots(
    placed: Placed,
    expected: Expected,
    off: FloatArray,
    repeats: IntArray,
    odd: FloatArray,
) -> list[Unlike]:
    """The places farthest off, a bead apart; how far off is usual is not yet known."""
    cells = float(STEPS_A_BEAD)
    y, x = np.mgrid[0 : off.shape[0], 0 : off.shape[1]]
    across = (expected.rows - placed.strip.middle) / placed.strip.radius
    # Cells are even in angle; seen from above, those at the side are narrow.
    seen = np.sqrt(np.maximum(1 - across**2, 0.02))[:, None]
    left = off.copy()
    found: list[Unlike] = []
    while len(found) < MOST_SPOTS:
        a, s = (int(one) for one in np.unravel_index(int(left.argmax()), left.shape))
        peak = float(left[a, s])
        if peak < LEAST_OFF:
            break
        reach = slice(max(a - 16, 0), a + 17), slice(max(s - 16, 0), s + 17)
        far = np.hypot(y[reach] - a, x[reach] - s)
        here = off[reach]
        near = (far <= 0.8 * cells) & (here > 0.5 * peak)
        middle = (far <= 0.42 * cells) & (here > 0)
        weight = near * here * seen[reach[0]]
        weight = weight / weight.sum()
        wants = (expected.expected[:, reach[0], reach[1]] * weight).sum(axis=(1, 2))
        shows = expected.seen[:, reach[0], reach[1]][:, middle].mean(axis=1)
        wanted = int(wants.argmax())
        strange = float(np.clip(1 - expected.known[reach][middle].mean(), 0, 1))
        shows[wanted] = -np.inf
        other = int(shows.argmax())
        about = slice(max(a - 2, 0), a + 3), slice(max(s - 2, 0), s + 3)
        found.append(
            Unlike(
                float(
                    np.interp((weight * x[reach]).sum(), np.arange(len(expected.columns)), expected.columns)
                ),
                float(np.interp((weight * y[reach]).sum(), np.arange(len(expected.rows)), expected.rows)),
                wanted,
                other if shows[other] > 0 else None,
                peak,
                0.0,
                float((near * seen[reach[0]]).sum() / (np.pi / 4 * cells**2)),
                float(here[middle].mean() / peak),
                float(abs(across[a])),
                strange,
                float(expected.table[reach][far <= 1.1 * cells].mean()),
                float(wants.max()),
                int(repeats[a, s]),
                bool(expected.framed[a, s]),
                float(odd[about].max()),
            )
        )
        left[reach][far <= 0.8 * cells] = 0
    return found
