"""Series of owned beads that step evenly from one colour to another, for fades.

Beads are ordered by how far along the straight course between the two colours (in Lab) they lie; a series
only goes forward. Of all series of so many beads the one of least cost is found, exactly: the sum of its
squared steps, which is least where the steps are like, and the squares of what its ends are off, which weigh
more, because a fade that starts from another colour is another fade.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from analyser.arrays import FloatArray
from analyser.colour.difference import delta_e_2000
from analyser.colourway.reasons import SHINE_APART, shine
from analyser.stock.bead import Bead
from analyser.stock.lots import sure_beads

OFF_COURSE_DE00 = 12.0
"""A bead farther than this from the course is no step on it: a shift to another hue, not a stage of the fade
(our choice; two colours told apart at a glance differ by 10, see ``further.APART_DE00``)."""
TRIED = 800
"""Of a larger list, so many beads are tried: those nearest to the course."""
END_WEIGHS = 16.0
"""An end that is off by 1 weighs as a step longer by 4 (our choice: an end is seen beside the photo)."""
_LEAST_COURSE = 1e-6


@dataclass(frozen=True, slots=True)
class BeadSeries:
    """Beads from one colour to another.

    Attributes
    ----------
    beads : tuple of Bead
        In order, two or more.
    steps_de00 : tuple of float
        CIEDE2000 from each to the next.
    ends_de00 : (float, float)
        CIEDE2000 from the first bead to the first colour, and from the last to the last.
    enough : bool or None
        Whether a lot of each holds what was needed for sure; None where a quantity is not in the list, or
        nothing was counted.
    """

    beads: tuple[Bead, ...]
    steps_de00: tuple[float, ...]
    ends_de00: tuple[float, float]
    enough: bool | None

    @property
    def cost(self) -> float:
        """What is least in the best series."""
        return float(np.square(self.steps_de00).sum() + END_WEIGHS * np.square(self.ends_de00).sum())

    @property
    def unevenness(self) -> float:
        """The largest step in parts of the mean one: 1 where all are like."""
        return max(self.steps_de00) / max(float(np.mean(self.steps_de00)), 1e-9)


class FadeCourse:
    """The way from one colour to another, and the beads on it.

    Parameters
    ----------
    start, stop : array_like, shape (3,)
        Lab (D65).
    beads : sequence of Bead
        Of one size; each with a colour, one lot a bead.
    """

    def __init__(self, start: npt.ArrayLike, stop: npt.ArrayLike, beads: Sequence[Bead]) -> None:
        first, last = np.asarray(start, dtype=np.float64), np.asarray(stop, dtype=np.float64)
        labs = np.array([bead.lab for bead in beads], dtype=np.float64).reshape(-1, 3)
        way = last - first
        along = (labs - first) @ way / max(float(way @ way), _LEAST_COURSE)
        off = delta_e_2000(labs, first + np.clip(along, 0.0, 1.0)[:, None] * way)
        near = np.flatnonzero(off <= OFF_COURSE_DE00)
        near = near[np.argsort(off[near], kind="stable")[:TRIED]]
        near = near[np.argsort(along[near], kind="stable")]
        self.beads = tuple(beads[int(index)] for index in near)
        self._start_de00 = delta_e_2000(labs[near], first)
        self._stop_de00 = delta_e_2000(labs[near], last)
        self._steps = delta_e_2000(labs[near][:, None], labs[near][None])
        shines = np.array([shine(bead) for bead in self.beads])
        forward = along[near][:, None] < along[near][None]
        goes = forward & (np.abs(shines[:, None] - shines[None]) < SHINE_APART)
        self._squares = np.where(goes, np.square(self._steps), np.inf)

    def best(self, count: int, needs: Sequence[int] | None = None) -> BeadSeries | None:
        """The series of least cost; None where there is none.

        Parameters
        ----------
        count : int
            Beads in it, 2 or more.
        needs : sequence of int, optional
            Beads that each place takes: a lot that is sure to hold fewer is no choice for it.

        Raises
        ------
        ValueError
            If ``count`` is below 2, or ``needs`` of another length.
        """
        if count < 2 or (needs is not None and len(needs) != count):
            raise ValueError(f"a series has 2 beads or more, and a need for each; got {count}, {needs}")
        if not self.beads:
            return None
        cost = END_WEIGHS * np.square(self._start_de00) + self._barred(needs, 0)
        came_from = []
        for place in range(1, count):
            reached = cost[:, None] + self._squares
            came_from.append(np.argmin(reached, axis=0))
            cost = reached.min(axis=0) + self._barred(needs, place)
        cost = cost + END_WEIGHS * np.square(self._stop_de00)
        chosen = [int(np.argmin(cost))]
        if not np.isfinite(cost[chosen[0]]):
            return None
        for before in reversed(came_from):
            chosen.insert(0, int(before[chosen[0]]))
        beads = tuple(self.beads[index] for index in chosen)
        held = [sure_beads(bead) is not None for bead in beads]
        return BeadSeries(
            beads,
            tuple(float(self._steps[one, two]) for one, two in pairwise(chosen)),
            (float(self._start_de00[chosen[0]]), float(self._stop_de00[chosen[-1]])),
            True if needs is not None and all(held) else None,
        )

    def _barred(self, needs: Sequence[int] | None, place: int) -> FloatArray:
        """Infinite for beads whose lot is sure to hold too few for a place, else 0."""
        barred = np.zeros(len(self.beads))
        if needs is not None:
            for index, bead in enumerate(self.beads):
                sure = sure_beads(bead)
                if sure is not None and sure < needs[place]:
                    barred[index] = np.inf
        return barred
