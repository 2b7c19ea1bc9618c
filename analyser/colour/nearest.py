"""The nearest of many colours by CIEDE2000: exact, and much less work than all pairs.

Lab always means CIE 1976 L*a*b*, D65, 2 degree observer, L* in [0, 100].
Equation numbers in comments are those of [1].

Sources
-------
[1] Sharma, Wu, Dalal (2005), Color Res. Appl. 30(1), 21-30, doi:10.1002/col.20070.
"""

# ruff: noqa: N806 -- L, a, b, C, T, S_L are the names of the standard

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt

from analyser.arrays import FloatArray, IntArray
from analyser.colour.difference import delta_e_2000
from analyser.colour.spaces import triples

_SIN_60 = math.sin(math.radians(60.0))
_MOST_STRETCH = 6.4  # of G C over all C; see _lower_bound_squared
# Candidates nearest in lightness, among which a first guess is sought: enough of them for a good one.
_LOOKED_AT_FIRST = 2048
_GUESSES = 16  # colours looked at for each one sought
_QUERIES_AT_A_TIME = 64
_BOUNDED_AT_A_TIME = 16_384  # pairs: what is worked out of so many stays in the cache
_FEW = 1024  # candidates that are looked at sooner than bounded
_LEAST_CHROMA = 1e-150  # the square of less is rounded to nothing
_SINE_FOR_SURE = 1e-9


class Sorted:
    """Colours made ready once to be searched again and again, such as those of a catalogue's palettes.

    Holds 48 bytes a colour.

    Parameters
    ----------
    candidates : array_like, shape (n, 3)
        Lab (D65, 2 degree observer), L* in [0, 100]; at least one.

    Raises
    ------
    ValueError
        If the shape does not fit, or there is none.
    """

    def __init__(self, candidates: npt.ArrayLike) -> None:
        given = triples(candidates, "candidates", "L*, a*, b*")
        if given.ndim != 2 or len(given) == 0:
            raise ValueError(f"candidates must be a list of colours; got {given.shape}")
        self.order = np.argsort(given[:, 0], kind="stable")
        self.by_lightness = _with_bounds(given[self.order])


