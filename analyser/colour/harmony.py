"""Harmony of two colours, as one measure among others.

The model rewards likeness of hue and chroma, so by itself it picks pairs that blur into one: never rank by
it alone.

Sources
-------
[1] Ou, Luo (2006), Color Res. Appl. 31(3), 191-204, doi:10.1002/col.20208. The constants are those that
    seven public programs agree on; the authors' white point and observer were not verified.
"""

# ruff: noqa: N806 -- the names are those of the source

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from analyser.arrays import FloatArray
from analyser.colour.spaces import triples


def harmony(lab_1: npt.ArrayLike, lab_2: npt.ArrayLike) -> FloatArray:
    """Predicted harmony of colour pairs [1].

    Parameters
    ----------
    lab_1, lab_2 : array_like, shape (..., 3)
        CIE L*a*b*. Leading axes broadcast.

    Returns
    -------
    ndarray, shape (...)
        CH, without unit: about -1.2 (harsh) to 1.4 (harmonious) over sRGB pairs, half of them below -0.27;
        the same with the arguments swapped.

    Raises
    ------
    ValueError
        If either last axis is not of size 3.

    >>> round(float(harmony([90, 0, 0], [80, 0, 0])), 4)
    1.2249
    """
    one = triples(lab_1, "lab_1", "L*, a*, b*")
    two = triples(lab_2, "lab_2", "L*, a*, b*")
    L_1, L_2 = one[..., 0], two[..., 0]
    delta_C = np.hypot(one[..., 1], one[..., 2]) - np.hypot(two[..., 1], two[..., 2])
    # dHab is the metric hue difference, in Lab units, not the angle in degrees.
    plane = np.square(one[..., 1] - two[..., 1]) + np.square(one[..., 2] - two[..., 2])
    delta_H_squared = np.maximum(plane - np.square(delta_C), 0.0)
    chromatic = np.sqrt(delta_H_squared + np.square(delta_C / 1.46))
    H_C = 0.04 + 0.53 * np.tanh(0.8 - 0.045 * chromatic)
    H_L_sum = 0.28 + 0.54 * np.tanh(-3.88 + 0.029 * (L_1 + L_2))
    H_delta_L = 0.14 + 0.15 * np.tanh(-2.0 + 0.2 * np.abs(L_1 - L_2))
    return np.asarray(H_C + H_L_sum + H_delta_L + _hue_effect(one) + _hue_effect(two), dtype=np.float64)


def _hue_effect(lab: FloatArray) -> FloatArray:
    """H_SY of one colour: what its hue, lightness and chroma add whatever stands beside it."""
    L, a, b = lab[..., 0], lab[..., 1], lab[..., 2]
    hue_deg = np.degrees(np.arctan2(b, a)) % 360.0
    E_C = 0.5 + 0.5 * np.tanh(-2.0 + 0.5 * np.hypot(a, b))
    H_S = -0.08 - 0.14 * np.sin(np.radians(hue_deg + 50.0)) - 0.07 * np.sin(np.radians(2.0 * hue_deg + 90.0))
    from_yellow = (90.0 - hue_deg) / 10.0
    E_Y = (0.22 * L - 12.8) / 10.0 * np.exp(from_yellow - np.exp(from_yellow))
    return np.asarray(E_C * (H_S + E_Y), dtype=np.float64)
