"""Dye lots: one lot of each colour for a piece; a class shares its lots out kit by kit.

A second lot of the same colour is another colour. So a piece is only sure of the largest single lot, and
what is spread over several lots serves several kits, never one.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

from analyser.stock.bead import Bead

# Rounds of each mix, so that no border of it is seen as one; fewer where the piece or a lot is small. Common
# practice, no source.
_MIX_ROUNDS = 6


@dataclass(frozen=True, slots=True)
class Share:
    """What one lot gives to a class.

    Attributes
    ----------
    bead : Bead
        The lot.
    served : tuple of int
        Places of the needs it serves, in the order they were given.
    """

    bead: Bead
    served: tuple[int, ...]


def sure_beads(bead: Bead) -> int | None:
    """Beads a lot holds for sure, by the low end of beads per gram; None where its list does not say."""
    held = bead.amount()
    return None if held is None else held.low


def largest(lots: Sequence[Bead]) -> Bead:
    """The lot a piece is made from: the one that holds most for sure; of equals the first.

    A lot whose content the list does not say comes after those that hold a bead for sure, and before empty
    ones.
    """

    def sure_or_hoped(bead: Bead) -> float:
        sure = sure_beads(bead)
        return 0.5 if sure is None else sure

    return max(lots, key=sure_or_hoped)


def share_out(needs: Sequence[int], lots: Sequence[Bead]) -> tuple[Share, ...]:
    """Serve as many needs as can be, each from one lot.

    Parameters
    ----------
    needs : sequence of int
        Beads that each kit takes of this colour; a class has few different ones.
    lots : sequence of Bead
        Lots of unknown content serve none.

    Returns
    -------
    tuple of Share
        One for each lot that serves something. No other way of sharing serves more; of equals, fewer lots.
    """
    sizes = tuple(sorted({need for need in needs if need > 0}, reverse=True))
    wanted = tuple(sum(need == size for need in needs) for size in sizes)
    holds = tuple(sure_beads(bead) or 0 for bead in lots)

    @cache
    def best(lot: int, left: tuple[int, ...]) -> tuple[int, int, tuple[tuple[int, ...], ...]]:
        """Most kits served, fewest lots (negative), and what each lot from here on serves of each size."""
        if lot == len(holds) or not any(left):
            return 0, 0, ()
        found = None
        all_fits = holds[lot] >= sum(size * count for size, count in zip(sizes, left, strict=True))
        for taken in [left] if all_fits else _fitting(holds[lot], sizes, left):
            rest = tuple(a - b for a, b in zip(left, taken, strict=True))
            served, unused, plan = best(lot + 1, rest)
            option = (served + sum(taken), unused - bool(sum(taken)), (taken, *plan))
            if found is None or option[:2] > found[:2]:
                found = option
        assert found is not None  # taking nothing always fits
        return found

    plan = best(0, wanted)[2]
    waiting = {size: [i for i, need in enumerate(needs) if need == size] for size in sizes}
    shares = []
    for bead, taken in zip(lots, plan, strict=False):
        served = [
            waiting[size].pop(0) for size, count in zip(sizes, taken, strict=True) for _ in range(count)
        ]
        if served:
            shares.append(Share(bead, tuple(sorted(served))))
    return tuple(shares)


def _fitting(holds: int, sizes: tuple[int, ...], left: tuple[int, ...]) -> list[tuple[int, ...]]:
    """The ways to take kits from a lot that leave no room for one more of the last size; most kits first."""
    if not sizes:
        return [()]
    ways: list[tuple[int, ...]] = []
    for count in range(min(left[0], holds // sizes[0]), -1, -1):
        if len(sizes) == 1 and ways:
            break
        ways += [(count, *more) for more in _fitting(holds - count * sizes[0], sizes[1:], left[1:])]
    return ways


@dataclass(frozen=True, slots=True)
class Blend:
    """How to pass from one lot to the next within a piece so that no seam shows.

    Attributes
    ----------
    before : int
        Rounds of the first lot alone.
    step : int
        Rounds of each of the three mixes, 3:1, 1:1 and 1:3.
    after : int
        Rounds of the second lot alone.
    """

    before: int
    step: int
    after: int


@dataclass(frozen=True, slots=True)
class BlendedLots:
    """Two lots that make one piece where no single one does, and how to pass from one to the other."""

    blend: Blend
    first: Bead
    second: Bead


def blend(rounds: int, a_round: float, base: int, closing: int, first: int, second: int) -> Blend | None:
    """How two lots make one piece, None where they do not suffice or there is no room for the mixes.

    Parameters
    ----------
    rounds : int
        Rounds of the piece.
    a_round : float
        Beads of the colour in a round, above 0.
    base, closing : int
        Beads of the colour in base and closing, which take the first and the second lot.
    first, second : int
        Beads of each lot, what must be left over already taken off.
    """
    for each in range(min(_MIX_ROUNDS, rounds // 3), 0, -1):
        # The three mixes take as much of one lot as of the other: 0.75 + 0.5 + 0.25 = 1.5 of three.
        half = 1.5 * each
        before = min(math.floor((first - base) / a_round - half), rounds - 3 * each)
        after = rounds - 3 * each - before
        if before >= 0 and (after + half) * a_round + closing <= second:
            return Blend(before, each, after)
    return None
