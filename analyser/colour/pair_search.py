"""Every pair of many colours, a few thousand at a time: exact, in little memory.

A stock of 5,000 beads has 12.5 million unordered pairs; their matrix would take 200 MB and its making
gigabytes. Here the differences pass by in blocks, and only the best pairs are kept. Nothing is pruned:
a contrast that is wanted large has no useful bound from below.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

import numpy as np
import numpy.typing as npt

from analyser.arrays import FloatArray, IntArray
from analyser.colour.ciede2000 import PAIRS_AT_A_TIME, buffers, ciede2000
from analyser.colour.spaces import triples

Cost = Callable[[IntArray, IntArray, FloatArray], FloatArray]


def pairs_2000(labs: npt.ArrayLike) -> Iterator[tuple[IntArray, IntArray, FloatArray]]:
    """The CIEDE2000 of all unordered pairs of colours, in blocks.

    Parameters
    ----------
    labs : array_like, shape (n, 3)
        Lab (D65, 2 degree observer).

    Yields
    ------
    first : ndarray of int, shape (r, 1)
        Rows of ``labs``.
    second : ndarray of int, shape (1, c)
        Rows of ``labs``; only where ``second`` is above ``first`` is an entry of the block a pair, and each
        pair comes once.
    de00 : ndarray, shape (r, c)
        Overwritten by the next block.

    Raises
    ------
    ValueError
        If ``labs`` is not a list of colours.
    """
    colours = triples(labs, "labs", "L*, a*, b*")
    if colours.ndim != 2:
        raise ValueError(f"labs must be a list of colours, shape (n, 3); got {colours.shape}")
    lightness, a, b = np.ascontiguousarray(colours.T)
    most = max(PAIRS_AT_A_TIME, len(lightness))
    room, de00 = buffers(most), np.empty(most)
    start = 0
    while start < len(lightness) - 1:
        width = len(lightness) - start - 1
        rows = slice(start, min(start + max(1, PAIRS_AT_A_TIME // width), len(lightness) - 1))
        columns = slice(start + 1, len(lightness))
        first = np.arange(rows.start, rows.stop)[:, None]
        second = np.arange(columns.start, columns.stop)[None, :]
        block = de00[: first.size * second.size].reshape(first.size, second.size)
        one, two = (lightness[first], a[first], b[first]), (lightness[second], a[second], b[second])
        ciede2000(*one, *two, block, room)
        yield first, second, block
        start = rows.stop


def best_pairs(labs: npt.ArrayLike, k: int, cost: Cost) -> tuple[IntArray, FloatArray, FloatArray]:
    """The ``k`` pairs of least cost among all unordered pairs of colours.

    Parameters
    ----------
    labs : array_like, shape (n, 3)
        Lab (D65, 2 degree observer).
    k : int
        At least 1.
    cost : callable
        Takes ``first``, ``second`` and ``de00`` as ``pairs_2000`` gives them and returns what each pair
        costs, shape (r, c); infinite: not wanted at all. Each pair must cost the same whatever its block.

    Returns
    -------
    pairs : ndarray of int, shape (m, 2)
        Rows of ``labs``, the lower first, m at most k; the cheapest first, of equal ones the lower rows.
    de00, costs : ndarray, shape (m,)

    Raises
    ------
    ValueError
        If ``labs`` is not a list of colours or ``k`` is below 1.

    Examples
    --------
    The two greys whose difference comes nearest to 10:

    >>> greys = [[20, 0, 0], [50, 0, 0], [60, 0, 0], [90, 0, 0]]
    >>> pairs, de00, _ = best_pairs(greys, 1, lambda first, second, de00: abs(de00 - 10))
    >>> pairs.tolist(), de00.round(2).tolist()
    ([[1, 2]], [9.47])
    """
    if k < 1:
        raise ValueError(f"k must be at least 1; got {k}")
    kept = np.empty((0, 2), dtype=np.intp), np.empty(0), np.empty(0)
    dearest = float(np.finfo(np.float64).max)  # below infinite: what is not wanted is never kept
    for first, second, de00 in pairs_2000(labs):
        costs = cost(first, second, de00)
        cheap = costs <= dearest
        corner = cheap[:, : len(first)]
        corner &= second[:, : len(first)] > first  # each pair once
        row, column = np.divmod(np.flatnonzero(cheap), cheap.shape[1])
        if len(row) == 0:
            continue
        found = np.column_stack([first[row, 0], second[0, column]]), de00[row, column], costs[row, column]
        pairs, differences, prices = (np.concatenate(parts) for parts in zip(kept, found, strict=True))
        best = np.lexsort((pairs[:, 1], pairs[:, 0], prices))[:k]
        kept = pairs[best], differences[best], prices[best]
        if len(best) == k:
            dearest = float(prices[best[-1]])
    return kept
