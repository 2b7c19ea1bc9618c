"""A rope as one weaves it: round by round, in stringing order, like rounds told together.

The chart is made from the laid-out beads, so it holds exactly the beads that are counted.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import groupby, pairwise

import numpy as np

from analyser.motif.motif import Motif
from analyser.motif.planned_rope import PlannedRope


@dataclass(frozen=True, slots=True)
class ChartRow:
    """One round, or some like ones that follow each other.

    Attributes
    ----------
    part : str
        ``base``, ``pattern`` or ``closing``.
    first, last : int
        Rounds from 1; rows of the base and of the closing count from 1 by themselves.
    stitches : tuple of tuple of int
        For each stitch its beads in stringing order, as places in ``PlannedRope.kinds``.
    """

    part: str
    first: int
    last: int
    stitches: tuple[tuple[int, ...], ...]

    @property
    def times(self) -> int:
        """How often the round is woven."""
        return self.last - self.first + 1

    @property
    def runs(self) -> tuple[tuple[int, tuple[int, ...]], ...]:
        """Like stitches that follow each other: how many, and their beads."""
        return tuple((len(list(same)), beads) for beads, same in groupby(self.stitches))


def chart_rows(planned: PlannedRope, motif: Motif) -> tuple[ChartRow, ...]:
    """The chart of a planned rope.

    Parameters
    ----------
    planned : PlannedRope
    motif : Motif
        The one it was laid out with.

    Returns
    -------
    tuple of ChartRow
        From the base to the closing; every bead of the rope is in it once.
    """
    number = {bead.key: index for index, bead in enumerate(planned.kinds)}
    keys = [number[str(key)] for key in planned.beads.role]
    rounds = int(planned.beads.round.max(initial=0))
    rows = [
        *(("base", k + 1, row) for k, row in enumerate(motif.base)),
        *(("pattern", k + 1, motif.rounds[k % len(motif.rounds)]) for k in range(rounds)),
        *(("closing", k + 1, row) for k, row in enumerate(motif.closing)),
    ]
    found: list[ChartRow] = []
    at = 0
    for part, place, row in rows:
        sizes = [len(letters) for letters in row.beads]
        edges = np.cumsum([at, *sizes])
        stitches = tuple(tuple(keys[a:b]) for a, b in pairwise(edges))
        at = int(edges[-1])
        last = found[-1] if found else None
        if last and last.part == part and last.stitches == stitches:
            found[-1] = ChartRow(part, last.first, place, stitches)
        else:
            found.append(ChartRow(part, place, place, stitches))
    return tuple(found)
