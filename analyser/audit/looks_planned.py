"""A course of colours that looks planned, where no plan was told: bands, a middle, a fade.

Of three colours of beads two may take turns along the rope. Their beads are cut into stretches of one or the
other, and of fades between them, at a price for each stretch; what costs least tells whether there is a
course, and which. A single change is one only where no two lots of a bead differ so much.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations
from typing import Literal

import numpy as np

from analyser.arrays import IntArray
from analyser.audit.plan_course import BINS, Emissions, Wanted
from analyser.audit.planned import read_beads
from analyser.audit.told_plan import ToldPlan
from analyser.colour.difference import delta_e_2000
from analyser.colour.spaces import linear_to_lab
from analyser.errors import PhotoError
from analyser.motif.plan import Plan, Stretch
from analyser.rope.placing import Placed, place

FIRST, SECOND = "first", "second"
"""What the two beads are called, for want of their names."""

STRETCH_COST = 4.0
"""What each stretch must gain, in natural logs of likelihood: a bead and a half."""

SHORTEST = 0.04
"""Least share of the length that a band has: accents that take turns round by round are a motif."""

PURE = 0.93
"""Share of the two colours' beads that must lie in stretches of their own colour, or in fades."""

CLEARER = 12.0
"""By how much a course must be likelier than three colours all along."""

_PAIRS = tuple(combinations(range(3), 2))

LEAST_BEADS = 8

BANDS_APART, MIDDLE_APART, CHANGE_APART = 5.0, 8.0, 12.0
"""CIEDE2000 between the two from which bands and fades, a middle, and a single change are no lots: two of
one bead may be 7 apart."""

REGULAR = 0.3
"""How far the lengths of bands may lie apart, as their spread over their mean."""

FADES = 0.1
"""Least length of a fade."""


@dataclass(frozen=True, slots=True)
class LooksPlanned:
    """A course that looks planned.

    Attributes
    ----------
    kind : ``fade``, ``bands``, ``middle`` or ``change``
    role : str
    start, stop : float
        Of the fade, of the middle, of what lies behind the change, as fractions of the length; of bands 0, 1.
    bands : int
        How many there are.
    """

    kind: Literal["fade", "bands", "middle", "change"]
    role: str
    start: float
    stop: float
    bands: int = 0


@dataclass(frozen=True, slots=True)
class _Piece:
    """A run of bins, from edge to edge, and what it shows: first, second, or a fade between."""

    start: int
    stop: int
    before: str
    after: str


def looks_planned(placed: Placed) -> tuple[LooksPlanned, ToldPlan, Placed] | None:
    """A course of two colours that take turns along the rope, or None.

    Parameters
    ----------
    placed : Placed
        As it was placed without a plan.

    Returns
    -------
    LooksPlanned, ToldPlan, Placed
        What it looks like, as a plan, and the rope placed with its three colours.
    """
    tried = placed
    if len(placed.model.means) != 3:
        try:
            tried = place(placed.strip, told=3)
        except PhotoError:
            return None
    if len(tried.model.means) != 3:
        return None
    cut = [_stretches(_counts(tried, pair)) for pair in _PAIRS]
    cost, best = min((cost, number) for number, (cost, _) in enumerate(cut))
    if cost > _mixed_cost(_counts(tried, _PAIRS[0])) - CLEARER:
        return None
    pieces = cut[best][1]
    look = _course(tried, _PAIRS[best], pieces)
    return None if look is None else (look, _plan(look, pieces), tried)


def _plan(look: LooksPlanned, pieces: list[_Piece]) -> ToldPlan:
    stretches = []
    for one in pieces:
        share = (one.stop - one.start) / BINS
        fade = one.before != one.after
        stretches.append(Stretch({} if fade else {look.role: one.before}, share=share, fade=fade))
        if fade:
            # A fade goes to the stretch after it; where there is none, to one of no length.
            stretches.append(Stretch({look.role: one.after}, share=0.0))
    if pieces[0].before != pieces[0].after:
        stretches.insert(0, Stretch({look.role: pieces[0].before}, share=0.0))
    return ToldPlan(Plan(tuple(stretches)), roles=("body", "accent"), guessed=True)


def _mixed_cost(counts: IntArray) -> float:
    """What the beads cost where all colours come back all along, as in a motif."""
    total = counts.sum(axis=1).astype(float)
    return float(-(total * np.log(np.maximum(total, 1e-9) / max(total.sum(), 1.0))).sum())