def nearest_2000(
    queries: npt.ArrayLike, candidates: npt.ArrayLike | Sorted, k: int = 1
) -> tuple[IntArray, FloatArray]:
    """The ``k`` candidates nearest to each query by CIEDE2000: exact, and much less work than all pairs.

    Parameters
    ----------
    queries : array_like, shape (m, 3)
    candidates : array_like, shape (n, 3), or Sorted
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
    if asked.ndim != 2:
        raise ValueError(f"queries must be a list of colours; got {asked.shape}")
    if k < 1:
        raise ValueError(f"k must be at least 1; got {k}")
    if not isinstance(candidates, Sorted):
        given = triples(candidates, "candidates", "L*, a*, b*")
        if given.ndim == 2 and 0 < len(given) <= _FEW:
            return _nearest_of_few(asked, given, min(k, len(given)))
        candidates = Sorted(given)
    order, by_lightness = candidates.order, candidates.by_lightness
    k = min(k, len(order))
    sought = _with_bounds(asked).T
    indices = np.empty((len(asked), k), dtype=np.intp)
    de00 = np.empty((len(asked), k))
    for start in range(0, len(asked), _QUERIES_AT_A_TIME):
        some = slice(start, start + _QUERIES_AT_A_TIME)
        for row, (near, distances) in enumerate(_within_reach(sought[some], by_lightness, k), start):
            best = np.lexsort((order[near], distances))[:k]
            indices[row], de00[row] = order[near[best]], distances[best]
    return indices, de00


def _nearest_of_few(asked: FloatArray, given: FloatArray, k: int) -> tuple[IntArray, FloatArray]:
    """``nearest_2000`` by all pairs."""
    indices = np.empty((len(asked), k), dtype=np.intp)
    de00 = np.empty((len(asked), k))
    for start in range(0, len(asked), _QUERIES_AT_A_TIME):
        some = slice(start, start + _QUERIES_AT_A_TIME)
        distances = delta_e_2000(asked[some, None], given[None])
        indices[some] = np.argsort(distances, axis=1, kind="stable")[:, :k]
        de00[some] = np.take_along_axis(distances, indices[some], axis=1)
    return indices, de00


def within_2000(
    queries: npt.ArrayLike, candidates: npt.ArrayLike, reach_de00: npt.ArrayLike
) -> tuple[IntArray, IntArray, FloatArray]:
    """All pairs of a query and a candidate that differ by no more than so much, by CIEDE2000.

    Parameters
    ----------
    queries : array_like, shape (m, 3)
    candidates : array_like, shape (n, 3)
        Lab (D65, 2 degree observer), L* in [0, 100].
    reach_de00 : array_like, shape () or (m,)
        At least 0; of all queries, or of each.

    Returns
    -------
    query, candidate : ndarray of int, shape (p,)
        Rows of ``queries`` and ``candidates``, by query, then by candidate.
    de00 : ndarray, shape (p,)
    """
    asked = triples(queries, "queries", "L*, a*, b*").reshape(-1, 3)
    given = triples(candidates, "candidates", "L*, a*, b*").reshape(-1, 3)
    reach = np.broadcast_to(np.asarray(reach_de00, dtype=np.float64), len(asked))
    sought, there, farthest = _with_bounds(asked), _with_bounds(given), np.square(reach)
    rows = max(1, _BOUNDED_AT_A_TIME // max(1, len(given)))
    found: list[tuple[IntArray, IntArray, FloatArray]] = []
    for start in range(0, len(asked), rows):
        some = slice(start, start + rows)
        bounds = _lower_bound_squared(sought[:, some, None], there[:, None])
        pair = np.flatnonzero(bounds <= farthest[some, None])
        query = pair // len(given)
        candidate = pair - query * len(given)
        query += start
        # Taken by components: in a row each, the formula goes through them in half the time.
        de00 = delta_e_2000(sought[:3].take(query, axis=1).T, there[:3].take(candidate, axis=1).T)
        near = np.flatnonzero(de00 <= reach.take(query))
        found.append((query.take(near), candidate.take(near), de00.take(near)))
    if not found:
        return np.empty(0, np.intp), np.empty(0, np.intp), np.empty(0)
    query, candidate, de00 = (np.concatenate(part) for part in zip(*found, strict=True))
    return query, candidate, de00


def _within_reach(queries: FloatArray, by_lightness: FloatArray, k: int) -> list[tuple[IntArray, FloatArray]]:
    """For each query, columns of the candidates that hold the ``k`` nearest, and their differences.

    The candidates come sorted by lightness. A first guess from those nearest in lightness bounds how far the
    k-th can be; a second one from all within that reach bounds it well.
    """
    L = by_lightness[0]
    around = min(len(L), max(_LOOKED_AT_FIRST, 4 * k))
    places = np.clip(np.searchsorted(L, queries[:, 0]) - around // 2, 0, len(L) - around)
    windows = [slice(int(place), int(place) + around) for place in places]
    _, reach = _guess(queries, by_lightness, windows, k)
    # No candidate farther in L* alone can be among the nearest.
    ends = np.square(0.5 * (queries[:, :1] + L[[0, -1]]) - 50.0)
    delta_L = reach * _S_L(ends).max(axis=1)
    firsts, lasts = np.searchsorted(L, queries[:, 0] - delta_L), np.searchsorted(L, queries[:, 0] + delta_L)
    windows = [slice(int(first), int(last)) for first, last in zip(firsts, lasts, strict=True)]
    bounds, better = _guess(queries, by_lightness, windows, k)
    reach = np.minimum(reach, better)
    near = [
        window.start + np.flatnonzero(bound <= farthest * farthest)
        for window, bound, farthest in zip(windows, bounds, reach, strict=True)
    ]
    counts = [len(columns) for columns in near]
    who = np.repeat(np.arange(len(queries)), counts)
    distances = delta_e_2000(queries[who, :3], by_lightness[:3, np.concatenate(near)].T)
    return list(zip(near, np.split(distances, np.cumsum(counts)[:-1]), strict=True))


def _guess(
    queries: FloatArray, by_lightness: FloatArray, windows: list[slice], k: int
) -> tuple[list[FloatArray], FloatArray]:
    """The lower bounds within each query's window, and a distance that its k-th nearest does not exceed."""
    bounds = [
        _lower_bound_squared(query, by_lightness[:, window])
        for query, window in zip(queries, windows, strict=True)
    ]
    some = min(_GUESSES * k, *(len(bound) for bound in bounds))
    likely = np.array(
        [
            window.start + np.argpartition(bound, some - 1)[:some]
            for window, bound in zip(windows, bounds, strict=True)
        ]
    )
    distances = delta_e_2000(queries[:, None, :3], by_lightness[:3].T[likely])
    kth = np.partition(distances, k - 1, axis=1)[:, k - 1]
    return bounds, kth * (1.0 + 1e-9) + 1e-9  # for rounding


