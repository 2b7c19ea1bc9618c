"""A rope on what it is worn on: cloth or skin, close up and from where others stand.

Close up accent and body are seen as they are; from 1 to 2 m they mix, and the rope is compared as one colour.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy.typing as npt

from analyser.colour.difference import delta_e_2000
from analyser.colourway.measures import Measures

#: Below 10 CIEDE2000 two colours that do not touch count as answering each other, below 5 as one (the end of
#: small differences, see ``matching``); above 20 they are plainly apart at a glance. The first and the last
#: are our choice: twice and four times the second.
ONE_DE00, ANSWERS_DE00, PLAIN_DE00 = 5.0, 10.0, 20.0


#: What the eye makes of it, the most telling first.
Kind = Literal["blends-in", "floats", "answers", "stands-out", "told-apart"]


@dataclass(frozen=True, slots=True)
class Worn:
    """How rope and ground stay apart.

    Attributes
    ----------
    rope_de00 : float
        CIEDE2000 from the ground to the rope as one colour, as from 1 to 2 m.
    accent_de00, body_de00 : float
        From the ground to accent and body, as close up.
    blends_in, answers, stands_out : bool
        The three wishes, and whether the pair grants them.
    kind : str
        What is told: ``blends-in``, ``floats`` (the body vanishes on it), ``answers``, ``stands-out`` or
        ``told-apart``.
    """

    rope_de00: float
    accent_de00: float
    body_de00: float
    blends_in: bool
    answers: bool
    stands_out: bool
    kind: Kind


def worn_on(measures: Measures, ground_lab: npt.ArrayLike) -> Worn:
    """Judge a pair on a ground of one colour (Lab, D65)."""
    rope, accent, body = (
        float(delta_e_2000(lab, ground_lab))
        for lab in (measures.far_lab, measures.accent_lab, measures.body_lab)
    )
    near, far = sorted((accent, body))
    blends = max(rope, body) < ANSWERS_DE00
    answers = near < ANSWERS_DE00 and far >= PLAIN_DE00
    stands_out = min(rope, body) >= PLAIN_DE00
    kind: Kind = "told-apart"
    if blends:
        kind = "blends-in"
    elif body < ONE_DE00:
        kind = "floats"
    elif answers:
        kind = "answers"
    elif stands_out:
        kind = "stands-out"
    return Worn(rope, accent, body, blends, answers, stands_out, kind)
