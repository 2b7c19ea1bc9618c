"""Small things that stand out from what lies round them, which clustering by area drops.

Pure functions on arrays. Lab is given as planes of a small, evenly averaged picture, in the space of the
centres (lightness scaled).
"""

from __future__ import annotations

from collections.abc import Sequence

import cv2
import numpy as np
import numpy.typing as npt

from analyser.arrays import BoolArray, FloatArray, IntArray
from analyser.colour import spaces
from analyser.colourway import clustering

# Colours within this distance in Lab count as one neighbourhood: about the spread of one shaded surface.
_NEIGHBOURHOOD = 8.0
# Weight of a colour is its pixels times (share of its neighbourhood) ^ (this - 1).
_AREA_POWER = 0.8
#: Lightness counts less than hue and chroma: shade on one surface moves lightness first.
LIGHTNESS = 0.8
# Surroundings are the median over a window of this part of the shorter side; what fills less than half of
# the window, about 1.5 % of the photo, is a thing in it.
_WINDOW = 0.18
# A thing differs from its surroundings by at least this in Lab: more than shade on one surface does.
_STANDS_OUT = 20.0
# It has at least so many pixels with all neighbours in it: lines and the mixed pixels of edges have none.
_CORE = 2
# Colours that what stands out is told apart by.
_OUT_COLOURS = 10
# Things nearer than this are of one colour; and one nearer than this to a colour of the palette is in it.
_ALIKE = 12.0
# Chroma at which a colour is plainly a hue and no tinted grey; least and most that vividness counts.
_CLEAR = 30.0
_DRAWS = (0.5, 1.5)
# Distance from the palette times vividness from which a thing gets a place. Chosen between drawn balls and
# squares (22 to 66) and texture of photos (mostly under 15).
_WORTH_A_PLACE = 16.5
# One place in so many may go to a small thing: more would cost too much of the large surfaces.
_PLACES = 6


def emphasis(colours: FloatArray, few: FloatArray, few_weights: FloatArray) -> FloatArray:
    """Factor of weight for colours, larger the fewer pixels lie near them; shape (n,)."""
    near = np.exp(clustering.squared(colours, few) / (-2.0 * _NEIGHBOURHOOD**2)) @ few_weights
    return np.asarray((near / few_weights.sum()) ** (_AREA_POWER - 1.0), dtype=float)


def small_things(
    linear: npt.NDArray[np.float32], planes: Sequence[npt.NDArray[np.float32]], inside: BoolArray
) -> FloatArray:
    """Colours of the small things that stand out.

    Parameters
    ----------
    linear : ndarray, shape (h, w, 3)
        The small picture.
    planes : three ndarrays, shape (h, w)
        The same in the space of the centres.
    inside : bool ndarray, shape (h, w)

    Returns
    -------
    ndarray, shape (c, 3)
        Their mean light, as Lab (lightness not scaled); the most seen first, alike ones together.
    """
    side = max(3, round(_WINDOW * min(inside.shape)) | 1)
    off = np.zeros(inside.shape, dtype=np.float32)
    for plane in planes:
        # The median of large windows works on eight bits: half a unit of Lab is fine enough to compare with.
        level = np.clip(np.rint(plane + 128.0), 0, 255).astype(np.uint8)
        off += (plane + 128.0 - cv2.medianBlur(level, side)) ** 2
    out = ((off > _STANDS_OUT**2) & inside).astype(np.uint8)
    if not out.any():
        return np.empty((0, 3))
    # Whole, a shaded thing keeps its light and shade; apart by colour, a flat one is rid of its neighbours.
    pixels = np.stack([plane[out > 0] for plane in planes], axis=1).astype(float)
    colours = clustering.best_centres(
        *clustering.coarser(pixels[np.lexsort(pixels.T)], np.ones(len(pixels)), 300), _OUT_COLOURS, starts=4
    )
    owner = clustering.nearest(pixels, colours)
    whole = _parts(linear, out, np.zeros(len(pixels), dtype=np.intp), side * side / 2)
    apart = _parts(linear, out, owner, side * side / 2)
    lab, light, area = (np.concatenate(both) for both in zip(whole, apart, strict=True))
    found = []
    while len(lab):
        alike = clustering.squared(lab, lab) < _ALIKE**2
        own = alike[int((alike @ area).argmax())]
        found.append(spaces.linear_to_lab(area[own] @ light[own] / area[own].sum()))
        lab, light, area = lab[~own], light[~own], area[~own]
    return np.array(found).reshape(-1, 3)


def _parts(
    linear: npt.NDArray[np.float32], out: npt.NDArray[np.uint8], owner: IntArray, most: float
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Connected parts of the pixels that stand out, group by group: Lab, mean light and number of pixels."""
    label = np.zeros(out.shape, dtype=np.intp)
    label[out > 0] = owner + 1
    lights, areas = [np.empty((0, 3))], [np.empty(0)]
    for group in np.unique(owner) + 1:
        own = (label == group).astype(np.uint8)
        number, part, stats, _ = cv2.connectedComponentsWithStats(own, connectivity=4)
        core = cv2.erode(own, np.ones((3, 3), np.uint8), borderValue=0) > 0
        keep = (np.bincount(part[core], minlength=number) >= _CORE) & (stats[:, cv2.CC_STAT_AREA] <= most)
        keep[0] = False
        # The rim is mixed with what lies behind: it counts less.
        weight = np.where(core, 1.0, 0.2)[own > 0]
        lights.append(clustering.means(linear[own > 0].astype(float), weight, part[own > 0], number)[keep])
        areas.append(stats[keep, cv2.CC_STAT_AREA].astype(float))
    light = np.concatenate(lights)
    return spaces.linear_to_lab(light), light, np.concatenate(areas)


def places(count: int) -> int:
    """How many of so many colours may be small things: one in six, but one."""
    return max(1, count // _PLACES)


def worth_a_place(things: FloatArray, centres: FloatArray, most: int) -> FloatArray:
    """The small things that no centre shows, at most so many; the farthest and most vivid first.

    Parameters
    ----------
    things : ndarray, shape (c, 3)
        Of ``small_things``, in the space of the centres.
    centres : ndarray, shape (k, 3)
    most : int

    Returns
    -------
    ndarray, shape (t, 3)
    """
    drawn = np.clip(np.hypot(things[:, 1], things[:, 2]) / _CLEAR, *_DRAWS)
    taken = things[:0]
    while len(things) and len(taken) < most:
        away = np.sqrt(clustering.squared(things, np.vstack([centres, taken])).min(axis=1))
        best = int((away * drawn).argmax())
        if away[best] < _ALIKE or away[best] * drawn[best] < _WORTH_A_PLACE:
            break
        taken = np.vstack([taken, things[best]])
    return taken
