"""Change of colour as a grey-scale rating, 5 (none) to 1: a textile scale, borrowed.

Sources
-------
[1] ISO 105-A05:1996, instrumental assessment of change in colour for determination of grey-scale rating:
    the formula as three public programs have it, the limits of the grades as two do; the standard itself
    was not read.
"""

# ruff: noqa: N806 -- the names are those of the source

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from analyser.arrays import FloatArray
from analyser.colour.spaces import triples

# [1], clause 8: from each of these dE_F on, the rating falls by half a step from 5.
_LIMITS_DE_F = (0.40, 1.25, 2.10, 2.95, 4.10, 5.80, 8.20, 11.60)


def de_f(lab_reference: npt.ArrayLike, lab_specimen: npt.ArrayLike) -> FloatArray:
    """The colour difference dE_F of ISO 105-A05 [1].

    Parameters
    ----------
    lab_reference, lab_specimen : array_like, shape (..., 3)
        CIE L*a*b*. Leading axes broadcast. The sign of dC and dH counts, so the order matters.

    Returns
    -------
    ndarray, shape (...)

    Raises
    ------
    ValueError
        If either last axis is not of size 3.
    """
    reference = triples(lab_reference, "lab_reference", "L*, a*, b*")
    specimen = triples(lab_specimen, "lab_specimen", "L*, a*, b*")
    C_R, C_S = np.hypot(reference[..., 1], reference[..., 2]), np.hypot(specimen[..., 1], specimen[..., 2])
    h_R = np.degrees(np.arctan2(reference[..., 2], reference[..., 1])) % 360.0
    h_S = np.degrees(np.arctan2(specimen[..., 2], specimen[..., 1])) % 360.0
    delta_L, delta_C = specimen[..., 0] - reference[..., 0], C_S - C_R
    delta_h = (h_S - h_R + 180.0) % 360.0 - 180.0
    delta_H = 2.0 * np.sqrt(C_R * C_S) * np.sin(np.radians(delta_h) / 2.0)
    C_M = 0.5 * (C_R + C_S)
    total = h_R + h_S
    over_the_top = np.where(total < 360.0, 180.0, -180.0)
    h_M = 0.5 * total + np.where(np.abs(h_S - h_R) > 180.0, over_the_top, 0.0)
    from_280 = np.abs(h_M - 280.0)
    x = np.square(np.where(from_280 <= 180.0, from_280, 360.0 - from_280) / 30.0)
    D = delta_C * C_M * np.exp(-x) / 100.0
    delta_C_F = (delta_C - D) / (1.0 + np.square(20.0 * C_M / 1000.0))
    delta_H_F = (delta_H - D) / (1.0 + np.square(10.0 * C_M / 1000.0))
    return np.asarray(
        np.sqrt(np.square(delta_L) + np.square(delta_C_F) + np.square(delta_H_F)), dtype=np.float64
    )


def rating(lab_reference: npt.ArrayLike, lab_specimen: npt.ArrayLike) -> FloatArray:
    """The grey-scale rating of ISO 105-A05, in half steps [1].

    Parameters
    ----------
    lab_reference, lab_specimen : array_like, shape (..., 3)
        CIE L*a*b*. Leading axes broadcast.

    Returns
    -------
    ndarray, shape (...)
        5.0 (no change) down to 1.0; 4.5 or better customarily counts as unchanged.

    Raises
    ------
    ValueError
        If either last axis is not of size 3.

    >>> rating([50, 0, 0], [[50, 0, 0], [51.7, 0, 0], [70, 0, 0]]).tolist()
    [5.0, 4.0, 1.0]
    """
    steps = np.searchsorted(_LIMITS_DE_F, de_f(lab_reference, lab_specimen), side="right")
    return np.asarray(5.0 - 0.5 * steps, dtype=np.float64)
