"""Which odd spots of a rope are plain rounds, which single odd beads, and which bear no witness of a lot."""

from __future__ import annotations

from collections.abc import Sequence, Set
from dataclasses import dataclass

import numpy as np

from analyser.audit.strays import Stray, odd_spots, oddness, plain_rounds
from analyser.audit.unlike import unlike_spots
from analyser.rope.colours import RoleLook
from analyser.rope.refining import Refined

FURTHER_ROLE = 5
"""Beads of no role's colour from which they are a role of the motif that was not told apart, not strays."""


TWINS = 0.7
"""Bead diameters within which two spots are one bead."""

LEAST_ALONE = 0.0
"""Log odds from which a bead is told as odd by its repeats alone: likelier so than not."""


@dataclass(frozen=True, slots=True, eq=False)
class OddBeads:
    """What is odd about a rope's beads.

    Attributes
    ----------
    rounds, single : list of Stray
        Rounds without their accents, and beads.
    odd : list of Stray
        All odd beads, those of rounds too: they bear no witness of a role's colour.
    further : bool
        Whether a further role was missed: beads of no role are then none of ``single``.
    """

    rounds: list[Stray]
    single: list[Stray]
    odd: list[Stray]
    further: bool


def odd_beads(
    told: Refined, looks: Sequence[RoleLook], wide: Set[int], least_chance: float, *, planned: bool = False
) -> OddBeads:
    """The odd beads of a rope.

    Parameters
    ----------
    told : Refined
    looks : sequence of RoleLook
        Body first.
    wide : set of int
        Roles whose beads differ among themselves.
    least_chance : float
        That an odd place is a stray bead, from which it is told; 0..1.
    planned : bool
        Its colours change by a plan, so that places differ from their repeats as they should.
    """
    least = float(np.log(least_chance / (1 - least_chance)))
    odd = oddness(told.expected, told.first_expected, wide)
    spots = odd_spots(told.placed, told.expected, odd) if len(looks) > 1 else []
    if not planned:
        # What its roles tell of a bead by themselves goes before what its repeats do.
        repeats = unlike_spots(told.placed, told.expected, odd)
        alone = [spot for spot in repeats if spot.log_odds >= max(least, LEAST_ALONE)]
        spots = sorted(
            [*spots, *alone], key=lambda one: (one in alone or one.log_odds < least, -one.log_odds)
        )
    spots = each_once(spots, TWINS * told.placed.bead)
    rounds: list[Stray] = []
    single = spots
    for look in looks[1:]:
        plain, single = plain_rounds(told.placed, told.expected, single, look.index, looks[0].index)
        rounds += plain
    of_rounds = [stray for stray in spots if not any(stray is one for one in single)]
    single = [stray for stray in single if stray.log_odds >= least]
    further = sum(stray.becomes is None for stray in single) >= FURTHER_ROLE
    if further:
        single = [stray for stray in single if stray.becomes is not None]
    return OddBeads(rounds, single, [*of_rounds, *single], further)


def each_once(spots: Sequence[Stray], within: float) -> list[Stray]:
    """Spots in order along the rope, of those near enough to be one bead the first given."""
    kept: list[Stray] = []
    for spot in spots:
        if all(np.hypot(spot.column - one.column, spot.row - one.row) > within for one in kept):
            kept.append(spot)
    return sorted(kept, key=lambda one: one.column)
