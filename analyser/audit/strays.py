"""Beads that sit where the motif wants another role, and rounds left plain."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

from analyser.arrays import BoolArray, FloatArray
from analyser.rope.ground import BESIDE
from analyser.rope.placing import Placed
from analyser.rope.repeats import STEPS_A_BEAD, Expected

END_BEADS = 2.6
"""Bead diameters at each end left alone: base of two beads, closing round, knots."""

END_SHARE = 0.055
"""The same as a share of the length: there a place has repeats on one side only."""

CLEAR = 0.45
"""How odd the middle of a bead must be, 0 to 1, over half a bead."""

LEAST_VOTES = 3
"""Repeats in sight that a place needs: of two, one may itself be wrong."""

SURE = 0.6
"""Mean of the repeats' roles from which a place is surely of one role: four of five agree."""


SURE_ONE_SIDED = 0.85
"""The same near the ends, where all repeats lie on one side: nothing shows that the pattern goes on."""


@dataclass(frozen=True, slots=True)
class Stray:
    """A place that shows another colour than its repeats.

    Attributes
    ----------
    column, row : float
        Middle of the odd area in the strip.
    wanted : int
        Role index the motif wants there.
    becomes : int or None
        Role index it shows; None if a colour of no role.
    area : float
        Of the odd area, in bead areas.
    confidence : float
        Mean agreement of repeats and clarity of the picture over that area, 0..1.
    """

    column: float
    row: float
    wanted: int
    becomes: int | None
    area: float
    confidence: float


def strays(placed: Placed, expected: Expected, least_area: float) -> list[Stray]:
    """Odd beads of a rope, in order along it.

    Parameters
    ----------
    placed : Placed
    expected : Expected
    least_area : float
        In bead areas.
    """
    bead_cells = float(STEPS_A_BEAD)
    wanted_role = expected.expected.argmax(axis=0)
    odd_role, odd_colour = odd_places(expected)
    odd = np.maximum(odd_role, odd_colour)
    across = (expected.rows - placed.strip.middle) / placed.strip.radius
    cosine = np.sqrt(np.maximum(1 - across**2, 0.02))[:, None]
    smooth = cv2.GaussianBlur(odd.astype(np.float32), (0, 0), 0.22 * bead_cells)
    margin = round(max(END_BEADS * bead_cells, END_SHARE * odd.shape[1]))
    smooth[:, :margin] = 0
    smooth[:, odd.shape[1] - margin :] = 0
    found: list[Stray] = []
    taken = np.zeros(odd.shape, bool)
    whole = np.pi / 4 * bead_cells**2
    rows, columns = np.mgrid[0 : odd.shape[0], 0 : odd.shape[1]]
    while True:
        a, s = np.unravel_index(int(np.argmax(smooth)), smooth.shape)
        if smooth[a, s] < CLEAR:
            break
        disc = np.hypot(rows - a, columns - s)
        smooth[disc <= 0.8 * bead_cells] = 0
        wanted = int(wanted_role[a, s])
        near = (disc <= 0.8 * bead_cells) & ~taken & (odd > 0.4) & (wanted_role == wanted)
        weight = odd * near * cosine
        area = float(weight.sum()) / whole
        if area < least_area:
            continue
        colour = float((odd_colour * near).sum()) > float((odd_role * near).sum())
        if colour and (area < 1.5 * least_area or _shaded_table(placed, expected, near)):
            continue
        taken |= near
        shown = (expected.seen * near).sum(axis=(1, 2))
        shown[wanted] = -np.inf
        place = weight / weight.sum()
        found.append(
            Stray(
                float((place * expected.columns[columns]).sum()),
                float((place * expected.rows[rows]).sum()),
                wanted,
                None if colour else int(shown.argmax()),
                area,
                float(np.clip((odd * place).sum(), 0, 0.999)),
            )
        )
    return sorted(found, key=lambda stray: stray.column)