def _counts(placed: Placed, pair: tuple[int, int]) -> IntArray:
    """Beads of the first, the second and the third colour in each bin, shape (3, BINS)."""
    order = [*pair, *(role for role in range(3) if role not in pair)]
    kept = read_beads(placed)
    at = placed.strip.fraction(placed.beads.column[kept])
    place_ = np.minimum((at * BINS).astype(int), BINS - 1)
    counts = np.zeros((3, BINS), np.intp)
    np.add.at(counts, (np.argsort(order)[placed.beads.role[kept]], place_), 1)
    return counts


def _stretches(counts: IntArray) -> tuple[float, list[_Piece]]:
    """The cheapest cut of the rope into stretches of one colour, of the other, and of fades; its cost."""
    keys = (("pair", FIRST), ("pair", SECOND), ("rest", None))
    emissions = Emissions(keys, counts.astype(float))
    ways = [(FIRST, FIRST), (SECOND, SECOND), (FIRST, SECOND), (SECOND, FIRST)]
    costs = []
    length = np.arange(BINS + 1)[None, :] - np.arange(BINS + 1)[:, None]
    for before, after in ways:
        shown = Wanted(0, 0.0, {"pair": before, "rest": None}, {"pair": after, "rest": None})
        least = SHORTEST if before == after else FADES
        costs.append(np.where(length >= least * BINS, emissions.of(shown), np.inf))
    stack = np.array(costs)
    best, came = np.full((4, BINS + 1), np.inf), np.zeros((4, BINS + 1, 2), int)
    for stop in range(1, BINS + 1):
        for way, (before, after) in enumerate(ways):
            for last, (_, ended) in enumerate(ways):
                if before == after and ended == before and ways[last][0] == ended:
                    continue  # two stretches of one colour are one
                if (before != after or ways[last][0] != ended) and ended != before:
                    continue  # a fade begins with the colour before it, and ends with the one after
                reach = best[last, :stop] + stack[way, :stop, stop] + STRETCH_COST
                start = int(reach.argmin())
                if reach[start] < best[way, stop]:
                    best[way, stop], came[way, stop] = reach[start], (start, last)
            if stack[way, 0, stop] < best[way, stop]:
                best[way, stop], came[way, stop] = stack[way, 0, stop], (0, -1)
    way, stop = int(best[:, BINS].argmin()), BINS
    found: list[_Piece] = []
    while way >= 0 and stop > 0:
        start, last = (int(value) for value in came[way, stop])
        found.append(_Piece(start, stop, *ways[way]))
        way, stop = last, start
    return float(best[:, BINS].min()), found[::-1]


def _course(placed: Placed, pair: tuple[int, int], pieces: list[_Piece]) -> LooksPlanned | None:
    counts = _counts(placed, pair)
    fades = [one for one in pieces if one.before != one.after]
    if (len(pieces) < 2 and not fades) or counts[:2].sum(axis=1).min() < LEAST_BEADS:
        return None
    pure = 0
    for one in pieces:
        inside = counts[:2, one.start : one.stop]
        pure += inside.sum() if one.before != one.after else inside[int(one.before == SECOND)].sum()
    if pure < PURE * counts[:2].sum():
        return None
    apart = _apart(placed, pair)
    role = "accent" if counts[2].sum() > counts[:2].sum() else "body"
    if fades and apart >= BANDS_APART:
        return LooksPlanned("fade", role, fades[0].start / BINS, fades[-1].stop / BINS)
    inner = np.array([one.stop - one.start for one in pieces[1:-1]])
    if len(pieces) >= 4 and apart >= BANDS_APART and inner.std() < REGULAR * inner.mean():
        return LooksPlanned("bands", role, 0.0, 1.0, len(pieces))
    if len(pieces) == 3 and not fades and apart >= MIDDLE_APART:
        return LooksPlanned("middle", role, pieces[1].start / BINS, pieces[1].stop / BINS)
    if len(pieces) == 2 and not fades and apart >= CHANGE_APART:
        return LooksPlanned("change", role, pieces[1].start / BINS, 1.0)
    return None


def _apart(placed: Placed, pair: tuple[int, int]) -> float:
    """CIEDE2000 between the beads of two roles."""
    beads = placed.beads
    labs = [linear_to_lab(np.median(beads.linear[beads.role == role], axis=0)) for role in pair]
    return float(delta_e_2000(labs[0], labs[1]))
