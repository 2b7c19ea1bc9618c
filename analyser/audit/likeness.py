"""How well a spot agrees with a role's own beads, which differ among themselves by finish and light.

A film's beads scatter far, a matte glass's hardly: how far off a colour is counts in the role's own scatter.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analyser.arrays import FloatArray
from analyser.audit.change_point import robust_fit
from analyser.rope.placing import Placed

WIDEST = 0.9
"""Beads farther out than this share of the radius do not say what a role looks like."""

LEAST_BEADS = 8
REACH = 0.38
"""Radius of a spot, in bead diameters, whose light is compared."""

DARK = 0.002
"""Added to linear light before the log, so that noise in the deepest channels does not dominate."""

_LEAST_SPREAD = 0.02  # of log light between beads of one lot: what glass and place differ by at the least


@dataclass(frozen=True, slots=True, eq=False)
class RoleBeads:
    """The course of a role's log light over the rope and its beads' scatter about it.

    Attributes
    ----------
    course : ndarray, shape (5, 3)
        Of ``_place_terms``.
    precision : ndarray, shape (3, 3)
    """

    course: FloatArray
    precision: FloatArray

    def off(self, placed: Placed, column: float, row: float) -> float:
        """How many of the role's own standard deviations a spot of the strip is off; at least 0."""
        across = (row - placed.strip.middle) / placed.strip.radius
        along = float(placed.strip.fraction(column))
        gap = _log_light(placed, column, row) - (_place_terms(across, along) @ self.course)[0]
        return float(np.sqrt(max(gap @ self.precision @ gap, 0.0)))


def role_beads(placed: Placed, role: int) -> RoleBeads | None:
    """What a role's beads look like, or None where there are too few."""
    strip, beads = placed.strip, placed.beads
    across = (beads.row - strip.middle) / strip.radius
    mine = (beads.role == role) & (np.abs(across) < WIDEST) & (beads.pixels > 0.2 * placed.bead**2)
    if mine.sum() < LEAST_BEADS:
        return None
    spots = zip(beads.column[mine].tolist(), beads.row[mine].tolist(), strict=True)
    logs = np.array([_log_light(placed, column, row) for column, row in spots])
    terms = _place_terms(across[mine], strip.fraction(beads.column[mine]))
    weights = robust_fit(terms, logs)[1][:, None]
    ridge = 1e-2 * np.eye(terms.shape[1])
    stacked = np.vstack([terms * np.sqrt(weights), ridge])
    target = np.vstack([logs * np.sqrt(weights), np.zeros((len(ridge), 3))])
    course = np.linalg.lstsq(stacked, target, rcond=None)[0]
    off = logs - terms @ course
    scale = 1.4826 * np.median(np.abs(off), axis=0) + _LEAST_SPREAD
    near = np.clip(off / scale, -3, 3)
    return RoleBeads(course, np.linalg.inv(near.T @ near / len(off) * np.outer(scale, scale)))


def _place_terms(across: FloatArray | float, along: FloatArray | float) -> FloatArray:
    """Parabolas across and along the rope, shape (n, 5)."""
    u, t = np.atleast_1d(across), 2 * np.atleast_1d(along) - 1
    return np.column_stack([np.ones(len(u)), u, u**2, t, t**2])


def _log_light(placed: Placed, column: float, row: float) -> FloatArray:
    """Log of the mean light of a spot without the brightest tenth and the darkest fifth, shape (3,)."""
    reach = max(2, round(REACH * placed.bead))
    centre = round(row), round(column)
    height, width = placed.table.shape
    y, x = np.mgrid[
        max(centre[0] - reach, 0) : min(centre[0] + reach + 1, height),
        max(centre[1] - reach, 0) : min(centre[1] + reach + 1, width),
    ]
    inside = np.hypot(y - centre[0], x - centre[1]) <= reach
    on = inside & ~placed.table[y, x]
    light = placed.strip.linear[y, x][on if on.sum() >= 6 else inside]
    light = light[np.argsort(light.mean(axis=1))]
    body = light[int(0.2 * len(light)) : max(int(0.9 * len(light)), int(0.2 * len(light)) + 1)]
    return np.asarray(np.log(np.maximum(body.mean(axis=0), 0) + DARK))
