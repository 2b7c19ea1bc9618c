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
import re
from pathlib import Path

import numpy as np
import numpy.typing as npt

from analyser.arrays import BoolArray, FloatArray
from analyser.colour.nearest import nearest_2000
from analyser.colour.spaces import triples

# Within this a plain word serves: up to about 5 CIEDE2000 people still call it the same colour with a
# remark ("a bit darker"); beyond, the formula itself no longer measures but ranks. Our choice.
_PLAIN_SERVES_DE00 = 5.0
# A finer word must be clearly nearer to be worth its length: at least this much. Our choice.
_FINER_BY_DE00 = 2.5
# From this chroma on a colour is seen as hued, and names of greys do not serve. Our choice.
_HUED = 7.0
# Names of greys and whites whose surveyed colour is itself a little hued.
_NEUTRAL = frozenset({"off white", "battleship grey", "steel grey"})


@functools.cache
def _list(name: str) -> tuple[tuple[str, ...], FloatArray]:
    text = (Path(__file__).with_name("data") / f"{name}.csv").read_text(encoding="utf-8")
    rows = [line.split(",") for line in text.splitlines()[1:]]
    return tuple(row[0] for row in rows), np.array([[float(part) for part in row[2:5]] for row in rows])


@functools.cache
def _greys(name: str) -> BoolArray:
    """Which names of a list are of greys and whites."""
    names, labs = _list(name)
    neutral = np.array([one in _NEUTRAL for one in names])
    return np.asarray(neutral | (np.hypot(labs[:, 1], labs[:, 2]) < _HUED))


def everyday_name(lab: npt.ArrayLike) -> str:
    """The everyday name of one colour.

    Parameters
    ----------
    lab : array_like, shape (3,)
        Lab (D65, 2 degree observer).

    Returns
    -------
    str
        A word or a few, lower case; no name of a grey from a chroma of 7 on.

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
    return _named(*(float(part) for part in colour), frozenset())


def everyday_names(labs: npt.ArrayLike) -> tuple[str, ...]:
    """Names of several colours, no two alike: the earlier takes a name, the later one the next best.

    Parameters
    ----------
    labs : array_like, shape (n, 3)
        Lab (D65, 2 degree observer).

    >>> everyday_names([[47, 72, 60], [46, 72, 59]])
    ('red', 'bright red')
    """
    names: list[str] = []
    for lab in triples(labs, "labs", "L*, a*, b*").reshape(-1, 3):
        names.append(_named(*(float(part) for part in lab), frozenset(names)))
    return tuple(names)


@functools.lru_cache(maxsize=4096)
def labs_named_in(text: str) -> FloatArray:
    """Lab of the colours that a text names, shape (n, 3); of words that overlap the longest.

    >>> [len(labs_named_in(text)) for text in ("Dusty rose, 11/0", "Teal and gold", "Gull")]
    [1, 2, 0]
    """
    known = _by_words()
    words = re.findall(r"[a-z]+", text.casefold())
    found, at = [], 0
    while at < len(words):
        length = next((n for n in (3, 2, 1) if tuple(words[at : at + n]) in known), 0)
        if length:
            found.append(known[tuple(words[at : at + length])])
        at += length or 1
    return np.array(found, dtype=float).reshape(-1, 3)


@functools.cache
def _by_words() -> dict[tuple[str, ...], FloatArray]:
    lists = (_list("names_survey"), _list("names_plain"))
    return {tuple(name.split()): lab for names, labs in lists for name, lab in zip(names, labs, strict=True)}


@functools.lru_cache(maxsize=4096)
def _named(lightness: float, a: float, b: float, taken: frozenset[str]) -> str:
    colour = np.array([lightness, a, b])
    hued = float(np.hypot(a, b)) >= _HUED
    plain, plain_de00 = _nearest("names_plain", colour, hued, taken)
    if plain_de00 <= _PLAIN_SERVES_DE00:
        return plain
    fine, fine_de00 = _nearest("names_survey", colour, hued, taken)
    return fine if fine_de00 + _FINER_BY_DE00 <= plain_de00 else plain


def _nearest(source: str, colour: FloatArray, hued: bool, taken: frozenset[str]) -> tuple[str, float]:
    names, labs = _list(source)
    free = ~_greys(source) if hued else np.ones(len(names), dtype=bool)
    free[[row for row, name in enumerate(names) if name in taken]] = False
    allowed = np.flatnonzero(free)
    indices, distances = nearest_2000(colour[None], labs[allowed])
    return names[allowed[int(indices[0, 0])]], float(distances[0, 0])
