"""A rope on what it is worn on: cloth or skin, seen from where others stand.

From 1 to 2 m accent and body have begun to mix; each is compared with the ground as it is seen from there.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from analyser.colour import viewing
from analyser.colour.difference import delta_e_2000
from analyser.colour.spaces import LINEAR_SRGB_TO_XYZ, lab_to_linear, linear_to_lab
from analyser.colourway.measures import Measures, PairView

#: From where others see it: the middle of 1 to 2 m.
SEEN_FROM_M = 1.5
#: Below 5 CIEDE2000 two colours count as near (the end of small differences, see ``matching``); above 20 they
#: are plainly apart at a glance (our choice: four times that).
NEAR_DE00, PLAIN_DE00 = 5.0, 20.0


@dataclass(frozen=True, slots=True)
class Worn:
    """How rope and ground stay apart.

    Attributes
    ----------
    rope_de00, accent_de00, body_de00 : float
        CIEDE2000 to the ground: of the rope as a whole, of accent and body as seen from ``SEEN_FROM_M``.
    blends_in, answers, stands_out : bool
        The three wishes, and whether the pair grants them.
    says : str
    """

    rope_de00: float
    accent_de00: float
    body_de00: float
    blends_in: bool
    answers: bool
    stands_out: bool
    says: str


def worn_on(measures: Measures, view: PairView, ground_lab: npt.ArrayLike) -> Worn:
    """Judge a pair on a ground of one colour (Lab, D65)."""
    ground = np.asarray(ground_lab, dtype=np.float64)
    accent, body = _seen(measures, view)
    rope = float(delta_e_2000(measures.far_lab, ground))
    accent_off, body_off = float(delta_e_2000(accent, ground)), float(delta_e_2000(body, ground))
    blends = max(rope, min(accent_off, body_off)) < NEAR_DE00
    answers = min(accent_off, body_off) < 2 * NEAR_DE00 and max(accent_off, body_off) >= PLAIN_DE00
    stands_out = min(rope, body_off) >= PLAIN_DE00
    return Worn(
        rope, accent_off, body_off, blends, answers, stands_out, _says(rope, accent_off, body_off, stands_out)
    )


def _seen(measures: Measures, view: PairView) -> tuple[npt.NDArray[np.float64], npt.NDArray[np.float64]]:
    """Lab of accent and body as the eye has them from where others stand."""
    light = lab_to_linear(view.labs(measures.accent_lab, measures.body_lab))
    to_opponent = viewing.XYZ_TO_OPPONENT @ LINEAR_SRGB_TO_XYZ
    mixed = viewing.mixing(view.pattern, SEEN_FROM_M)
    opponent = np.einsum("kin,nk->ik", mixed[:, list(view.pair)], light @ to_opponent.T)
    accent, body = linear_to_lab(opponent @ np.linalg.inv(to_opponent).T)
    return accent, body


def _says(rope: float, accent: float, body: float, stands_out: bool) -> str:
    where = f"from {SEEN_FROM_M:g} m"
    if body < NEAR_DE00 and accent >= PLAIN_DE00:
        return f"the body vanishes on it {where} (difference {body:.0f}): the accents seem to float"
    if max(rope, body) < NEAR_DE00:
        return f"it melts into the ground {where} (difference {rope:.0f}): right only if it should blend in"
    if stands_out:
        return f"it stands out from the ground {where} (difference {rope:.0f})"
    if min(accent, body) < 2 * NEAR_DE00:
        role = "accent" if accent < body else "body"
        return f"the {role} answers the ground {where} (difference {min(accent, body):.0f})"
    return f"it is told from the ground {where}, without standing out (difference {rope:.0f})"
