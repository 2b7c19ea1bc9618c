"""A plan laid to the beads seen along a rope: which way round, how fast, and where it was not kept.

The stretches of a plan are matched to the beads in their order by dynamic programming. Each stretch may be
longer or shorter than planned, at a price that grows and then stays; it may show another of the role's
beads throughout, or a fade in the wrong order, at a price of its own. What costs least is how the rope was
woven; where it is not the plan's, the plan was not kept.

Sources
-------
Segmenting by dynamic programming: Bellman (1961), Comm. ACM 4(6), 284, doi:10.1145/366573.366611.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from analyser.arrays import FloatArray, IntArray
from analyser.motif.plan import Plan, Span, first_half, spans_of

BINS = 100
"""Parts of the seen length; a round of a rope is about one."""

ODD = 0.03
"""Share of beads that are told apart wrongly, or are none."""

LENGTH_COST = 6.0
"""Most that a stretch of another length costs, in natural logs of likelihood: two misread beads."""

WRONG_COST = 9.0
"""What a stretch in another of the role's beads costs."""

END_ROUNDS = 2.0
"""Longer for nothing at the rope's ends: base and closing belong to the seen length and to no stretch."""

SOFT = 0.2
"""By how much of a fade its ends may be off for nothing: they show by single beads."""

SPREAD_ROUNDS, SPREAD_SHARE = 0.8, 0.02
"""By how much a stretch may differ from its plan for nothing: hand work, and what lies between two beads."""

Key = tuple[str, str | None]
"""A role and the bead it takes, None where the plan says nothing."""


@dataclass(frozen=True, slots=True)
class Wanted:
    """What a plan wants along a part of a rope.

    Attributes
    ----------
    stretch : int
        Of the plan.
    rounds : float
        How many of them.
    before, after : mapping of role to str or None
        The bead of each role at its start and at its end; the same unless the role fades.
    jumps : bool
        From one to the other at once, somewhere in it: as it may show, never as it is wanted.
    """

    stretch: int
    rounds: float
    before: Mapping[str, str | None]
    after: Mapping[str, str | None]
    jumps: bool = False

    @property
    def fades(self) -> bool:
        """Whether any role fades in it."""
        return self.before != self.after

    def turned(self) -> Wanted:
        """Read from its other end."""
        return Wanted(self.stretch, self.rounds, self.after, self.before)


@dataclass(frozen=True, slots=True)
class Woven:
    """How a stretch was woven.

    Attributes
    ----------
    wanted : Wanted
    start, stop : float
        Fractions of the seen length; equal where it is missing.
    shown : Wanted
        What it shows: the same unless it was woven otherwise.
    off_rounds : float
        By how many rounds it is longer than planned; 0 at an end that is cut off by the picture.
    """

    wanted: Wanted
    start: float
    stop: float
    shown: Wanted
    off_rounds: float


def wanted_of(plan: Plan, roles: Sequence[str], rounds: int, rise_mm: float) -> list[Wanted]:
    """What a plan wants along so many rounds, from the base on, empty parts left out."""
    spans = spans_of(plan, rounds, rise_mm)
    half = first_half(plan, rounds)
    now: dict[str, str | None] = dict.fromkeys(roles)
    found: list[Wanted] = []
    for span in spans:
        if span.start >= half and plan.mirror:
            break
        stretch = plan.stretches[span.stretch]
        if not stretch.fade:
            now = {role: stretch.beads.get(role, now[role]) for role in roles}
        before = dict(now)
        if stretch.fade:
            now = {role: _target(plan, span).get(role, now[role]) for role in roles}
        if span.stop > span.start:
            found.append(Wanted(span.stretch, min(span.stop, half) - span.start, before, dict(now)))
    if plan.mirror:
        found += [one.turned() for one in reversed(found)]
    return _joined(found)


