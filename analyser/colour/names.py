"""Everyday names for colours: words a maker would say at the table.

Two lists, both drawn from one survey of about 140,000 people [1]: plain words first, and finer ones where
no plain word comes near. A name says roughly where a colour lies; it is never a measure.

Sources
-------
[1] R. Munroe (2010), colour survey, main colours, CC0. The plain list is a choice of 90 words from it; the
    fine list is the rest, less names that are unkind, trade marks, double or faulty spellings, words for no
    colour in particular, and names no one would print on a kit.
"""

from __future__ import annotations

import functools
from importlib import resources

import numpy as np
import numpy.typing as npt

from analyser.arrays import FloatArray
from analyser.colour.nearest import nearest_2000
from analyser.colour.spaces import triples

# Within this a plain word serves: up to about 5 CIEDE2000 people still call it the same colour with a
# remark ("a bit darker"); beyond, the formula itself no longer measures but ranks. Our choice.
_PLAIN_SERVES_DE00 = 5.0
# A finer word must be clearly nearer to be worth its length: at least this much. Our choice.
_FINER_BY_DE00 = 2.5


@functools.cache
def _list(name: str) -> tuple[tuple[str, ...], FloatArray]:
    text = resources.files("analyser.colour").joinpath("data", f"{name}.csv").read_text(encoding="utf-8")
    rows = [line.split(",") for line in text.splitlines()[1:]]
    return tuple(row[0] for row in rows), np.array([[float(part) for part in row[2:5]] for row in rows])


def everyday_name(lab: npt.ArrayLike) -> str:
    """The everyday name of one colour.

    Parameters
    ----------
    lab : array_like, shape (3,)
        Lab (D65, 2 degree observer).

    Returns
    -------
    str
        A word or a few, lower case.

    Raises
    ------
    ValueError
        If ``lab`` is not one colour.

    >>> everyday_name([47, 72, 60])
    'red'
    """
    colour = triples(lab, "lab", "L*, a*, b*")
    if colour.ndim != 1:
        raise ValueError(f"lab must be one L*, a*, b*; got shape {colour.shape}")
    return _named(*(float(part) for part in colour))


@functools.lru_cache(maxsize=4096)
def _named(lightness: float, a: float, b: float) -> str:
    colour = np.array([lightness, a, b])
    plain, plain_labs = _list("names_plain")
    fine, fine_labs = _list("names_survey")
    indices, distances = nearest_2000(colour[None], plain_labs)
    plain_name, plain_de00 = plain[int(indices[0, 0])], float(distances[0, 0])
    if plain_de00 <= _PLAIN_SERVES_DE00:
        return plain_name
    indices, distances = nearest_2000(colour[None], fine_labs)
    clearly_nearer = float(distances[0, 0]) + _FINER_BY_DE00 <= plain_de00
    return fine[int(indices[0, 0])] if clearly_nearer else plain_name
