"""What a planned piece takes, bead by bead: the roles of a count shared out among the beads of a plan."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from analyser.errors import PlanError
from analyser.motif.plan import Plan, PlannedBead, counts
from analyser.piece.counting import END_BEADS, BeadCount, cost_of
from analyser.stock.bead import Bead
from analyser.stock.holding import Held, hold
from analyser.stock.kinds import BeadKind, kind_of_bead


@dataclass(frozen=True, slots=True)
class PlannedNeed:
    """What a planned piece takes of one bead.

    Attributes
    ----------
    bead : PlannedBead
    kind : BeadKind
        Size, shape and beads to the gram.
    beads, low, high : int
        In the stitched tube; low and high over the range of rounds.
    with_spare : int
        To set aside for one piece.
    grams : float
        Weight to set aside, by the low end of beads per gram.
    held : Held or None
        What the stock holds of it; None where the plan names a colour, or no stock was given.
    """

    bead: PlannedBead
    kind: BeadKind
    beads: int
    low: int
    high: int
    with_spare: int
    grams: float
    held: Held | None


@dataclass(frozen=True, slots=True)
class PlannedCount:
    """What a planned piece takes.

    Attributes
    ----------
    plan : Plan
    count : BeadCount
        Of the piece by roles; its rounds and its thread are those of the planned piece.
    needs : tuple of PlannedNeed
        In the order of the motif's roles, then of the plan.
    """

    plan: Plan
    count: BeadCount
    needs: tuple[PlannedNeed, ...]

    @property
    def rise_mm(self) -> float:
        """What a round adds, by which stretches given in millimetres become rounds."""
        return rise_of(self.count)

    @property
    def enough(self) -> bool | None:
        """Whether the stock holds every bead; None where that is not known of one."""
        told = [need.held.enough if need.held else None for need in self.needs]
        return False if False in told else None if None in told else True


def count_plan(
    plan: Plan, count: BeadCount, lots: Mapping[str, Sequence[Bead]] | None = None
) -> PlannedCount:
    """Share out the beads of a count among the beads of a plan.

    Parameters
    ----------
    plan : Plan
    count : BeadCount
        Of the piece without the plan.
    lots : mapping of str to lots, optional
        All lots of each planned bead, by ``PlannedBead.key``; a key that is missing has none.

    Returns
    -------
    PlannedCount
        The beads of a role add up to those of the count in ``beads``; spare is taken on each bead.

    Raises
    ------
    PlanError
        If the plan names a role that the motif has not.
    """
    check_roles(plan, count.motif.name, count.motif.roles)
    rise = rise_of(count)
    asked = (count.rounds, count.rounds_low, count.rounds_high)
    of_rounds = {rounds: counts(plan, count.motif, rounds, rise) for rounds in dict.fromkeys(asked)}
    by_rounds = [of_rounds[rounds] for rounds in asked]
    kinds = [
        PlannedBead(role, text)
        for role in count.motif.roles
        for text in (None, *plan.texts(role))
        if any(PlannedBead(role, text) in of for of in by_rounds)
    ]
    numbers = {kind: [of.get(kind, 0) for of in by_rounds] for kind in kinds}
    aside = {kind.key: math.ceil(max(numbers[kind]) * (1.0 + count.spare) - 1e-9) for kind in kinds}
    given = {kind.key: tuple(lots[kind.key]) for kind in kinds if lots and lots.get(kind.key)}
    held = hold(aside, given, count.kits) if given else {}
    made = {
        kind.key: kind_of_bead(given[kind.key][0], count.kinds[kind.role].size)
        if kind.key in given
        else count.kinds[kind.role]
        for kind in kinds
    }
    return PlannedCount(
        plan,
        count,
        tuple(
            PlannedNeed(
                kind,
                made[kind.key],
                numbers[kind][0],
                min(numbers[kind]),
                max(numbers[kind]),
                aside[kind.key],
                aside[kind.key] / made[kind.key].per_gram[0],
                held.get(kind.key),
            )
            for kind in kinds
        ),
    )


def by_bead(planned: PlannedCount, lots: Mapping[str, Sequence[Bead]] | None = None) -> BeadCount:
    """The count of a planned piece with a line for each planned bead instead of each role.

    Parameters
    ----------
    planned : PlannedCount
    lots : mapping of str to lots, optional
        As of ``count_plan``; ``end`` for the two end beads.

    Returns
    -------
    BeadCount
        Its counts, grams, kinds and stock go by ``PlannedBead.key``, so that kits and cards are made bead by
        bead; rounds, lengths and thread are those of the piece.
    """
    count = planned.count
    aside = {need.bead.key: need.with_spare for need in planned.needs}
    given = {key: tuple(held) for key, held in (lots or {}).items() if key in aside or key == "end"}
    taken = {**aside, "end": END_BEADS} if "end" in given else aside
    held = hold(taken, given, count.kits) if given else None
    cost, currency = cost_of(taken, held)
    return replace(
        count,
        kinds={**count.kinds, **{need.bead.key: need.kind for need in planned.needs}},
        beads={need.bead.key: need.beads for need in planned.needs},
        low={need.bead.key: need.low for need in planned.needs},
        high={need.bead.key: need.high for need in planned.needs},
        with_spare=aside,
        grams={need.bead.key: need.grams for need in planned.needs},
        stock=held,
        cost=cost,
        currency=currency,
    )


def rise_of(count: BeadCount) -> float:
    """What a round adds in a counted piece, mm: its patterned length shared out among its rounds."""
    return count.lengths.patterned_mm / count.rounds if count.rounds else count.rise_mm[1]


def check_roles(plan: Plan, motif: str, roles: Sequence[str]) -> None:
    """Refuse a plan that names a role which a motif has not.

    Raises
    ------
    PlanError
        With the role and those that there are.
    """
    for role in plan.roles:
        if role not in roles:
            raise PlanError(f"the plan names the {role}; the motif {motif} has {', '.join(roles)}")