def _target(plan: Plan, span: Span) -> Mapping[str, str]:
    count = len(plan.stretches)
    following = (plan.stretches[(span.stretch + step) % count] for step in range(1, count + 1))
    return next((stretch.beads for stretch in following if not stretch.fade), {})


def _joined(parts: list[Wanted]) -> list[Wanted]:
    """Plain neighbours of the same beads as one: no border shows between them."""
    found: list[Wanted] = []
    for part in parts:
        last = found[-1] if found else None
        if last and last.before == last.after == part.before == part.after:
            found[-1] = Wanted(last.stretch, last.rounds + part.rounds, last.before, last.after)
        else:
            found.append(part)
    return found


def keys_of(wanted: Sequence[Wanted], roles: Sequence[str]) -> list[Key]:
    """Role and bead of all that a plan wants, in the order of their first place."""
    return list(
        dict.fromkeys(
            (role, beads[role]) for role in roles for one in wanted for beads in (one.before, one.after)
        )
    )


class Emissions:
    """What the beads of any run of bins cost under what a stretch shows, each worked out once."""

    def __init__(self, keys: Sequence[Key], counts: FloatArray) -> None:
        self.keys, self.counts = list(keys), counts
        roles = {role: float(counts[[key[0] == role for key in keys]].sum()) for role, _ in keys}
        total = max(sum(roles.values()), 1.0)
        self.weights = {role: beads / total for role, beads in roles.items()}
        self.known: dict[tuple[object, ...], FloatArray] = {}

    def of(self, shown: Wanted) -> FloatArray:
        """Cost of the bins from one edge to another, shape (bins + 1, bins + 1)."""
        name = (tuple(sorted(shown.before.items())), tuple(sorted(shown.after.items())), shown.jumps)
        if name not in self.known:
            if shown.jumps:
                self.known[name] = self._jumping(shown)
            else:
                self.known[name] = self._fading(shown) if shown.fades else self._plain(shown)
        return self.known[name]

    def _logs(self, shown: Wanted, share: FloatArray) -> FloatArray:
        """Log chance of each key where ``share`` of a fade's beads are those after, shape (keys, n)."""
        rows = []
        for role, bead in self.keys:
            mix = (shown.before[role] == bead) * (1 - share) + (shown.after[role] == bead) * share
            rows.append(np.log((1 - ODD) * self.weights[role] * mix + ODD / len(self.keys)))
        return np.asarray(rows)

    def _plain(self, shown: Wanted) -> FloatArray:
        logs = self._logs(shown, np.zeros(1))[:, 0]
        gone = np.concatenate([[0.0], np.cumsum(-(logs @ self.counts))])
        return np.asarray(gone[None, :] - gone[:, None])

    def _jumping(self, shown: Wanted) -> FloatArray:
        first, second = (
            self._plain(Wanted(shown.stretch, shown.rounds, beads, beads))
            for beads in (shown.before, shown.after)
        )
        edges = np.arange(len(first))
        costs = np.full_like(first, np.inf)
        for edge in edges.tolist():
            inside = (edges[:, None] <= edge) & (edges[None, :] >= edge)
            through = first[:, edge, None] + second[None, edge]
            costs = np.where(inside, np.minimum(costs, through), costs)
        return np.where(np.isfinite(costs), costs, 0.0)

    def _fading(self, shown: Wanted) -> FloatArray:
        bins = self.counts.shape[1]
        costs = np.zeros((bins + 1, bins + 1))
        for length in range(1, bins + 1):
            logs = self._logs(shown, (np.arange(length) + 0.5) / length)
            run = -sum(np.correlate(row, log, "valid") for row, log in zip(self.counts, logs, strict=True))
            starts = np.arange(bins - length + 1)
            costs[starts, starts + length] = run
        return costs


