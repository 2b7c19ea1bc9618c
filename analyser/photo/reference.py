"""Which card or paper a photo most likely shows, how surely, and where.

A wrong reference is worse than none: from ``SURE`` on a card is used without asking; below, it is only told.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
import numpy.typing as npt

from analyser.arrays import FloatArray
from analyser.photo import card_evidence
from analyser.photo.card_evidence import Hypothesis
from analyser.photo.card_finding import Surface, find_surfaces
from analyser.photo.cards import CardKind, SeenCard, measure_card
from analyser.photo.illumination import IlluminationField
from analyser.photo.light_evidence import LightEvidence, log_tint
from analyser.photo.reading import Photo

SURE = 0.9
"""Chance of being right from which a reference is applied without asking."""
WORTH_ASKING = 0.1
"""Chance below which nothing is said: on drawn flat-lays one real card in thirty lies below it."""

_PARTNERED = 0.5  # chance of a pair from which its two cards are as sure as the surer of them is
_Cards = tuple[tuple[Surface, CardKind], ...]
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
    partner : ndarray, shape (n, 2), or None
        Of ``cards``, where the grey one lies.
    """

    kind: Kind
    outline: FloatArray
    sure: float
    applied: bool
    partner: FloatArray | None = None

    def box(self) -> tuple[int, int, int, int]:
        """x, y, width, height of a box well inside it, for ``--card``."""
        return box_within(self.outline)

    def unapplied(self) -> Reference:
        """The same, not applied."""
        return replace(self, applied=False)


def box_within(outline: npt.ArrayLike) -> tuple[int, int, int, int]:
    """x, y, width, height of a square well inside an outline of shape (n, 2), in whole pixels."""
    corners = np.asarray(outline, float)
    x, y = corners.mean(axis=0)
    sides = np.hypot(*(corners - np.roll(corners, 1, axis=0)).T)
    side = max(2, round(0.5 * float(sides.min())))
    return round(x - side / 2), round(y - side / 2), side, side


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
    if light.colourless:
        return (), 0.0
    ground = None if field is None else log_tint(field.background_linear)
    found = card_evidence.hypotheses(find_surfaces(photo.linear, photo.clipped), light, ground)
    chance, chosen = _likeliest(found, card_evidence.chances(found))
    if chance < WORTH_ASKING:
        return (), 0.0
    return tuple(measure_card(photo, surface.corners, kind) for surface, kind in chosen), chance


def _likeliest(found: Sequence[Hypothesis], chances: FloatArray) -> tuple[float, _Cards]:
    """The cards to use or to ask about, and their chance.

    A card counts whether or not the other one is its partner, so it may be sure where the pair is not; a
    likely partner is then taken with it, since a wrong one shows in the ratio of the two.
    """
    pair: tuple[float, _Cards] = 0.0, ()
    alone: dict[tuple[int, str], tuple[float, _Cards]] = {}
    for hypothesis, chance in zip(found, chances, strict=True):
        if len(hypothesis.cards) == 2:
            pair = max(pair, (float(chance), hypothesis.cards), key=lambda one: one[0])
        for card in hypothesis.cards:
            key = id(card[0]), card[1]
            alone[key] = alone.get(key, (0.0,))[0] + float(chance), (card,)
    single = max(alone.values(), key=lambda one: one[0], default=(0.0, ()))
    if pair[0] > 0.5 * single[0] and single[1][0] in pair[1]:
        return (max(pair[0], single[0]), pair[1]) if pair[0] >= _PARTNERED else pair
    return single
