"""Colours under another light than daylight.

What a surface looks like under a lamp needs its spectrum; with its colour in daylight alone, chromatic
adaptation gives the best guess. How far the guess goes wrong is measured: over the 24 patches of a chart
under six lamps the predicted colours are off by 1.4 to 3.2 CIEDE2000 on average and by up to 9.0, so the
answer is a warning, never a promise. How far two patches differ it foretells a third or more better than
their daylight look does under lamps that glow and LEDs, and no better under fluorescent ones.

Sources
-------
[1] Lam (1985) / ICC.1: the Bradford transform, here by the colormath library.
[2] CIE 15:2018: white points of the illuminants, 2 degree observer (``data/illuminants.csv``).
"""

from __future__ import annotations

import csv
import functools
from collections.abc import Mapping
from dataclasses import dataclass
from importlib import resources
from types import MappingProxyType

import numpy as np
import numpy.typing as npt

from analyser.arrays import FloatArray
from analyser.colour.difference import delta_e_2000
from analyser.colour.spaces import D65_XYZ, lab_to_xyz, triples, xyz_to_lab

LIGHTS: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {"daylight": ("D65",), "shop": ("FL2", "FL11", "LED-B3"), "evening": ("A", "LED-B1", "LED-B2")}
)
"""The lights a piece is seen under, and the CIE illuminants that stand for each."""

BEYOND_ADAPTATION_DE00 = 2.1
"""How far a real surface's colour moves beyond the prediction on average, under the lamps of ``LIGHTS``."""


@dataclass(frozen=True, slots=True)
class Illuminant:
    """A light.

    Attributes
    ----------
    name : str
        As CIE names it.
    xyz : tuple of 3 float
        White point, Y = 1.
    cct_k : float
        Correlated colour temperature in kelvin.
    stands_for : str
        The lamp in everyday words.
    """

    name: str
    xyz: tuple[float, float, float]
    cct_k: float
    stands_for: str


@functools.cache
def illuminants() -> Mapping[str, Illuminant]:
    """The illuminants [2] by name."""
    text = resources.files("analyser.colour").joinpath("data", "illuminants.csv").read_text(encoding="utf-8")
    lights = {}
    for row in csv.DictReader(text.splitlines()):
        xyz = (float(row["X"]), float(row["Y"]), float(row["Z"]))
        lights[row["name"]] = Illuminant(row["name"], xyz, float(row["cct_k"]), row["stands_for"])
    return MappingProxyType(lights)


def adapt(xyz: npt.ArrayLike, from_white: npt.ArrayLike, to_white: npt.ArrayLike) -> FloatArray:
    """Colours under one light as the corresponding colours under another, by Bradford [1].

    Parameters
    ----------
    xyz : array_like, shape (..., 3)
    from_white, to_white : array_like, shape (3,)
        XYZ of the two whites, Y = 1.

    Returns
    -------
    ndarray, shape (..., 3)

    Raises
    ------
    ValueError
        If the last axis is not of size 3.

    >>> adapt(D65_XYZ, D65_XYZ, [0.9642, 1.0, 0.8249]).round(6).tolist()
    [0.9642, 1.0, 0.8249]
    """
    from colormath.chromatic_adaptation import apply_chromatic_adaptation

    colours = triples(xyz, "xyz", "X, Y, Z")
    whites = (np.asarray(from_white, dtype=np.float64), np.asarray(to_white, dtype=np.float64))
    flat = colours.reshape(-1, 3)
    adapted = apply_chromatic_adaptation(flat[:, 0], flat[:, 1], flat[:, 2], *whites, adaptation="bradford")
    return np.stack(adapted, axis=-1).reshape(colours.shape)


def lab_under(lab: npt.ArrayLike, light: str) -> FloatArray:
    """The look of surfaces under a lamp, predicted from their colour in daylight.

    Parameters
    ----------
    lab : array_like, shape (..., 3)
        Lab (D65, 2 degree observer).
    light : str
        Name of an illuminant.

    Returns
    -------
    ndarray, shape (..., 3)
        L*a*b* relative to the lamp's own white, to which the eye has adapted.

    Raises
    ------
    KeyError
        If there is no such illuminant.
    """
    white = np.array(illuminants()[light].xyz)
    return xyz_to_lab(adapt(lab_to_xyz(lab), D65_XYZ, white), white)


def de00_under_lights(lab_1: npt.ArrayLike, lab_2: npt.ArrayLike) -> dict[str, FloatArray]:
    """CIEDE2000 of pairs of surfaces in daylight, under shop light and by an evening lamp.

    Parameters
    ----------
    lab_1, lab_2 : array_like, shape (..., 3)
        Lab (D65, 2 degree observer). Leading axes broadcast.

    Returns
    -------
    dict from the names in ``LIGHTS`` to ndarray, shape (...)
        The least of the illuminants that stand for each.
    """
    return {
        name: np.min(
            [delta_e_2000(lab_under(lab_1, light), lab_under(lab_2, light)) for light in lights], axis=0
        )
        for name, lights in LIGHTS.items()
    }
