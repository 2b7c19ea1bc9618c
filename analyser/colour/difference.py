"""Colour differences, and the nearest of many colours, on plain arrays.

Pure functions: arrays in, arrays out; nothing here opens a file.
Lab always means CIE 1976 L*a*b*, D65, 2 degree observer, L* in [0, 100].
Equation numbers in comments are those of [1].

Sources
-------
[1] Sharma, Wu, Dalal (2005), Color Res. Appl. 30(1), 21-30, doi:10.1002/col.20070.
[2] Clarke, McDonald, Rigg (1984), J. Soc. Dyers Colour. 100, 128-132; ISO 105-J03 (CMC).
"""

# ruff: noqa: N803, N806 -- L, a, b, C, T, S_L are the names of the standard

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt

from analyser.colour.spaces import FloatArray, triples

IntArray = npt.NDArray[np.intp]

_25_TO_7 = 25.0**7
_COS_30, _SIN_30 = math.cos(math.radians(30.0)), math.sin(math.radians(30.0))
_COS_6, _SIN_6 = math.cos(math.radians(6.0)), math.sin(math.radians(6.0))
_COS_63, _SIN_63 = math.cos(math.radians(63.0)), math.sin(math.radians(63.0))
_RADIANS_275, _RADIANS_25 = math.radians(275.0), math.radians(25.0)
# Pairs worked on at a time: a dozen temporaries of this length stay in the processor's cache.
_AT_A_TIME = 16_384


def delta_e_2000(lab_1: npt.ArrayLike, lab_2: npt.ArrayLike) -> FloatArray:
    """CIEDE2000 difference of colour pairs, with kL = kC = kH = 1.

    Parameters
    ----------
    lab_1, lab_2 : array_like, shape (..., 3)
        Lab (D65, 2 degree observer), L* in [0, 100]. Leading axes broadcast.

    Returns
    -------
    ndarray, shape (...)
        CIEDE2000 units, at least 0, the same with the arguments swapped.

    Raises
    ------
    ValueError
        If either last axis is not of size 3.

    Notes
    -----
    Meant for small differences, up to about 5; above that use it to rank, not to measure. Not a metric:
    do not cluster with it, prune only by a proven bound. It jumps where hues lie 180 degrees apart.
    Large inputs are worked through in pieces, so the extra memory is that of the result.

    Examples
    --------
    Pair 1 of table 1 in [1]:

    >>> round(float(delta_e_2000([50, 2.6772, -79.7751], [50, 0, -82.7485])), 4)
    2.0425
    """
    one = triples(lab_1, "lab_1", "L*, a*, b*")
    two = triples(lab_2, "lab_2", "L*, a*, b*")
    shape = np.broadcast_shapes(one.shape, two.shape)
    de00 = np.empty(shape[:-1])
    _fill(de00, np.broadcast_to(one, shape), np.broadcast_to(two, shape))
    return de00


