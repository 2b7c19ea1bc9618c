"""Beads that sit where the motif wants another role, and rounds left plain."""

from __future__ import annotations

from collections.abc import Set
from dataclasses import dataclass, replace

import cv2
import numpy as np

from analyser.arrays import BoolArray, FloatArray
from analyser.audit.likeness import RoleBeads, role_beads
from analyser.rope.ground import BESIDE
from analyser.rope.placing import Placed
from analyser.rope.repeats import STEPS_A_BEAD, Expected

END_BEADS = 2.6
"""Bead diameters at each end that lots are not judged by: base of two beads, closing round, knots."""

STRAY_END_BEADS, STRAY_END_SHARE = 2.2, 0.035
"""Bead diameters, and share of the length, at each end in which no odd bead is called: there a place has
repeats on one side only, and a base or a closing is none of them."""

CLEAR = 0.28
"""How odd the middle of a bead must be, 0 to 1, over half a bead, to be looked at."""

LEAST_AREA = 0.12
"""Of an odd place to be looked at, in bead areas."""

WHOLE_CLEAR, WHOLE_AREA = 0.45, 0.25
"""The same for the beads of a plain round, which vouch for each other."""

WHOLE_ODDS = -2.0
"""Odds, as their natural log, from which a bead vouches for its round even if its role shows less."""

LEVEL = 0.75
"""Bead diameters along the rope up to which beads are of one round: it may climb."""

LEAST_VOTES = 3
"""Repeats in sight that a place needs: of two, one may itself be wrong."""

SURE = 0.6
"""Mean of the repeats' roles from which a place is surely of one role: four of five agree."""

SURE_ONE_SIDED = 0.85
"""The same near the ends, where all repeats lie on one side: nothing shows that the pattern goes on."""

FAR_OFF = 100.0
"""Standard deviations beyond which a spot is simply not of a role."""

FALSE_AT_EVEN = 0.02
"""Chance that an even rope shows an odd place with even odds of being a stray; it falls as the odds rise."""