def _options(one: Wanted, keys: Sequence[Key]) -> list[Wanted]:
    """What a stretch may show: what the plan wants first, then another bead of one role, or a fade turned."""
    found = [one]
    if one.before != one.after:
        found.append(one.turned())
        found.append(Wanted(one.stretch, one.rounds, one.before, one.after, jumps=True))
        for beads in (one.before, one.after):
            found.append(Wanted(one.stretch, one.rounds, beads, beads))
        return found
    for role, bead in keys:
        if role in one.before and one.before[role] != bead:
            other = {**one.before, role: bead}
            found.append(Wanted(one.stretch, one.rounds, other, other))
    return found


def lay(
    wanted: Sequence[Wanted],
    emissions: Emissions,
    bins_a_round: float,
    *,
    open_ends: bool,
) -> tuple[float, list[Woven]]:
    """Match the stretches of a plan to beads, in this order and at this scale.

    Parameters
    ----------
    wanted : sequence of Wanted
        As they follow from the first bin on.
    emissions : Emissions
    bins_a_round : float
    open_ends : bool
        The picture may begin and end with any of them, and within it.

    Returns
    -------
    cost : float
    woven : list of Woven
    """
    bins = emissions.counts.shape[1]
    length = (np.arange(bins + 1)[None, :] - np.arange(bins + 1)[:, None]).astype(float)
    best = np.full(bins + 1, np.inf)
    best[0] = 0.0
    end = (np.inf, -1)
    trail: list[IntArray] = []
    options = [_options(one, emissions.keys) for one in wanted]
    for number in range(len(wanted)):
        here = np.min(
            [
                emissions.of(option) + (WRONG_COST if place else 0.0)
                for place, option in enumerate(options[number])
            ],
            axis=0,
        )
        reach = best[:, None] + here + _length_cost(wanted, number, length, bins_a_round, open_ends)
        reach[length < 0] = np.inf
        trail.append(reach.argmin(axis=0))
        best = reach.min(axis=0)
        if best[-1] < end[0] and (open_ends or number == len(wanted) - 1):
            end = float(best[-1]), number
        if open_ends:
            best[0] = 0.0
    return end[0], _traced(wanted, options, trail, end[1], emissions, bins_a_round, open_ends)


def _length_cost(
    wanted: Sequence[Wanted], number: int, length: FloatArray, bins_a_round: float, open_ends: bool
) -> FloatArray:
    one, count = wanted[number], len(wanted)
    beside = wanted[max(number - 1, 0) : number + 2]
    soft = SOFT * max(part.rounds if part.fades else 0.0 for part in beside)
    off = length / bins_a_round - one.rounds
    if number in (0, count - 1):
        off = off - np.clip(off, 0.0, END_ROUNDS)
    spread = SPREAD_ROUNDS + SPREAD_SHARE * one.rounds + soft
    cost = np.minimum(0.5 * (off / spread) ** 2, LENGTH_COST)
    if open_ends:
        cut = np.where(off < 0, 0.0, cost)
        cost[0], cost[:, -1] = cut[0], cut[:, -1]
    return np.asarray(cost)


def _traced(
    wanted: Sequence[Wanted],
    options: list[list[Wanted]],
    trail: list[IntArray],
    last: int,
    emissions: Emissions,
    bins_a_round: float,
    open_ends: bool,
) -> list[Woven]:
    bins = emissions.counts.shape[1]
    found: list[Woven] = []
    stop = bins
    for number in range(last, -1, -1):
        start = int(trail[number][stop])
        one = wanted[number]
        costs = [
            emissions.of(option)[start, stop] + (WRONG_COST if place else 0.0)
            for place, option in enumerate(options[number])
        ]
        off = (stop - start) / bins_a_round - one.rounds
        if number in (0, len(wanted) - 1):
            off -= float(np.clip(off, 0.0, END_ROUNDS))
        if open_ends and (start == 0 or stop == bins):
            off = max(off, 0.0)
        found.append(Woven(one, start / bins, stop / bins, options[number][int(np.argmin(costs))], off))
        stop = start
        if open_ends and start == 0:
            break
    return found[::-1]