def _fill(de00: FloatArray, one: FloatArray, two: FloatArray) -> None:
    """Write the differences of two equally shaped arrays of colours into ``de00``, piece by piece."""
    if de00.size <= _AT_A_TIME:
        one, two = np.atleast_2d(one), np.atleast_2d(two)
        parts = (one[..., 0], one[..., 1], one[..., 2], two[..., 0], two[..., 1], two[..., 2])
        de00[...] = ciede2000(*parts).reshape(de00.shape)
        return
    rows = max(1, _AT_A_TIME * len(de00) // de00.size)
    for start in range(0, len(de00), rows):
        piece = slice(start, start + rows)
        if rows == 1 and de00.ndim > 1:
            _fill(de00[start], one[start], two[start])
        else:
            _fill(de00[piece], one[piece], two[piece])


def ciede2000(
    L_1: FloatArray,
    a_1: FloatArray,
    b_1: FloatArray,
    L_2: FloatArray,
    a_2: FloatArray,
    b_2: FloatArray,
) -> FloatArray:
    """CIEDE2000 from separate components that broadcast; the one formula behind every search here.

    Hue angles are not formed: the mean hue is the bisector of the two directions, and the cosines of its
    multiples and the hue difference follow from that vector. In exact arithmetic this is [1].
    """
    mean_chroma = 0.5 * (np.sqrt(a_1 * a_1 + b_1 * b_1) + np.sqrt(a_2 * a_2 + b_2 * b_2))
    stretch = 1.5 - 0.5 * _seventh_power_root(mean_chroma)  # eq. 4: 1 + G
    a_1, a_2 = stretch * a_1, stretch * a_2  # eq. 5
    C_1, C_2 = np.sqrt(a_1 * a_1 + b_1 * b_1), np.sqrt(a_2 * a_2 + b_2 * b_2)  # eq. 6
    product = C_1 * C_2
    # eq. 14: mean hue as a vector along the bisector, of length 2 C_1 C_2 cos(dh / 2)
    u, v = a_1 * C_2 + a_2 * C_1, b_1 * C_2 + b_2 * C_1
    length = np.sqrt(u * u + v * v)
    opposite = length <= 1e-4 * product  # neutrals too
    safe = np.where(opposite, 1.0, length)
    cos_h, sin_h = u / safe, v / safe
    delta_hue = 2.0 * np.sqrt(product) * (a_1 * b_2 - b_1 * a_2) / safe  # eq. 11, by sin x = 2 sin cos of x/2
    if opposite.any():
        full = np.broadcast_arrays(a_1, b_1, a_2, b_2, product)
        delta_hue[opposite], cos_h[opposite], sin_h[opposite] = _opposite_hues(*(x[opposite] for x in full))
    # eqs. 15 to 19, with cos and sin of multiples of the mean hue by the addition theorems
    cos_2h, sin_2h = 2.0 * cos_h * cos_h - 1.0, 2.0 * sin_h * cos_h
    cos_3h, sin_3h = cos_h * (2.0 * cos_2h - 1.0), sin_h * (2.0 * cos_2h + 1.0)
    cos_4h, sin_4h = 2.0 * cos_2h * cos_2h - 1.0, 2.0 * sin_2h * cos_2h
    T = (
        1.0
        - 0.17 * (_COS_30 * cos_h + _SIN_30 * sin_h)
        + 0.24 * cos_2h
        + 0.32 * (_COS_6 * cos_3h - _SIN_6 * sin_3h)
        - 0.20 * (_COS_63 * cos_4h + _SIN_63 * sin_4h)
    )
    mean_C = 0.5 * (C_1 + C_2)
    mean_h = np.arctan2(sin_h, cos_h)
    mean_h = np.where(mean_h < 0.0, mean_h + 2.0 * np.pi, mean_h)  # 0 to 360 degrees: eq. 16 does not wrap
    twice_delta_theta = np.pi / 3.0 * np.exp(-np.square((mean_h - _RADIANS_275) / _RADIANS_25))
    R_T = -2.0 * _seventh_power_root(mean_C) * np.sin(twice_delta_theta)
    from_50 = np.square(0.5 * (L_1 + L_2) - 50.0)
    light = (L_2 - L_1) / (1.0 + 0.015 * from_50 / np.sqrt(20.0 + from_50))
    chroma = (C_2 - C_1) / (1.0 + 0.045 * mean_C)
    hue = delta_hue / (1.0 + 0.015 * mean_C * T)
    # eq. 22; the form is positive definite, so only rounding can take it below zero
    squares = light * light + chroma * chroma + hue * hue + R_T * chroma * hue
    return np.asarray(np.sqrt(np.maximum(squares, 0.0)), dtype=np.float64)


def _seventh_power_root(chroma: FloatArray) -> FloatArray:
    """The square root of C^7 / (C^7 + 25^7), of eqs. 4 and 17."""
    squared = chroma * chroma
    power = squared * squared * squared * chroma
    return np.sqrt(power / (power + _25_TO_7))


def _opposite_hues(
    a_1: FloatArray, b_1: FloatArray, a_2: FloatArray, b_2: FloatArray, product: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Hue difference, cosine and sine of the mean hue where the bisector is ill defined, by angles as [1]."""
    h_1 = np.degrees(np.arctan2(b_1, a_1)) % 360.0  # eq. 7
    h_2 = np.degrees(np.arctan2(b_2, a_2)) % 360.0
    far = np.abs(h_2 - h_1) > 180.0
    turn = np.where(h_2 > h_1, -360.0, 360.0)
    delta_h = h_2 - h_1 + np.where(far, turn, 0.0)  # eq. 10
    total = h_1 + h_2
    mean = np.radians(0.5 * (total + np.where(far, np.where(total < 360.0, 360.0, -360.0), 0.0)))  # eq. 14
    return 2.0 * np.sqrt(product) * np.sin(np.radians(delta_h) / 2.0), np.cos(mean), np.sin(mean)


def delta_e_cmc(
    lab_standard: npt.ArrayLike, lab_batch: npt.ArrayLike, lightness: float = 2.0, chroma: float = 1.0
) -> FloatArray:
    """CMC(l:c) difference of a batch from its standard [2], the customary measure of textile trade.

    Parameters
    ----------
    lab_standard, lab_batch : array_like, shape (..., 3)
        Lab (D65, 2 degree observer). Leading axes broadcast. The order matters: the ellipsoid is the
        standard's.
    lightness, chroma : float
        The l and c of CMC(l:c): 2:1 to accept or reject, 1:1 to perceive.

    Returns
    -------
    ndarray, shape (...)

    Raises
    ------
    ValueError
        If either last axis is not of size 3.
    """
    standard = triples(lab_standard, "lab_standard", "L*, a*, b*")
    batch = triples(lab_batch, "lab_batch", "L*, a*, b*")
    L, a, b = standard[..., 0], standard[..., 1], standard[..., 2]
    C = np.hypot(a, b)
    delta_L = batch[..., 0] - L
    delta_C = np.hypot(batch[..., 1], batch[..., 2]) - C
    delta_H_squared = np.square(batch[..., 1] - a) + np.square(batch[..., 2] - b) - np.square(delta_C)
    hue = np.degrees(np.arctan2(b, a)) % 360.0
    S_L = np.where(L < 16.0, 0.511, 0.040975 * L / (1.0 + 0.01765 * L))
    S_C = 0.0638 * C / (1.0 + 0.0131 * C) + 0.638
    T = np.where(
        (hue >= 164.0) & (hue <= 345.0),
        0.56 + np.abs(0.2 * np.cos(np.radians(hue + 168.0))),
        0.36 + np.abs(0.4 * np.cos(np.radians(hue + 35.0))),
    )
    F = np.sqrt(C**4 / (C**4 + 1900.0))
    S_H = S_C * (F * T + 1.0 - F)
    squares = (
        np.square(delta_L / (lightness * S_L))
        + np.square(delta_C / (chroma * S_C))
        + np.maximum(delta_H_squared, 0.0) / np.square(S_H)
    )
    return np.asarray(np.sqrt(squares), dtype=np.float64)


def nearest_2000(
    queries: npt.ArrayLike, candidates: npt.ArrayLike, k: int = 1
) -> tuple[IntArray, FloatArray]:
    """The ``k`` candidates nearest to each query by CIEDE2000: exact, and much less work than all pairs.

    Parameters
    ----------
    queries : array_like, shape (m, 3)
    candidates : array_like, shape (n, 3)
        Lab (D65, 2 degree observer), L* in [0, 100].
    k : int
        At least 1; more than n means n.

    Returns
    -------
    indices : ndarray of int, shape (m, min(k, n))
        Rows of ``candidates``, nearest first; of equal ones the lower index first.
    de00 : ndarray, shape (m, min(k, n))

    Raises
    ------
    ValueError
        If a shape does not fit, k is below 1, or there are no candidates.
    """
    asked = triples(queries, "queries", "L*, a*, b*")
    given = triples(candidates, "candidates", "L*, a*, b*")
    if asked.ndim != 2 or given.ndim != 2 or len(given) == 0:
        raise ValueError(f"queries and candidates must be lists of colours; got {asked.shape}, {given.shape}")
    if k < 1:
        raise ValueError(f"k must be at least 1; got {k}")
    k = min(k, len(given))
    indices = np.empty((len(asked), k), dtype=np.intp)
    de00 = np.empty((len(asked), k))
    for row, query in enumerate(asked):
        every = delta_e_2000(query, given)
        indices[row] = np.argsort(every, kind="stable")[:k]
        de00[row] = every[indices[row]]
    return indices, de00