def _shaded_table(placed: Placed, expected: Expected, near: BoolArray) -> bool:
    """Whether an odd colour at the rope's side is the table, in the rope's shadow and tinted by its light."""
    strip = placed.strip
    a, s = np.nonzero(near)
    rows, columns = np.round(expected.rows[a]).astype(int), np.round(expected.columns[s]).astype(int)
    if np.median(np.abs(rows - strip.middle)) < 0.6 * strip.radius:
        return False  # too far in to see past the rope
    beside = np.abs(np.arange(len(placed.features)) - strip.middle) > BESIDE * strip.radius
    reach = slice(max(0, columns.min() - round(placed.bead)), columns.max() + round(placed.bead) + 1)
    table = np.median(placed.features[beside, reach].reshape(-1, 3), axis=0)
    shown = np.median(placed.features[rows, columns], axis=0) - table
    if shown[0] > -0.3:
        return False  # lit like the table itself, so no shadow
    for mean in placed.model.means:
        towards = mean[1:] - table[1:]
        along = np.clip(shown[1:] @ towards / max(float(towards @ towards), 1e-9), 0, 1)
        if np.hypot(*(shown[1:] - along * towards)) < 0.25:
            return True
    return False


def odd_places(expected: Expected) -> tuple[FloatArray, FloatArray]:
    """How surely each place shows the other role, or a colour of no role; both 0..1, shape (a, s)."""
    least = np.where(expected.framed, SURE, SURE_ONE_SIDED)
    surest = expected.expected.max(axis=0)
    sure = (surest > least) & (expected.votes >= LEAST_VOTES)
    others = expected.seen.copy()
    np.put_along_axis(others, expected.expected.argmax(axis=0)[None], -1.0, axis=0)
    odd_role = np.where(sure, np.clip(others.max(axis=0), 0, 1) * surest, 0.0)
    known_there = sure & (expected.expected_known > 0.8)
    odd_colour = np.where(known_there, np.clip(expected.expected_known - expected.known, 0, 1), 0.0)
    odd_colour = odd_colour * np.clip(1 - 2 * expected.table, 0, 1)
    return odd_role, odd_colour


def plain_rounds(
    placed: Placed, expected: Expected, found: list[Stray], accent: int, body: int
) -> tuple[list[Stray], list[Stray]]:
    """Split strays into rounds that lack one role and the rest.

    A round is plain when, round the whole visible tube, every place near the same distance along the rope
    that should be of role ``accent`` shows ``body``, at two places or more.

    Returns
    -------
    rounds, others : lists of Stray
        A round's column and row are its middle; its area is that of all its odd beads.
    """
    bead = placed.bead
    wants = (expected.expected[accent] > SURE) & (expected.votes >= LEAST_VOTES)
    shows = wants & (expected.seen[body] > 0)
    left = [s for s in found if s.wanted == accent and s.becomes == body]
    rounds: list[Stray] = []
    used: set[int] = set()
    for first in range(len(left)):
        if first in used:
            continue
        members = _level_with(first, left, used, bead)
        group = [left[m] for m in members]
        spread = max(s.row for s in group) - min(s.row for s in group)
        if len(group) < 2 and group[0].area < 1.6:
            continue
        near = np.zeros(wants.shape, bool)
        for stray in group:
            near |= (np.abs(expected.columns - stray.column) < 0.4 * bead)[None]
        share = float((shows & near).sum()) / max(float((wants & near).sum()), 1.0)
        if share < 0.7 or (len(group) > 1 and spread < 0.6 * bead):
            continue
        used.update(members)
        rounds.append(_as_one(group, accent, body))
    gone = {id(left[m]) for m in used}
    return rounds, [s for s in found if id(s) not in gone]


def _level_with(first: int, strays: list[Stray], used: set[int], bead: float) -> list[int]:
    """Strays of the round of the first one: they lie level, or climb where the stitch steps."""
    members = [first]
    for other in range(first + 1, len(strays)):
        gap = min(abs(strays[other].column - strays[m].column) for m in members)
        if other not in used and gap < 0.75 * bead:
            members.append(other)
    return members


def _as_one(group: list[Stray], wanted: int, becomes: int) -> Stray:
    """Odd beads of a round as one, in their middle."""
    total = sum(s.area for s in group)
    return Stray(
        sum(s.column * s.area for s in group) / total,
        sum(s.row * s.area for s in group) / total,
        wanted,
        becomes,
        total,
        min(s.confidence for s in group),
    )
