"""Two stock beads alternated in the body, where no single one is near: from afar they read as one colour.

Neighbouring beads mix as light does, in linear RGB by the area they show; nearer than a certain distance they
are seen one by one, and that distance is told.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from analyser.arrays import Lab
from analyser.colour import spaces, viewing
from analyser.colour.difference import delta_e_2000
from analyser.colourway.matching import CLOSE_DE00
from analyser.colourway.turns import taking_turns
from analyser.motif.motif import Motif
from analyser.stock.bead import Bead

#: Beads tried against each other: those whose own colour is nearest to the wanted one.
TRIED = 400
#: A mix that is seen bead by bead from farther than this does not read as one colour where it is worn.
_BLENDS_BY_M = 3.0


@dataclass(frozen=True, slots=True)
class Mix:
    """Two beads, one after the other, that read as a third colour.

    Attributes
    ----------
    one, two : Bead
    lab : tuple of 3 float
        What they blur to.
    de00 : float
        CIEDE2000 from there to the wanted colour.
    blends_from_m : float
        Beyond this distance they read as one colour at a glance.
    blurs_from_m : float
        Beyond this distance not even sharp sight tells them apart.
    """

    one: Bead
    two: Bead
    lab: Lab
    de00: float
    blends_from_m: float
    blurs_from_m: float


def best_mix(
    lab: npt.ArrayLike,
    beads: Sequence[Bead],
    motif: Motif,
    bead_mm: tuple[float, float],
) -> Mix | None:
    """The mix of two beads that reads as a colour and blurs from nearest on; None where there is none.

    Parameters
    ----------
    lab : array_like, shape (3,)
        The wanted colour.
    beads : sequence of Bead
        Of one size; each with a colour.
    motif, bead_mm
        Where they are alternated, in beads of that diameter and length.

    Returns
    -------
    Mix or None
    """
    if len(beads) < 2:
        return None
    target = np.asarray(lab, dtype=np.float64)
    labs = np.array([bead.lab for bead in beads], dtype=np.float64)
    near = np.argsort(delta_e_2000(labs, target), kind="stable")[:TRIED]
    light = spaces.lab_to_linear(labs[near])
    one, two = np.triu_indices(len(near), 1)
    mixed = spaces.linear_to_lab(0.5 * (light[one] + light[two]))
    off = delta_e_2000(mixed, target)
    good = np.flatnonzero(off <= CLOSE_DE00)
    if not len(good):
        return None
    # Of those that read as the colour, the two that differ least: they blur from nearest on.
    best = good[int(np.argmin(delta_e_2000(labs[near[one[good]]], labs[near[two[good]]])))]
    first, second = beads[near[one[best]]], beads[near[two[best]]]
    blends, blurs = _told_apart_to_m((first, second), motif, bead_mm)
    if blends > _BLENDS_BY_M:
        return None
    lightness, a, b = (float(v) for v in mixed[best])
    return Mix(first, second, (lightness, a, b), float(off[best]), blends, blurs)


def _told_apart_to_m(
    beads: tuple[Bead, Bead], motif: Motif, bead_mm: tuple[float, float]
) -> tuple[float, float]:
    """How far two beads that take turns in the body are told apart: at a glance, and by sharp sight."""
    turns = taking_turns(motif, bead_mm)
    one, two = (bead.lab for bead in beads)
    assert one is not None
    assert two is not None
    labs = turns.labs(one, two)
    reads = float(viewing.reads_to_m(turns.pattern, labs, turns.pair))
    return reads, viewing.blurs_from_m(turns.pattern, labs, reads)
