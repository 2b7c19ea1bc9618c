"""What goes with a pair: a third colour, end beads, a metal tone for clasp and rings, the thread.

Which metal goes with which colours, and that thread takes the body's colour or one shade darker, is common
practice, no source.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from analyser.arrays import Lab
from analyser.colour.difference import delta_e_2000
from analyser.colour.gamut import lab_to_hex
from analyser.colour.names import everyday_name
from analyser.colourway.pairing import STANDS_FOR_DE00, Pair
from analyser.colourway.palette import PaletteColour
from analyser.stock.bead import Bead

#: A third colour is told from both others at a glance (our choice, as in ``pairing.APART_DE00``).
THIRD_APART_DE00 = 10.0
#: "One shade darker": a step of L* that thread makers' cards are seen to have; from memory.
SHADE_L = 8.0


@dataclass(frozen=True, slots=True)
class Companions:
    """What goes with a pair.

    Attributes
    ----------
    third : Bead or None
        For a motif with a third role, or a piece that wants one: stands for another colour of the photo.
    third_for : int or None
        Index of that colour.
    end_bead : Bead or None
        Larger bead of the stock for both ends; nearest to the accent, else to the body.
    metal : str
        ``warm`` (gold, brass, copper) or ``cool`` (silver, steel).
    thread_hex : str
        The body's colour or one shade darker.
    says : tuple of str
    """

    third: Bead | None
    third_for: int | None
    end_bead: Bead | None
    metal: str
    thread_hex: str
    says: tuple[str, ...]


def companions(
    pair: Pair,
    colours: Sequence[PaletteColour],
    beads: Sequence[Bead],
    large: Sequence[Bead],
    *,
    end_lab: Lab | None = None,
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
    """
    third, third_for = _third(pair, colours, beads)
    wanted = end_lab or pair.measures.accent_lab
    end = _nearest(large, wanted)
    metal = _metal(pair)
    lightness, a, b = pair.measures.body_lab
    darker = (max(lightness - SHADE_L, 0.0), a, b)
    thread_hex, _ = lab_to_hex(np.array(darker))
    says = []
    if third is not None and third_for is not None:
        says.append(f"a third colour: {third.name}, for the {colours[third_for].name} of the photo")
    if end is not None:
        off = float(delta_e_2000(np.asarray(end.lab, dtype=np.float64), wanted))
        like = "the rope's own" if end_lab else "the accent"
        near = f"close to {like}" if off < 10 else f"the nearest there is to {like}"
        says.append(f"end beads: {end.name} {end.size}, {near}")
    tones = {"warm": "gold, brass or copper", "cool": "silver or steel"}
    says.append(f"clasp and rings in a {metal} tone: {tones[metal]}")
    says.append(
        f"thread in the body's colour or one shade darker ({everyday_name(np.array(darker))}, {thread_hex})"
    )
    return Companions(third, third_for, end, metal, thread_hex, tuple(says))


def thread_says(thread_lab: npt.ArrayLike, body_lab: npt.ArrayLike, beads: Sequence[Bead]) -> str:
    """What a thread of that colour (Lab, D65) does to a rope of that body and those beads."""
    thread, body = np.asarray(thread_lab, dtype=np.float64), np.asarray(body_lab, dtype=np.float64)
    off, lighter = float(delta_e_2000(thread, body)), float(thread[0] - body[0])
    clear = [bead.name for bead in beads if "transparent" in bead.finishes]
    says = "the thread hides in the body"
    if lighter > SHADE_L:
        says = f"the thread is {lighter:.0f} L* lighter than the body and shows as specks between the beads"
    elif off >= STANDS_FOR_DE00 and lighter > -3 * SHADE_L:
        says = (
            f"the thread is another colour than the body (difference {off:.0f}) and shows between the beads"
        )
    if clear:
        says += f"; it shines through {' and '.join(clear)} and shifts them towards its own colour"
    return says


def _third(
    pair: Pair, colours: Sequence[PaletteColour], beads: Sequence[Bead]
) -> tuple[Bead | None, int | None]:
    """The bead that stands for the most telling colour left, told from both others."""
    best: tuple[float, Bead, int] | None = None
    for index, colour in enumerate(colours):
        if index in pair.stands_for.values():
            continue
        bead = _nearest([bead for bead in beads if bead.id not in (pair.accent.id, pair.body.id)], colour.lab)
        if bead is None or bead.lab is None:
            continue
        fit = float(delta_e_2000(bead.lab, colour.lab))
        apart = min(
            float(delta_e_2000(bead.lab, pair.measures.accent_lab)),
            float(delta_e_2000(bead.lab, pair.measures.body_lab)),
        )
        if fit > STANDS_FOR_DE00 or apart < THIRD_APART_DE00:
            continue
        telling = np.hypot(colour.lab[1], colour.lab[2]) + apart - 2.0 * fit
        if best is None or telling > best[0]:
            best = (float(telling), bead, index)
    return (None, None) if best is None else best[1:]


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
