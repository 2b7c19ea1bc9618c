"""What goes with a pair: a third colour, end beads, a metal tone for clasp and rings, the thread.

Which metal goes with which colours, and that thread takes the body's colour or one shade darker, is common
practice, no source.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt

from analyser.arrays import Lab
from analyser.colour.difference import delta_e_2000
from analyser.colour.gamut import lab_to_hex
from analyser.colourway.further import STANDS_FOR_DE00, LetterSets
from analyser.colourway.pairing import Pair
from analyser.colourway.palette import PaletteColour
from analyser.stock.bead import Bead

#: "One shade darker": a step of L* that thread makers' cards are seen to have; from memory.
SHADE_L = 8.0
#: An end bead answers the accent (our choice, as in ``worn_on.ANSWERS_DE00``).
END_IS_CLOSE_DE00 = 10.0


@dataclass(frozen=True, slots=True)
class Companions:
    """What goes with a pair.

    Attributes
    ----------
    third : Bead or None
        For a piece that wants one: stands for another colour of the photo. None where the motif has further
        letters, whose beads are the pair's own.
    third_for : int or None
        Index of that colour.
    end_bead : Bead or None
        Larger bead of the stock for both ends; nearest to the accent, else to the body.
    metal : str
        ``warm`` (gold, brass, copper) or ``cool`` (silver, steel).
    thread_lab : tuple of 3 float
        The body's colour, one shade darker.
    thread_hex : str
    end_like : str
        What the end bead was to answer: ``accent``, or ``rope`` where the rope's own end was told.
    end_is_close : bool
        Whether it does.
    """

    third: Bead | None
    third_for: int | None
    end_bead: Bead | None
    metal: str
    thread_lab: tuple[float, float, float]
    thread_hex: str
    end_like: Literal["accent", "rope"] = "accent"
    end_is_close: bool = False


@dataclass(frozen=True, slots=True)
class ThreadShows:
    """What a thread does to a rope.

    Attributes
    ----------
    kind : str
        It ``hides`` in the body, shows because it is ``lighter``, or as an ``other-colour``.
    lighter_l, de00 : float
        L* above the body's, and CIEDE2000 from it.
    clear : tuple of Bead
        Transparent beads, through which it shines.
    """

    kind: Literal["hides", "lighter", "other-colour"]
    lighter_l: float
    de00: float
    clear: tuple[Bead, ...]


def companions(
    pair: Pair,
    colours: Sequence[PaletteColour],
    beads: Sequence[Bead],
    large: Sequence[Bead],
    *,
    end_lab: Lab | None = None,
    thirds: LetterSets | None = None,
) -> Companions:
    """Suggest what goes with a pair.

    Parameters
    ----------
    pair : Pair
    colours : sequence of PaletteColour
    beads : sequence of Bead
        Those that may be a third colour.
    large : sequence of Bead
        Those wide enough to close the rope.
    end_lab : tuple of 3 float, optional
        The colour an end bead is to have; the accent's if left out.
    thirds : LetterSets, optional
        What ``beads`` can be as a third colour, where it is worked out for several pairs at once.
    """
    sets = thirds or LetterSets(("third",), colours, beads)
    suggested = {} if pair.others else sets.best((pair.accent, pair.body), pair.stands_for.values())[0]
    third = suggested.get("third")
    wanted = end_lab or pair.measures.accent_lab
    end = _nearest(large, wanted)
    metal = _metal(pair)
    lightness, a, b = pair.measures.body_lab
    darker = (max(lightness - SHADE_L, 0.0), a, b)
    thread_hex, _ = lab_to_hex(np.array(darker))
    is_close = end is not None and float(delta_e_2000(_lab(end), wanted)) < END_IS_CLOSE_DE00
    return Companions(
        third.bead if third else None,
        third.colour if third else None,
        end,
        metal,
        darker,
        thread_hex,
        "rope" if end_lab else "accent",
        is_close,
    )


def thread_on(thread_lab: npt.ArrayLike, body_lab: npt.ArrayLike, beads: Sequence[Bead]) -> ThreadShows:
    """What a thread of that colour (Lab, D65) does to a rope of that body and those beads."""
    thread, body = np.asarray(thread_lab, dtype=np.float64), np.asarray(body_lab, dtype=np.float64)
    off, lighter = float(delta_e_2000(thread, body)), float(thread[0] - body[0])
    clear = tuple(bead for bead in beads if "transparent" in bead.finishes)
    if lighter > SHADE_L:
        return ThreadShows("lighter", lighter, off, clear)
    if off >= STANDS_FOR_DE00 and lighter > -3 * SHADE_L:
        return ThreadShows("other-colour", lighter, off, clear)
    return ThreadShows("hides", lighter, off, clear)


def _lab(bead: Bead) -> npt.NDArray[np.float64]:
    return np.asarray(bead.lab, dtype=np.float64)


def _nearest(beads: Sequence[Bead], lab: Lab) -> Bead | None:
    coloured = [bead for bead in beads if bead.lab is not None]
    if not coloured:
        return None
    off = delta_e_2000(np.array([bead.lab for bead in coloured]), np.asarray(lab))
    return coloured[int(np.argmin(off))]


def _metal(pair: Pair) -> str:
    """Warm where accent and body together lean to red and yellow, else cool."""
    (_, a_1, b_1), (_, a_2, b_2) = pair.measures.accent_lab, pair.measures.body_lab
    return "warm" if (b_1 + b_2) + 0.5 * (a_1 + a_2) > 0 else "cool"
