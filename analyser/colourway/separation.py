"""How many colours a palette needs: as many as are told apart, none that is only an edge or noise.

Pure functions on a few colours found by clustering. Colours of a palette are about 8 CIEDE2000 apart;
nearer ones become one. A colour whose pixels have no patch of their own, and which lies between two larger
ones as their light mixes, is the blur of an edge.
"""

from __future__ import annotations

import cv2
import numpy as np

from analyser.arrays import BoolArray, FloatArray, IntArray
from analyser.colour import spaces
from analyser.colour.difference import delta_e_2000
from analyser.colourway.accents import LIGHTNESS

#: Colours nearer than this are one colour: about half way from the end of small differences (5) to twice it.
APART_DE00 = 7.0
# Lightness counts less for that: shade on one surface moves lightness first (as in ``accents``).
_SHADE_COUNTS_LESS = np.array([LIGHTNESS, 1.0, 1.0])
#: Colours asked of the clustering before any are put together.
OFFERED = 12
# A colour of a smaller share of the pixels is noise, unless it is a small thing that stands out.
_LEAST_SHARE = 0.004
# A patch has at least this part of its pixels with all neighbours of its own colour. Our choice, on photos.
_LEAST_CORE = 0.2
# An edge's blend lies within this CIEDE2000 of the mixtures of two other colours' light.
_BLEND_DE00 = 7.0


def cores(field: IntArray, number: int) -> FloatArray:
    """The part of each colour's pixels whose neighbours all have its colour, shape (number,).

    Parameters
    ----------
    field : int array, shape (h, w)
        The colour of each pixel; -1 where it does not count.
    number : int
        Of colours.
    """
    planes = [np.asarray(field == colour, dtype=np.uint8) for colour in range(number)]
    inner = [cv2.erode(own, np.ones((3, 3), np.uint8), borderValue=0).sum() for own in planes]
    return np.array(inner, dtype=float) / np.maximum([own.sum() for own in planes], 1)


def told_apart(lab: FloatArray, share: FloatArray, core: FloatArray, things: BoolArray) -> FloatArray:
    """The colours that are told apart.

    Parameters
    ----------
    lab : ndarray, shape (k, 3)
    share : ndarray, shape (k,)
        Parts of the pixels.
    core : ndarray, shape (k,)
        Of ``cores``.
    things : bool ndarray, shape (k,)
        Small things that stand out: neither noise nor an edge.

    Returns
    -------
    ndarray, shape (n, 3)
        The mean light of those that become one; noise and edges are left out.
    """
    kept = ~_to_drop(lab, share, core, things)
    groups = [[int(k)] for k in np.flatnonzero(kept)]
    means = [lab[group[0]] for group in groups]
    while len(groups) > 1:
        seen = np.array(means) * _SHADE_COUNTS_LESS
        off = delta_e_2000(seen[:, None], seen[None])
        off[np.diag_indices(len(groups))] = np.inf
        one, two = (int(v) for v in sorted(np.unravel_index(int(off.argmin()), off.shape)))
        if off[one, two] >= APART_DE00:
            break
        groups[one] += groups.pop(two)
        del means[two]
        means[one] = _mean_light(lab[groups[one]], share[groups[one]])
    return np.array(means)


def _mean_light(lab: FloatArray, weight: FloatArray) -> FloatArray:
    """The colour of mixed light, shape (3,)."""
    return np.asarray(spaces.linear_to_lab(weight @ spaces.lab_to_linear(lab) / weight.sum()))


def _to_drop(lab: FloatArray, share: FloatArray, core: FloatArray, things: BoolArray) -> BoolArray:
    """Noise and edges' blends, the smallest first; at least one colour is left."""
    drop = np.zeros(len(lab), dtype=bool)
    light = spaces.lab_to_linear(lab)
    for k in np.argsort(share, kind="stable")[:-1]:
        if things[k]:
            continue
        larger = np.flatnonzero((share > share[k]) & ~drop)
        drop[k] = share[k] < _LEAST_SHARE or (core[k] < _LEAST_CORE and _blends(lab[k], light[larger]))
    return drop


def _blends(lab: FloatArray, light: FloatArray) -> bool:
    """Whether a colour lies between two others as their light mixes."""
    if len(light) < 2:
        return False
    one, two = np.triu_indices(len(light), 1)
    part = np.linspace(0.15, 0.85, 8)[:, None, None]
    mixed = spaces.linear_to_lab(part * light[one] + (1.0 - part) * light[two])
    return bool(delta_e_2000(mixed, lab).min() < _BLEND_DE00)
