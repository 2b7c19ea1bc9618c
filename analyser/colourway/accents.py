"""Centres that keep the small vivid colours which clustering by area drops.

Pure functions on arrays; Lab is given as planes of a small, evenly averaged picture.
"""

from __future__ import annotations

from collections.abc import Sequence

import cv2
import numpy as np
import numpy.typing as npt

from analyser.colourway import clustering

FloatArray = npt.NDArray[np.float64]

# Colours within this distance in Lab count as one neighbourhood: about the spread of one shaded surface.
_NEIGHBOURHOOD = 8.0
# Weight of a colour is its pixels times (share of its neighbourhood) ^ (this - 1).
_AREA_POWER = 0.8
# Lightness counts less than hue and chroma: shade on one surface moves lightness first.
LIGHTNESS = 0.8
# A colour farther than this from all chosen ones may be an accent of its own.
_APART = 25.0
# An accent weighs at least as much as this share of the photo when it competes for a place.
_FLOOR = 0.02
# Chroma at which a colour is plainly a hue and no tinted grey; least and most that vividness counts.
_CLEAR = 30.0
_DRAWS = (0.5, 2.0)
# Fewer pixels of the small picture than this, grown together, are specks.
_CORE = 3


def emphasis(colours: FloatArray, few: FloatArray, few_weights: FloatArray) -> FloatArray:
    """Factor of weight for colours, larger the fewer pixels lie near them; shape (n,)."""
    near = np.exp(clustering.squared(colours, few) / (-2.0 * _NEIGHBOURHOOD**2)) @ few_weights
    return np.asarray((near / few_weights.sum()) ** (_AREA_POWER - 1.0), dtype=float)


def with_accents(
    planes: Sequence[npt.NDArray[np.float32]],
    inside: npt.NDArray[np.bool_],
    colours: FloatArray,
    weights: FloatArray,
    centres: FloatArray,
) -> FloatArray:
    """Give places among the centres to small far colours that were left out.

    Parameters
    ----------
    planes : three ndarrays, shape (h, w)
        The small picture in the space of the centres.
    inside : bool ndarray, shape (h, w)
    colours, weights : ndarrays, shape (n, 3) and (n,)
        Its colours gathered, with their weights.
    centres : ndarray, shape (k, 3)

    Returns
    -------
    ndarray, shape (k, 3)
        For each accent taken in, the two centres that cost least were put together.
    """
    count = len(centres)
    unit = weights / weights.sum()
    refused = np.zeros(len(colours), dtype=bool)
    taken = 0
    picture = np.stack([plane[inside] for plane in planes], axis=1)
    while taken < max(1, count // 4):
        away = clustering.squared(colours, centres).min(axis=1)
        far = (away > _APART**2) & ~refused
        if not far.any():
            return centres
        some = colours[far]
        between = clustering.squared(some, some)
        saved = np.where(between < _APART**2, np.maximum(away[far][:, np.newaxis] - between, 0.0), 0.0)
        mass = (unit[far][:, np.newaxis] * (saved > 0)).sum(axis=0)
        worth = unit[far] @ saved * np.maximum(1.0, _FLOOR / np.maximum(mass, 1e-12)) * _vividness(some)
        core = _cores(picture, inside, some, centres)
        worth[core < _CORE] = 0.0
        best = int(worth.argmax())
        merged, price = _cheapest_merge(colours, unit, centres)
        if worth[best] <= price:
            return centres
        own = clustering.squared(some, some[best : best + 1])[:, 0] < (_APART / 2) ** 2
        place = unit[far][own] @ some[own] / unit[far][own].sum()
        centres = np.vstack([merged, place])
        taken += 1
    return centres


def _vividness(colours: FloatArray) -> FloatArray:
    """How much a colour draws the eye as an accent: its chroma over that of a clear hue, squared."""
    return np.asarray(np.clip((np.hypot(colours[:, 1], colours[:, 2]) / _CLEAR) ** 2, *_DRAWS), dtype=float)


def _cores(
    picture: FloatArray, inside: npt.NDArray[np.bool_], candidates: FloatArray, centres: FloatArray
) -> FloatArray:
    """How many pixels of each candidate's colour have all their neighbours of that colour too.

    The mixed pixels along an edge, however many, have none.
    """
    label = clustering.nearest(picture, np.vstack([centres, candidates]))
    left = label >= len(centres)
    cores = np.zeros(len(candidates))
    if not left.any():
        return cores
    near = clustering.squared(candidates, candidates) < _APART**2
    field = np.full(inside.shape, -1, dtype=np.intp)
    field[inside] = label - len(centres)
    for index in np.unique(field[field >= 0]):
        own = np.isin(field, np.flatnonzero(near[index])).astype(np.uint8)
        cores[index] = cv2.erode(own, np.ones((3, 3), np.uint8), borderValue=0).sum()
    return cores


def _cheapest_merge(colours: FloatArray, unit: FloatArray, centres: FloatArray) -> tuple[FloatArray, float]:
    """The centres with the two put together that add least to the sum of squares, and what that adds."""
    mass = np.bincount(clustering.nearest(colours, centres), unit, len(centres))
    between = clustering.squared(centres, centres)
    both = np.maximum(mass[:, np.newaxis] + mass, 1e-12)
    # An accent that has its place already is not traded for the next: it weighs as much as a new one would.
    heavy = np.where(between > _APART**2, np.maximum(mass, _FLOOR)[:, np.newaxis], mass[:, np.newaxis])
    price = heavy * heavy.T / np.maximum(heavy + heavy.T, 1e-12) * between
    price[np.tril_indices(len(centres))] = np.inf
    one, two = np.unravel_index(int(price.argmin()), price.shape)
    left = np.delete(centres, two, axis=0)
    left[one] = (mass[one] * centres[one] + mass[two] * centres[two]) / both[one, two]
    return left, float(price[one, two])
