"""Which card or paper a photo most likely shows, how surely, and where.

A wrong reference is worse than none: from ``SURE`` on a card is used without asking; below, it is only told.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from analyser.arrays import FloatArray
from analyser.photo import card_evidence
from analyser.photo.card_finding import Surface, find_surfaces
from analyser.photo.cards import SeenCard, measure_card
from analyser.photo.illumination import IlluminationField
from analyser.photo.light_evidence import LightEvidence, log_tint
from analyser.photo.reading import Photo

SURE = 0.9
"""Chance of being right from which a reference is applied without asking."""
WORTH_ASKING = 0.15
"""Chance below which nothing is said: on drawn flat-lays one real card in thirty lies below it."""

_PAIR_RATIO = (1.8, 16.0)  # of luminance; a white card gives five times a grey one, curves bend that
_PAIR_TINT = 0.3  # log, beyond which two surfaces are no pair whatever else speaks for it
_PARTNERED = 0.5  # chance of a pair from which a card that is sure by itself is taken with its partner

_KINDS: tuple[Literal["white", "grey"], ...] = ("white", "grey")
_Chosen = tuple[tuple[Surface, Literal["white", "grey"]], ...]
Kind = Literal["sheet", "chart", "white-card", "grey-card", "cards", "paper"]


@dataclass(frozen=True, slots=True, eq=False)
class Reference:
    """Something of known colour in the photo, or what may be it.

    Attributes
    ----------
    kind : str
        ``chart``, ``white-card``, ``grey-card``, ``cards`` (a white and a grey one), ``paper`` or ``sheet``.
    outline : ndarray, shape (n, 2)
        In pixels of the upright, full-size photo; of ``cards`` the white one's, of paper the frame's.
    sure : float
        Chance that it is what it is taken for, 0 to 1; 1 where the maker says so.
    applied : bool
        Whether colours were corrected by it.
    """

    kind: Kind
    outline: FloatArray
    sure: float
    applied: bool

    def box(self) -> tuple[int, int, int, int]:
        """x, y, width, height of a box well inside it, for ``--card``."""
        x, y = self.outline.mean(axis=0)
        sides = np.hypot(*(self.outline - np.roll(self.outline, 1, axis=0)).T)
        side = max(2, round(0.5 * float(sides.min())))
        return round(x - side / 2), round(y - side / 2), side, side

    def unapplied(self) -> Reference:
        """The same, not applied."""
        return replace(self, applied=False)


def find_cards(
    photo: Photo, light: LightEvidence, field: IlluminationField | None
) -> tuple[tuple[SeenCard, ...], float]:
    """The most likely card, or pair of a white and a grey one, and its chance; none and 0 if there is none.

    Parameters
    ----------
    photo : Photo
    light : LightEvidence
    field : IlluminationField or None
        Of a plain ground, whose tint is one more piece of evidence.
    """
    surfaces = find_surfaces(photo.linear, photo.clipped)
    ground = None if field is None else log_tint(field.background_linear)
    models = card_evidence.fitted()
    alone: tuple[float, _Chosen] = 0.0, ()
    paired: tuple[float, _Chosen] = 0.0, ()
    for surface in surfaces:
        others = [other for other in surfaces if other is not surface]
        for kind in _KINDS:
            chance = models[kind].chance(card_evidence.of_one(surface, kind, others, light, ground))
            if chance > alone[0]:
                alone = chance, ((surface, kind),)
        for grey in others:
            if not may_be_pair(surface, grey):
                continue
            rest = [other for other in others if other is not grey]
            chance = models["pair"].chance(card_evidence.of_pair(surface, grey, rest, light, ground))
            if chance > paired[0]:
                paired = chance, ((surface, "white"), (grey, "grey"))
    chance, chosen = max(alone, paired, key=lambda one: one[0])
    if chosen == alone[1] and paired[0] >= _PARTNERED and chosen[0] in paired[1]:
        chosen = paired[1]
    if chance < WORTH_ASKING:
        return (), 0.0
    return tuple(measure_card(photo, surface.corners, kind) for surface, kind in chosen), chance


def may_be_pair(white: Surface, grey: Surface) -> bool:
    """Whether two surfaces may be a white and a grey card at all."""
    ratio = white.luminance / grey.luminance
    apart = float(np.hypot(*(white.tint - grey.tint)))
    return _PAIR_RATIO[0] < ratio < _PAIR_RATIO[1] and apart < _PAIR_TINT


def paper_chance(light: LightEvidence, field: IlluminationField | None) -> float:
    """Chance that a plain ground is white paper, 0 without one."""
    if field is None:
        return 0.0
    return card_evidence.fitted()["paper"].chance(card_evidence.of_paper(light, field))