def _S_L(from_50_squared: FloatArray) -> FloatArray:  # noqa: N802 (eq. 15)
    """The weighting of lightness, eq. 15."""
    return np.asarray(1.0 + 0.015 * from_50_squared / np.sqrt(20.0 + from_50_squared), dtype=np.float64)


def _lower_bound_squared(query: FloatArray, columns: FloatArray) -> FloatArray:
    """A square that CIEDE2000 squared is never less than, at a fifth of its cost.

    With l, c, h the weighted differences of eq. 22, CIEDE2000 squared is l^2 + c^2 + h^2 + R_T c h, and

    - c^2 + h^2 + R_T c h >= (1 - |R_T| / 2) (c^2 + h^2);
    - c^2 + h^2 >= (dC'^2 + dH'^2) / S_C^2, as S_H <= S_C: T < 2 and 0.015 T < 0.045;
    - dC'^2 + dH'^2 = da'^2 + db^2 >= da^2 + db^2, as a' = (1 + G) a with one G >= 0 for both;
    - S_L <= 1 + 0.015 |L - 50| with L the mean, as x^2 <= |x| sqrt(20 + x^2) in eq. 15;
    - S_C <= 1 + 0.045 (C + 6.4) with C the mean chroma, as C' <= (1 + G) C and G C < 6.4 for every C;
    - |R_T| / 2 <= sin 60 degrees min(1, (C' / 25)^3) by eqs. 16 and 17; and where the mean hue lies in
      [0, 180], 95 degrees or more from 275, |R_T| / 2 < 1e-6. It does where the sines of both hues (of a',
      b*) together are above 0, and each of them is at least ``sine``.
    """
    L, a, b, chroma, sine = columns
    # In place: a new array for each operation takes twice as long.
    most_C = chroma + (query[3] + 2.0 * _MOST_STRETCH)
    most_C *= 0.5
    form = most_C * (1.0 / 25.0)
    form *= form * form
    np.minimum(form, 1.0, out=form)
    form *= -_SIN_60
    form += 1.0
    # Not where hues are opposite to within rounding: their mean may come out on the other side.
    np.maximum(form, (sine >= _SINE_FOR_SURE - query[4]) * (1.0 - 1e-6), out=form)
    S_C = np.multiply(most_C, 0.045, out=most_C)
    S_C += 1.0
    plane = a - query[1]
    plane *= plane
    plane_b = b - query[2]
    plane_b *= plane_b
    plane += plane_b
    plane *= form
    S_C *= S_C
    plane /= S_C
    S_L = 0.0075 * (L - 50.0) + 0.0075 * (query[0] - 50.0)
    np.abs(S_L, out=S_L)
    S_L += 1.0
    light = L - query[0]
    light /= S_L
    light *= light
    plane += light
    return np.asarray(plane, dtype=np.float64)


def _with_bounds(labs: FloatArray) -> FloatArray:
    """What ``_lower_bound_squared`` needs of colours, as rows: L*, a*, b*, chroma, least sine of the hue.

    As C <= C' <= 1.5 C, the sine of the hue of (a', b*) is at least b* / C where that is negative, and two
    thirds of it elsewhere.
    """
    chroma = np.sqrt(np.square(labs[:, 1]) + np.square(labs[:, 2]))
    sine = labs[:, 2] / np.maximum(chroma, _LEAST_CHROMA)
    # So little chroma that its square is rounded to nothing has no hue to speak of: claim the least.
    sine = np.where((chroma < _LEAST_CHROMA) & np.any(labs[:, 1:] != 0.0, axis=1), -1.0, sine)
    return np.vstack([labs.T, chroma, np.where(sine < 0.0, sine, sine / 1.5)])
