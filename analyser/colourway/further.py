"""Beads for the letters of a motif beyond accent and body: each stands for another colour of the photo."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from analyser.arrays import Lab
from analyser.colour.difference import delta_e_2000
from analyser.colourway import scores
from analyser.colourway.palette import PaletteColour
from analyser.stock.bead import Bead

STANDS_FOR_DE00 = 15.0
"""A bead farther from its palette colour than this does not stand for it any more: the page tells what to
shop for instead. Three times the end of small differences, so that a small box still gives pairs."""
APART_DE00 = 10.0
"""Two colours are told apart at a glance: twice the end of small differences."""


@dataclass(frozen=True, slots=True)
class Further:
    """A bead for a further letter.

    Attributes
    ----------
    bead : Bead
    colour : int
        Index of the palette colour it stands for.
    fit_de00 : float
        CIEDE2000 to that colour.
    """

    bead: Bead
    colour: int
    fit_de00: float


def choose(
    roles: Sequence[str],
    taken: Sequence[Bead],
    shown: Collection[int],
    colours: Sequence[PaletteColour],
    beads: Sequence[Bead],
    needs: Mapping[str, int] | None = None,
) -> dict[str, Further]:
    """A bead for each further letter, the most telling colour left first.

    Parameters
    ----------
    roles : sequence of str
        The letters' roles, in their order.
    taken : sequence of Bead
        Beads of accent and body.
    shown : collection of int
        Palette colours that those stand for.
    colours : sequence of PaletteColour
    beads : sequence of Bead
        Those that may be used; each with a colour.
    needs : mapping of role to int, optional
        Beads that each role needs; one whose lot surely holds too few comes last.

    Returns
    -------
    dict of role to Further
        Without the roles for which no bead is left that stands for another colour and is told from the
        others.
    """
    found: dict[str, Further] = {}
    used, stood_for = list(taken), set(shown)
    for role in roles:
        best = _most_telling(role, used, stood_for, colours, beads, needs)
        if best is None:
            break
        found[role] = best
        used.append(best.bead)
        stood_for.add(best.colour)
    return found


def _most_telling(
    role: str,
    used: Sequence[Bead],
    shown: Collection[int],
    colours: Sequence[PaletteColour],
    beads: Sequence[Bead],
    needs: Mapping[str, int] | None,
) -> Further | None:
    ids = {bead.id for bead in used}
    free = [bead for bead in beads if bead.id not in ids and bead.lab is not None]
    left = [index for index in range(len(colours)) if index not in shown]
    if not free or not left:
        return None
    labs = np.array([bead.lab for bead in free], dtype=np.float64)
    wanted = np.array([colours[index].lab for index in left])
    apart = delta_e_2000(labs[:, None], _labs(used)[None]).min(axis=1)
    fit = delta_e_2000(labs[:, None], wanted[None])
    fit[apart < APART_DE00] = np.inf
    nearest = fit.argmin(axis=0)
    best = fit.min(axis=0)
    if not np.any(best <= STANDS_FOR_DE00):
        return None
    held = np.array([scores.holds(free[bead], needs, role) for bead in nearest])
    telling = np.hypot(wanted[:, 1], wanted[:, 2]) + apart[nearest] - 2.0 * best
    telling[best > STANDS_FOR_DE00] = -np.inf
    chosen = int(np.lexsort((-telling, held <= 0.0, ~np.isfinite(telling)))[0])
    return Further(free[nearest[chosen]], left[chosen], float(best[chosen]))


def _labs(beads: Sequence[Bead]) -> np.ndarray:
    labs: list[Lab] = [bead.lab for bead in beads if bead.lab is not None]
    return np.array(labs, dtype=np.float64).reshape(-1, 3)
