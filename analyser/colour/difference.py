"""Colour differences on plain arrays.

Pure functions: arrays in, arrays out; nothing here opens a file.
Lab always means CIE 1976 L*a*b*, D65, 2 degree observer, L* in [0, 100].

Sources
-------
[1] Sharma, Wu, Dalal (2005), Color Res. Appl. 30(1), 21-30, doi:10.1002/col.20070.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from analyser.arrays import FloatArray
from analyser.colour.ciede2000 import PAIRS_AT_A_TIME, buffers, ciede2000
from analyser.colour.spaces import triples


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
    de00 = np.empty(shape[:-1] or (1,))
    one, two = np.broadcast_to(one, (*de00.shape, 3)), np.broadcast_to(two, (*de00.shape, 3))
    _fill(de00, one, two, buffers(min(de00.size, PAIRS_AT_A_TIME)))
    return de00.reshape(shape[:-1])


def _fill(de00: FloatArray, one: FloatArray, two: FloatArray, room: FloatArray) -> None:
    """Write the differences of two equally shaped arrays of colours into ``de00``, piece by piece."""
    if de00.size <= room.shape[1]:
        first, second = np.moveaxis(one, -1, 0), np.moveaxis(two, -1, 0)
        ciede2000(first[0], first[1], first[2], second[0], second[1], second[2], de00, room)
        return
    rows = max(1, room.shape[1] * len(de00) // de00.size)
    for start in range(0, len(de00), rows):
        piece = slice(start, start + rows)
        if rows == 1 and de00.ndim > 1:
            _fill(de00[start], one[start], two[start], room)
        else:
            _fill(de00[piece], one[piece], two[piece], room)
