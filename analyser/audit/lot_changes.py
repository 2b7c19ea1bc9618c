"""Where a role changes its lot: each role's beads against their own smooth course along the rope."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from analyser.arrays import BoolArray, FloatArray
from analyser.audit.change_point import Jump, find_jump, robust_fit, splines
from analyser.audit.strays import END_BEADS, Stray
from analyser.audit.verdict import Tolerances
from analyser.colour.difference import delta_e_2000
from analyser.colour.spaces import linear_to_lab
from analyser.rope.colours import RoleLook
from analyser.rope.placing import Placed

WIDEST = 0.85
"""Beads farther out than this share of the radius are left out: little of them shows, at a slant."""

DARK = 0.002
"""Added to linear light before the log, so that noise in the deepest channels does not dominate."""

ALONG = 8
"""Splines along the rope for each role and channel: they follow falloff, window and mixed light to an
eighth of the length. With 4 the rendered even ropes' largest statistic was 22.5, with 8 it was 19.9."""

ACROSS = 5
"""Splines across the tube: bead colours vary smoothly from side to side."""

FEW_BEADS = 40
"""Beads under which the courses are parabolas: splines would leave too little to judge by."""

LEAST_BEADS = 16
"""Beads a role needs before its course along the rope is judged."""

ECHO = 0.35
"""A jump is taken for another role's reflection below this share of that one's statistic. A path-traced
chenille rope whose body changed by 4.5 showed a jump of 0.10 in its accents, which had not changed."""

BESIDE = 0.12
"""Share of the length to each side of a jump over which it must show without the curves along the rope."""

STEPS = 0.55
"""Least part of a jump that shows so. Of 13 rendered lot changes the least was 0.77 and most lay near 1; a
jump that curves along the rope made up between them, in an even rope in window light, had 0.16."""

MOST = 3
"""Lot changes looked for in one role."""


@dataclass(frozen=True, slots=True, eq=False)
class Series:
    """The beads that are judged.

    Attributes
    ----------
    at : ndarray, shape (n,)
        Fraction of the length.
    across : ndarray, shape (n,)
        Place across the tube in radii.
    normal : ndarray, shape (n, 2)
        Direction across the rope in the photo.
    name : ndarray of str, shape (n,)
        Role.
    logs : ndarray, shape (n, 3)
        Log linear light.
    linear : dict of str to ndarray, shape (3,)
        Mean linear light of each role.
    beside : ndarray, shape (n, m), or None
        How the beads beside each take turns, where a plan tells: their light falls on it.
    """

    at: FloatArray
    across: FloatArray
    normal: FloatArray
    name: npt.NDArray[np.str_]
    logs: FloatArray
    linear: dict[str, FloatArray]
    beside: FloatArray | None = None


@dataclass(frozen=True, slots=True, eq=False)
class LotChange:
    """A jump of one role's colour.

    Attributes
    ----------
    role : str
    at : float
    before, after : ndarray, shape (3,)
        Linear light of the two sides, in the role's mean light.
    de00 : float
    p_value : float
    log_ratio : ndarray, shape (3,)
        After over before.
    """

    role: str
    at: float
    before: FloatArray
    after: FloatArray
    de00: float
    p_value: float
    log_ratio: FloatArray


def series_of(placed: Placed, looks: list[RoleLook], odd: list[Stray]) -> Series:
    """The beads that are judged: away from the ends, the sides and the odd beads."""
    strip, beads = placed.strip, placed.beads
    across = (beads.row - strip.middle) / strip.radius
    margin = END_BEADS * placed.bead
    keep = (np.abs(across) < WIDEST) & (beads.pixels > 0.25 * placed.bead**2)
    keep &= (beads.column > strip.start + margin) & (beads.column < strip.stop - margin)
    for stray in odd:
        keep &= np.hypot(beads.column - stray.column, beads.row - stray.row) > 0.8 * placed.bead
    column = beads.column[keep]
    index = np.arange(len(strip.normal))
    normal = np.column_stack([np.interp(column, index, strip.normal[:, k]) for k in (0, 1)])
    names = {look.index: look.name for look in looks}
    return Series(
        np.asarray(strip.fraction(column)),
        across[keep],
        normal,
        np.array([names[role] for role in beads.role[keep].tolist()], dtype=np.str_),
        np.log(np.maximum(beads.linear[keep], 0) + DARK),
        {look.name: look.linear for look in looks},
    )


def lot_changes(series: Series, limits: Tolerances) -> tuple[list[LotChange], list[str]]:
    """All lot changes clear enough, and remarks where light and colour could not be told apart."""
    found: list[LotChange] = []
    notes: list[str] = []
    jumps: list[tuple[str, Jump]] = []
    for role in series.linear:
        jumps += [(role, jump) for jump in _jumps(series, role, limits)]
    for role, jump in jumps:
        if any(_echoes(jump, other) for name, other in jumps if name != role):
            continue
        alike = [
            other
            for name, other in jumps
            if name != role and abs(other.at - jump.at) < 0.03 and _same(jump, other)
        ]
        if alike:
            note = (
                f"all roles change alike {round(100 * jump.at)} % along: an edge of light or shadow, "
                "not a lot; photograph it again in even light to be sure"
            )
            if note not in notes:
                notes.append(note)
            continue
        change = _change(series, role, jump)
        if change.de00 >= limits.lot_de00:
            found.append(change)
    return found, notes