@dataclass(frozen=True, slots=True, eq=False)
class Oddness:
    """How surely each place of the grid shows another bead than the motif wants, 0..1, all of shape (a, s).

    Attributes
    ----------
    role, colour : ndarray
        Another role's, or a colour of no role.
    either : ndarray
    smooth : ndarray
        The same over about half a bead.
    """

    role: FloatArray
    colour: FloatArray
    either: FloatArray
    smooth: FloatArray


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
    peak : float
        How odd its middle is, 0..1.
    fill : float
        How odd it is over most of a bead, 0..1.
    around : float
        How odd it is beyond a bead, other clear spots left out, 0..1: much of it is a misread pattern.
    off : float
        Standard deviations, of the role it shows, that it is off it; 0 for a colour of no role.
    log_odds : float
        That a bead is odd there, against a misread place.
    """

    column: float
    row: float
    wanted: int
    becomes: int | None
    area: float
    peak: float
    fill: float
    around: float
    off: float
    log_odds: float = 0.0

    @property
    def confidence(self) -> float:
        """1 minus the chance of such a place on an even rope."""
        return float(np.clip(1 - FALSE_AT_EVEN * np.exp(-self.log_odds), 0.0, 0.999))


def odd_spots(placed: Placed, expected: Expected, odd: Oddness) -> list[Stray]:
    """Places that may be odd beads, each with its odds.

    Parameters
    ----------
    placed : Placed
    expected : Expected
    odd : Oddness
    """
    bead_cells = float(STEPS_A_BEAD)
    smooth = odd.smooth.copy()
    margin = end_cells(smooth.shape[1])
    smooth[:, :margin] = 0
    smooth[:, smooth.shape[1] - margin :] = 0
    looks = [role_beads(placed, role) for role in range(len(placed.posterior))]
    rows, columns = np.mgrid[0 : smooth.shape[0], 0 : smooth.shape[1]]
    found: list[Stray] = []
    taken = np.zeros(smooth.shape, bool)
    while True:
        a, s = np.unravel_index(int(np.argmax(smooth)), smooth.shape)
        if smooth[a, s] < CLEAR:
            break
        peak = float(smooth[a, s])
        disc = np.hypot(rows - a, columns - s)
        smooth[disc <= 0.8 * bead_cells] = 0
        spot = _spot(placed, expected, odd, (int(a), int(s)), disc, taken, looks)
        if spot is not None:
            found.append(replace(spot, peak=peak))
    around = _odd_around(placed, expected, found, odd.either)
    found = [replace(spot, around=value) for spot, value in zip(found, around, strict=True)]
    return [replace(spot, log_odds=_log_odds(placed, spot)) for spot in found]


def end_cells(along: int) -> int:
    """Cells at each end of a grid so long in which no odd bead is called."""
    return round(max(STRAY_END_BEADS * STEPS_A_BEAD, STRAY_END_SHARE * along))


def _spot(
    placed: Placed,
    expected: Expected,
    oddness: Oddness,
    centre: tuple[int, int],
    disc: FloatArray,
    taken: BoolArray,
    looks: list[RoleBeads | None],
) -> Stray | None:
    """The odd spot about a place of the grid, marked in ``taken``; None where it is too small, or table."""
    bead_cells = float(STEPS_A_BEAD)
    odd = oddness.either
    wanted_role = expected.expected.argmax(axis=0)
    wanted = int(wanted_role[centre])
    across = (expected.rows - placed.strip.middle) / placed.strip.radius
    near = (disc <= 0.8 * bead_cells) & ~taken & (odd > 0.35) & (wanted_role == wanted)
    weight = odd * near * np.sqrt(np.maximum(1 - across**2, 0.02))[:, None]
    area = float(weight.sum()) / (np.pi / 4 * bead_cells**2)
    if area < LEAST_AREA:
        return None
    colour = float((oddness.colour * near).sum()) > float((oddness.role * near).sum())
    if colour and _shaded_table(placed, expected, near):
        return None
    taken |= near
    shown = (expected.seen * near).sum(axis=(1, 2))
    shown[wanted] = -np.inf
    becomes = None if colour else int(shown.argmax())
    a, s = np.nonzero(near)
    part = weight[near] / weight.sum()
    a_middle, s_middle = float(part @ a), float(part @ s)
    column, row = float(part @ expected.columns[s]), float(part @ expected.rows[a])
    y, x = np.mgrid[0 : odd.shape[0], 0 : odd.shape[1]]
    middle = np.hypot(y - a_middle, x - s_middle) <= 0.42 * bead_cells
    look = None if becomes is None else looks[becomes]
    off = 0.0 if becomes is None else FAR_OFF if look is None else look.off(placed, column, row)
    fill = float(odd[middle].mean()) if middle.any() else 0.0
    return Stray(column, row, wanted, becomes, area, 0.0, fill, 0.0, min(off, FAR_OFF))


def _odd_around(placed: Placed, expected: Expected, spots: list[Stray], odd: FloatArray) -> list[float]:
    """Mean oddness in the ring beyond each spot, other spots that look like whole beads left out."""
    cells = float(STEPS_A_BEAD)
    y, x = np.mgrid[0 : odd.shape[0], 0 : odd.shape[1]]
    places = [
        (
            float(np.interp(spot.row, expected.rows, np.arange(len(expected.rows)))),
            (spot.column - expected.columns[0]) / expected.cell,
        )
        for spot in spots
    ]
    gaps = [np.hypot(y - a, x - s) for a, s in places]
    whole = [spot.area >= WHOLE_AREA and spot.fill >= 0.45 and spot.off < 10 for spot in spots]
    found = []
    for index, gap in enumerate(gaps):
        ring = (gap > 0.8 * cells) & (gap <= 1.6 * cells)
        for other, clear in enumerate(whole):
            if clear and other != index:
                ring &= gaps[other] > 0.8 * cells
        found.append(float(odd[ring].mean()) if ring.any() else 0.0)
    return found


def _log_odds(placed: Placed, spot: Stray) -> float:
    """Logistic fit to the 170 odd spots of 218 drawn ropes, half of them even (seeds of their own).

    On 20 rendered ropes it told 16 of 16 strays that showed as odd spots, with one misread place even odds.
    """
    across = abs(spot.row - placed.strip.middle) / placed.strip.radius
    return float(
        5.2
        + 2.4 * np.log(spot.area)
        + 1.4 * spot.fill
        - 3.2 * np.log1p(20 * spot.around)
        - (1.8 if spot.becomes is None else 0.93 * np.log1p(spot.off))
        - 3.2 * max(across - 0.7, 0.0)
    )


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


def oddness(expected: Expected, first: Expected, wide: Set[int] = frozenset()) -> Oddness:
    """How surely each place shows another bead.

    Parameters
    ----------
    expected : Expected
    first : Expected
        As the roles' narrow looks tell: a colour that only a wide look takes in is odd too.
    wide : set of int
        Roles whose beads differ in colour as their finish does: a narrow look does not hold them.
    """
    role, colour = odd_places(expected)
    plain = ~np.isin(expected.expected.argmax(axis=0), list(wide))
    colour = np.maximum(colour, odd_places(first)[1] * plain)
    either = np.maximum(role, colour)
    smooth = cv2.GaussianBlur(either.astype(np.float32), (0, 0), 0.22 * STEPS_A_BEAD)
    return Oddness(role, colour, either, np.asarray(smooth, float))


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
    left = [s for s in found if s.wanted == accent and s.becomes == body and _whole(s)]
    rounds: list[Stray] = []
    used: set[int] = set()
    gone: set[int] = set()
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
        # What else is odd of that round's accents, less clear or at its side, is the same fault.
        gone |= {
            id(s)
            for s in found
            if s.wanted == accent and any(abs(s.column - member.column) < LEVEL * bead for member in group)
        }
    return rounds, [s for s in found if id(s) not in gone]


def _whole(spot: Stray) -> bool:
    return spot.log_odds >= WHOLE_ODDS or (spot.area >= WHOLE_AREA and spot.peak >= WHOLE_CLEAR)


def _level_with(first: int, strays: list[Stray], used: set[int], bead: float) -> list[int]:
    """Strays of the round of the first one: they lie level, or climb where the stitch steps."""
    members = [first]
    for other in range(first + 1, len(strays)):
        gap = min(abs(strays[other].column - strays[m].column) for m in members)
        if other not in used and gap < LEVEL * bead:
            members.append(other)
    return members


def _as_one(group: list[Stray], wanted: int, becomes: int) -> Stray:
    """Odd beads of a round as one, in their middle."""
    total = sum(s.area for s in group)
    return replace(
        max(group, key=lambda spot: spot.fill),
        column=sum(s.column * s.area for s in group) / total,
        row=sum(s.row * s.area for s in group) / total,
        wanted=wanted,
        becomes=becomes,
        area=total,
        around=0.0,
        # A second bead on the same round is hardly chance.
        log_odds=max(s.log_odds for s in group) + len(group),
    )
