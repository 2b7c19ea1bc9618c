"""Which way and how fast a plan runs along a rope, and which beads are which: the best of all readings."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from itertools import permutations
from types import MappingProxyType
from typing import Literal

import numpy as np

from analyser.arrays import FloatArray, IntArray
from analyser.audit.plan_course import BINS, Emissions, Key, Wanted, Woven, keys_of, lay, wanted_of
from analyser.colour.difference import delta_e_2000
from analyser.colour.spaces import linear_to_lab
from analyser.motif.plan import Plan

TURNED_COST = 12.0
"""What reading a plan from the end that looks like the closing costs, in natural logs of likelihood."""

BORDER_BINS = 50
"""Bins of the first, coarse search."""

MISFIT_DE00, MOST_MISFIT = 5.0, 30.0
"""CIEDE2000 by which a bead may look other than its plan's in a light common to all of them, and the most
that one that does not fit costs. Woven, a bead looks 1 to 5 from its stock colour."""

LEAST_READ = 10
"""Beads of a colour from which it is told apart; a speck of light or two are none."""

DENSE = 0.7
"""Share of a bead's usual number in a stretch from which the stretch is in that bead."""

DARK = 0.004
"""Linear light added before two are compared: what gloss and lens lend to the darkest bead."""

SEEN_SHARES = 1.0, 0.8, 0.65, 0.5, 0.35
"""Shares of the rope that a picture may show which cuts it off."""


@dataclass(frozen=True, slots=True, eq=False)
class Seen:
    """Beads along a rope, told apart by colour.

    Attributes
    ----------
    at : ndarray, shape (n,)
        Fraction of the seen length.
    kind : ndarray of int, shape (n,)
        Class of each.
    unlike : tuple of mapping of Key to float
        For each class the CIEDE2000 from it to each bead of the plan whose colour is known.
    linear : ndarray, shape (k, 3), optional
        Mean linear light of each class.
    told : mapping of Key to ndarray, shape (3,)
        Linear light of each bead of the plan whose colour is known.
    """

    at: FloatArray
    kind: IntArray
    unlike: tuple[Mapping[Key, float], ...]
    linear: FloatArray | None = None
    told: Mapping[Key, FloatArray] = field(default_factory=lambda: MappingProxyType({}))

    def misfit(self, chosen: Sequence[Key]) -> float:
        """What classes cost that do not look like their beads even in a light of their own.

        Any light multiplies all of them alike; what is left are other beads.
        """
        known = [number for number, key in enumerate(chosen) if key in self.told]
        if self.linear is None or len(known) < 2:
            return 0.0
        told = np.array([self.told[chosen[number]] for number in known])
        ratio = np.log(self.linear[known] + DARK) - np.log(told + DARK)
        lit = (told + DARK) * np.exp(ratio.mean(axis=0))
        off = delta_e_2000(linear_to_lab(self.linear[known] + DARK), linear_to_lab(lit))
        return float(np.minimum(0.5 * (off / MISFIT_DE00) ** 2, MOST_MISFIT).sum())

    def binned(self, bins: int) -> FloatArray:
        """How many beads of each class lie in each bin, shape (classes, bins)."""
        place = np.minimum((self.at * bins).astype(int), bins - 1)
        counts = np.zeros((len(self.unlike), bins))
        np.add.at(counts, (self.kind, place), 1.0)
        return counts


@dataclass(frozen=True, slots=True)
class Scale:
    """What is known of the rope's size and way.

    Attributes
    ----------
    rounds : tuple of float
        Numbers of rounds that the seen length may have.
    rise_mm : float
        A round's, for stretches in millimetres.
    cut : bool
        The picture cuts the rope off.
    base : ``first``, ``last`` or None
        The end at which the plan begins, as far as it is seen.
    told : bool
        The maker said so.
    known : bool
        Rounds can be told, from the motif or from the plan's own.
    """

    rounds: tuple[float, ...]
    rise_mm: float
    cut: bool = False
    base: Literal["first", "last"] | None = None
    told: bool = False
    known: bool = True


@dataclass(frozen=True, slots=True)
class Laid:
    """A plan laid to a rope.

    Attributes
    ----------
    woven : tuple of Woven
        From the rope's first end to its last, each stretch read in the way of the plan.
    turned : bool
        The plan begins at the rope's last end.
    rounds : float
        Of the seen length.
    cost : float
        Of all beads, in natural logs of likelihood; less is better.
    classes : tuple of Key
        What each class of beads stands for.
    counts : ndarray, shape (classes, BINS)
        Beads of each along the rope.
    """

    woven: tuple[Woven, ...]
    turned: bool
    rounds: float
    cost: float
    classes: tuple[Key, ...]
    counts: FloatArray = field(compare=False)

    @property
    def unread(self) -> frozenset[Key]:
        """Beads of the plan that are not told apart from the others in this rope."""
        wanted = {
            key
            for one in self.woven
            for beads in (one.wanted.before, one.wanted.after)
            for key in beads.items()
        }
        seen = self.counts.sum(axis=1) >= LEAST_READ
        return frozenset(
            wanted - {key for key, enough in zip(self.classes, seen.tolist(), strict=True) if enough}
        )

    def wants_unread(self, one: Woven) -> bool:
        """Whether a stretch wants a bead that is not told apart."""
        wanted = one.wanted
        return any(key in self.unread for beads in (wanted.before, wanted.after) for key in beads.items())

    def fills(self, one: Woven, key: Key) -> bool:
        """Whether a bead is as dense in a stretch as where it belongs, not just scattered in it."""
        if key not in self.classes:
            return False
        beads = self.counts[self.classes.index(key)]

        def dense(parts: list[Woven]) -> float:
            bins = [slice(round(part.start * BINS), round(part.stop * BINS)) for part in parts]
            return float(sum(beads[part].sum() for part in bins)) / max(
                sum(part.stop - part.start for part in bins), 1
            )

        role, bead = key
        own = [
            part
            for part in self.woven
            if part.shown == part.wanted and part.wanted.before[role] == part.wanted.after[role] == bead
        ]
        return not own or dense([one]) >= DENSE * dense(own)

    @property
    def off(self) -> float:
        """Rounds by which stretches are longer or shorter than planned, over all rounds."""
        return sum(abs(one.off_rounds) for one in self.woven) / max(self.rounds, 1.0)