def _jumps(series: Series, role: str, limits: Tolerances) -> list[Jump]:
    mine = series.name == role
    if mine.sum() < LEAST_BEADS:
        return []
    at, logs = series.at[mine], series.logs[mine]
    design = smooth_design(series, mine)
    found: list[Jump] = []
    for _ in range(MOST):
        jump = find_jump(at, logs, design)
        if jump is None or jump.p_value > limits.alarm:
            break
        if any(abs(jump.at - other.at) < 0.06 for other in found):
            break
        if _shown_beside(at, series.across[mine], logs, jump) < STEPS:
            break
        found.append(jump)
        design = np.column_stack([design, at > jump.at])
    return found


def _shown_beside(at: FloatArray, across: FloatArray, logs: FloatArray, jump: Jump) -> float:
    """The part of a jump that its near beads show, side by side; 1 is the whole of it."""
    near = np.abs(at - jump.at) < BESIDE
    u, later = across[near], at[near] > jump.at
    if min(later.sum(), (~later).sum()) < 4:
        return 1.0  # too few beads near to say otherwise
    # What differs across the tube is taken out of both.
    design = np.column_stack([np.ones(len(u)), u, u**2, later])
    root = np.sqrt(robust_fit(design, logs[near])[1])[:, None]
    step = np.linalg.lstsq(design * root, logs[near] * root, rcond=None)[0][-1]
    precision = np.linalg.inv(jump.variance)
    return float(step @ precision @ jump.size / max(jump.size @ precision @ jump.size, 1e-12))


def smooth_design(series: Series, mine: BoolArray) -> FloatArray:
    """Smooth curves along and across the rope, and the turning of a bent rope in its light."""
    count = int(mine.sum())
    if count < FEW_BEADS:
        # A role of few beads can bear few curves: parabolas across and along.
        u, t = series.across[mine], 2 * series.at[mine] - 1
        return np.column_stack([np.ones(count), u, u**2, t, 1.5 * t**2 - 0.5])
    along = splines(series.at[mine], 0, 1, int(np.clip(count // 6, 4, ALONG)))[:, 1:]
    parts = [splines(series.across[mine], -WIDEST, WIDEST, ACROSS), along]
    if np.ptp(series.normal, axis=0).max() > 0.3:
        # A bent rope turns its sides to and from the lamp: a term for each direction in the photo.
        parts.append(series.across[mine, None] * series.normal[mine])
    if series.beside is not None:
        parts.append(series.beside[mine])
    return np.column_stack(parts)


def _echoes(jump: Jump, other: Jump) -> bool:
    """Whether a jump is another role's, seen again: beads mirror their neighbours and mix at their edges."""
    return abs(jump.at - other.at) < 0.04 and jump.statistic < ECHO * other.statistic


def _same(one: Jump, other: Jump) -> bool:
    """Whether two roles' jumps are the same factor of light, within their noise (99 %)."""
    from scipy.special import chdtri

    gap = one.size - other.size
    distance = float(gap @ np.linalg.inv(one.variance + other.variance) @ gap)
    return distance < float(chdtri(len(gap), 0.01))


def _change(series: Series, role: str, jump: Jump) -> LotChange:
    share = float((series.at[series.name == role] > jump.at).mean())
    mean = np.maximum(series.linear[role], 1e-4)
    # DARK was added to the light before its log, so it is taken off after the step.
    before = np.maximum((mean + DARK) * np.exp(-share * jump.size) - DARK, 1e-5)
    after = np.maximum((mean + DARK) * np.exp((1 - share) * jump.size) - DARK, 1e-5)
    de00 = float(delta_e_2000(linear_to_lab(before), linear_to_lab(after)))
    return LotChange(role, jump.at, before, after, de00, jump.p_value, jump.size)


WHOLE = 0.0, 1.001
"""Up to which the last bead lies: the side of a role that changes no lot."""


def divide_out_light(
    series: Series, changes: list[LotChange], sides: Mapping[str, tuple[float, float]]
) -> FloatArray:
    """Log ratio of each bead to its role, light that all roles share and the tube's turning divided out.

    Parameters
    ----------
    series : Series
    changes : list of LotChange
    sides : mapping of str to (float, float)
        Where each role is at its own colour, 0..1 along the rope.

    Returns
    -------
    ndarray, shape (n, 3)
        Lot changes stay in.
    """
    roles = list(series.linear)
    steps = np.zeros_like(series.logs)
    parts = []
    for role in roles:
        mine = series.name == role
        parts.append(splines(series.across, -WIDEST, WIDEST, ACROSS) * mine[:, None])
        for change in (c for c in changes if c.role == role):
            later = (mine & (series.at > change.at)).astype(float)
            steps += later[:, None] * change.log_ratio
    parts.append(splines(series.at, 0, 1, ALONG)[:, 1:])
    parts.append(series.across[:, None] * series.normal)
    residuals = robust_fit(np.column_stack(parts), series.logs - steps)[0] + steps
    for role in roles:
        mine = series.name == role
        if mine.any():
            first, last = sides[role]
            larger = mine & (series.at >= first) & (series.at < last)
            residuals[mine] -= np.median(residuals[larger], axis=0)
    return np.asarray(residuals)


def larger_side(at: FloatArray, changes: Sequence[float]) -> tuple[float, float]:
    """Where along the rope the lot lies that most beads of a role are of: from and up to, 0..1.

    Parameters
    ----------
    at : ndarray, shape (n,)
        Where the role's beads lie, 0..1.
    changes : sequence of float
        Where its lot changes, 0..1.
    """
    sides = pairwise([WHOLE[0], *sorted(changes), WHOLE[1]])
    return max(sides, key=lambda side: int(((at >= side[0]) & (at < side[1])).sum()))
