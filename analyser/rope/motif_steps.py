"""The steps of a known motif: shifts along the rope and turns round it that put it onto itself.

A step is a screw: so many rounds along and so many degrees round. Rounds are what the stitch fixes; how long
a round is, tension decides, so it is kept apart from them.

A screw keeps its hand when the rope is turned end for end, so steps hold whichever end a strip starts at;
only a maker who works the other way round makes the mirrored ones.

Sources
-------
The steps follow from where the motif puts its beads. That a round's length varies by 20 % from hand to hand
is common practice, no single source.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from analyser.arrays import BoolArray, FloatArray
from analyser.motif.motif import Motif

MOST_STEPS = 12

HANDS = 0.2
"""A round may be this share shorter or longer than the motif's likely one."""

SEEN_WIDER = 1.12
"""A tube is seen narrower than its outermost beads reach, 0.88 on drawn chenille: steps look longer."""

NEAR = 0.5
"""Bead diameters within which a shift is a predicted step: hand work, twist and turning beads move it."""

_SAME = 1e-6  # rounds and turns: places are sums of exact fractions


@dataclass(frozen=True, slots=True, eq=False)
class MotifSteps:
    """Steps that put a motif onto itself with all its roles, nearest on the tube's surface first.

    Attributes
    ----------
    rounds : ndarray, shape (m,)
        Along the rope, at least 0; parts of a round where a spiral climbs bead by bead.
    degrees : ndarray, shape (m,)
        Round the tube, above -180 to 180; above 0 where ``rounds`` is 0. Positive is anticlockwise seen from
        the end ahead: towards growing rows of a strip.
    diameters_a_round : float
        Bead diameters that a round likely adds.
    low, high : float
        Between these it lies.
    bead_of_radius : float
        Bead diameter over the radius of the whole tube, for the measure of ``shifts`` in a picture.
    """

    rounds: FloatArray
    degrees: FloatArray
    diameters_a_round: float
    low: float
    high: float
    bead_of_radius: float

    def shifts(self, diameters_a_round: float | None = None, *, mirrored: bool = False) -> FloatArray:
        """The steps as bead diameters along and degrees round, shape (m, 2).

        Parameters
        ----------
        diameters_a_round : float, optional
            What a round adds to this rope; the likely value if left out.
        mirrored : bool
            For a rope worked the other way round.
        """
        round_ = self.diameters_a_round if diameters_a_round is None else diameters_a_round
        turned = mirrored & (self.rounds > 0) & (self.degrees < 180)
        return np.column_stack([self.rounds * round_, np.where(turned, -self.degrees, self.degrees)])

    def predicts(self, shifts: FloatArray, alike: FloatArray) -> BoolArray:
        """Which shifts seen in a picture are steps of the motif, at the rise and hand that fit most of them.

        Parameters
        ----------
        shifts : ndarray, shape (n, 2)
            Tube radii along the rope, and round it in radians.
        alike : ndarray, shape (n,)
            How alike the picture is to itself at each, 0..1.

        Returns
        -------
        bool ndarray, shape (n,)
            All False where none fits.
        """
        best, fitting = 0.0, np.zeros(len(shifts), bool)
        for round_ in np.linspace(self.low, SEEN_WIDER * self.high, 33):
            for mirrored in (False, True):
                steps = self.shifts(float(round_), mirrored=mirrored)
                along = steps[:, 0] * self.bead_of_radius
                # Bead middles lie inside the outline, so they are seen to turn by less.
                turn = np.deg2rad(steps[:, 1]) * (1 - self.bead_of_radius / 2)
                off = np.hypot(shifts[:, None, 0] - along, shifts[:, None, 1] - turn).min(axis=1)
                near = off < NEAR * self.bead_of_radius
                if alike[near].sum() > best:
                    best, fitting = float(alike[near].sum()), near
        return fitting


def motif_steps(motif: Motif, *, reach: float = 14.0) -> MotifSteps:
    """The steps of a motif's pattern, its base and closing left out.

    Parameters
    ----------
    motif : Motif
    reach : float
        Longest step along the rope, in bead diameters at the likely rise.

    Returns
    -------
    MotifSteps
        At most ``MOST_STEPS``; none if the motif repeats after more than ``reach``.
    """
    diameter, length = motif.bead_mm
    low, likely, high = (rise / diameter for rise in motif.rise.mm(diameter, length))
    radius = motif.outer_diameters / 2
    rounds, degrees = _screws(motif, reach / likely)
    distance = np.hypot(rounds * likely, np.deg2rad(degrees) * radius)
    # Of two that are equally near the one that turns forwards: rounding makes ties equal.
    nearest = np.lexsort((-degrees, np.round(distance, 6)))[:MOST_STEPS]
    return MotifSteps(
        rounds[nearest],
        degrees[nearest],
        likely,
        min(low, (1 - HANDS) * likely),
        max(high, (1 + HANDS) * likely),
        1 / radius,
    )


def _screws(motif: Motif, most_rounds: float) -> tuple[FloatArray, FloatArray]:
    """All steps up to ``most_rounds``, unordered: rounds and degrees."""
    repeat = motif.repeat_rounds
    # Loops hang a few rounds below their own, so whole repeats are left free at both ends.
    spare = repeat * math.ceil(4 / repeat)
    beads = motif.rope(2 * spare + repeat + math.ceil(most_rounds), rise=1.0)
    pattern = beads.part == "pattern"
    places = np.column_stack([beads.along_beads, beads.out])[pattern]
    turns, role = beads.angle_turns[pattern], np.unique(beads.role[pattern], return_inverse=True)[1]
    number = beads.round[pattern] - 1
    one = np.flatnonzero((number >= spare) & (number < spare + repeat))
    start = one[role[one] == np.argmin(np.bincount(role[one]))][0]
    ahead = places[:, 0] - places[start, 0]
    alike = (role == role[start]) & (np.abs(places[:, 1] - places[start, 1]) < _SAME)
    found = set()
    for end in np.flatnonzero(alike & (ahead > -_SAME) & (ahead < most_rounds + _SAME)):
        step, turn = places[end] - places[start], turns[end] - turns[start]
        off = np.abs(places[None] - places[one][:, None] - step).max(axis=-1)
        round_ = np.mod(turns[None] - turns[one][:, None] - turn + 0.5, 1.0) - 0.5
        meets = (off < _SAME) & (np.abs(round_) < _SAME) & (role[None] == role[one][:, None])
        if meets.any(axis=1).all():
            found.add((max(round(float(step[0]), 9), 0.0), _degrees(float(turn))))
    screws = np.array(sorted(found), float).reshape(-1, 2)
    forwards = (screws[:, 0] > 0) | (screws[:, 1] > 0)
    return screws[forwards, 0], screws[forwards, 1]


def _degrees(turns: float) -> float:
    """Above -180 to 180."""
    degrees = round(360.0 * (turns % 1.0), 6)
    return degrees - 360.0 if degrees > 180.0 else degrees