@dataclass(frozen=True, slots=True)
class _Way:
    """One way to read a plan: how many rounds are seen and of how many, from which end."""

    rounds: float
    whole: float
    turned: bool


def lay_plan(plan: Plan, seen: Seen, roles: Sequence[str], scale: Scale) -> Laid | None:
    """Lay a plan to the beads of a rope.

    Parameters
    ----------
    plan : Plan
    seen : Seen
    roles : sequence of str
        Of the rope's motif.
    scale : Scale

    Returns
    -------
    Laid or None
        None where the classes are more than the roles and beads of the plan together.
    """
    ways = [
        _Way(rounds, rounds / share, turned)
        for rounds in scale.rounds
        for share in (SEEN_SHARES if scale.cut else (1.0,))
        for turned in (False, True)
        if not (scale.told and scale.base is not None and turned != (scale.base == "last"))
    ]
    open_ends = plan.repeat or scale.cut
    wanted = {way: _wanted(plan, way, roles, scale.rise_mm, open_ends) for way in ways}
    keys = keys_of([one for parts in wanted.values() for one in parts], roles)
    classes = len(seen.unlike)
    if not 0 < classes <= len(keys):
        return None
    best: tuple[float, _Way, tuple[Key, ...]] | None = None
    coarse = seen.binned(BORDER_BINS)
    for chosen in permutations(keys, classes):
        emissions = Emissions(chosen, coarse)
        alike = _unlikeness(seen, chosen)
        for way in ways:
            cost = lay(wanted[way], emissions, BORDER_BINS / way.rounds, open_ends=open_ends)[0]
            cost += alike + _turning(scale, way)
            if best is None or cost < best[0] - 1e-9:
                best = cost, way, chosen
    if best is None:
        return None
    _, way, chosen = best
    emissions = Emissions(chosen, seen.binned(BINS))
    laid = []
    for rounds in _finer(way.rounds, scale.rounds):
        finer = _Way(rounds, way.whole * rounds / way.rounds, way.turned)
        parts = _wanted(plan, finer, roles, scale.rise_mm, open_ends)
        cost, woven = lay(parts, emissions, BINS / rounds, open_ends=open_ends)
        total = cost + _unlikeness(seen, chosen) + _turning(scale, way)
        laid.append(Laid(tuple(woven), way.turned, rounds, total, chosen, emissions.counts))
    return min(laid, key=lambda one: one.cost)


def nominal(plan: Plan, roles: Sequence[str], scale: Scale) -> list[list[Woven]]:
    """Where the stretches lie if all is as planned, read either way; none where that hangs on the scale."""
    if plan.repeat or scale.cut:
        return []
    found = []
    for turned in (False, True):
        rounds = scale.rounds[len(scale.rounds) // 2]
        parts = _wanted(plan, _Way(rounds, rounds, turned), roles, scale.rise_mm, open_ends=False)
        ends = np.cumsum([0.0, *(one.rounds for one in parts)])
        ends /= max(float(ends[-1]), 1e-9)
        found.append(
            [
                Woven(one, start, stop, one, 0.0)
                for one, start, stop in zip(parts, ends[:-1].tolist(), ends[1:].tolist(), strict=True)
            ]
        )
    return found


def _wanted(plan: Plan, way: _Way, roles: Sequence[str], rise_mm: float, open_ends: bool) -> list[Wanted]:
    rounds = way.whole
    if plan.repeat:
        # Another turn of the stretches: the picture may begin within any of them.
        rounds += sum(stretch.rounds or 0 for stretch in plan.stretches)
        rounds += sum((stretch.length_mm or 0.0) / rise_mm for stretch in plan.stretches)
    parts = wanted_of(plan, roles, max(1, round(rounds)), rise_mm)
    return [one.turned() for one in reversed(parts)] if way.turned else parts


def _finer(rounds: float, tried: Sequence[float]) -> list[float]:
    """Numbers of rounds round the best one, where several were tried."""
    if len(tried) < 2:
        return [rounds]
    step = abs(np.log(tried[1] / tried[0]))
    return [float(rounds * np.exp(part * step)) for part in (-0.5, -0.25, 0.0, 0.25, 0.5)]


def _turning(scale: Scale, way: _Way) -> float:
    return TURNED_COST if scale.base is not None and way.turned != (scale.base == "last") else 0.0


def _unlikeness(seen: Seen, chosen: Sequence[Key]) -> float:
    """What classes cost that do not look like their beads; a photo's light may put all of them off."""
    pairs = zip(seen.unlike, chosen, strict=True)
    alone = sum(min(unlike.get(key, 0.0) / 5.0, 8.0) for unlike, key in pairs)
    return alone + seen.misfit(chosen)
