"""Colours under another light than daylight.

What a surface looks like under a lamp needs its spectrum. With its colour in daylight alone, what surfaces
have in common gives the best guess: dyes and pigments have smooth spectra, so a lamp moves reds, greens and
blues each in its own way. Chromatic adaptation does not know that, and foretold nothing under fluorescent
lamps. So the looks of a chart's 24 patches under each lamp [3] are fitted by their XYZ in daylight and the
square roots of its products [4], which keeps white, black and greys. How far the guess goes wrong is
measured on patches left out of the fit (``benchmarks/lamps.py``): 1.1 CIEDE2000 on average, more for a dye of
another kind, so the answer is a warning, never a promise.

Sources
-------
[1] Lam (1985) / ICC.1: the Bradford transform, here by the colormath library.
[2] CIE 15:2018: white points of the illuminants, 2 degree observer (``data/illuminants.csv``).
[3] Reflectances measured by N. Ohta, The Basis of Color Reproduction Engineering (1997), as in ISO 17321-1.
[4] Finlayson, Mackiewicz, Hurlbert (2015), IEEE Trans. Image Process. 24(5), 1460-1470: root-polynomial
    regression, which does not change with exposure. Coefficients in ``data/surfaces.csv``.
"""

from __future__ import annotations

import csv
import functools
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
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

BEYOND_PREDICTION_DE00 = 1.1
"""How far a surface's colour moves beyond the prediction on average, under the lamps of ``LIGHTS``."""


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
    text = (Path(__file__).with_name("data") / "illuminants.csv").read_text(encoding="utf-8")
    lights = {}
    for row in csv.DictReader(text.splitlines()):
        xyz = (float(row["X"]), float(row["Y"]), float(row["Z"]))
        lights[row["name"]] = Illuminant(row["name"], xyz, float(row["cct_k"]), row["stands_for"])
    return MappingProxyType(lights)


@functools.cache
def _surfaces() -> Mapping[str, FloatArray]:
    """What the ``terms`` of a surface in daylight count for X, Y and Z under each lamp, shape (3, 6)."""
    text = (Path(__file__).with_name("data") / "surfaces.csv").read_text(encoding="utf-8")
    rows: dict[str, list[list[float]]] = {}
    for row in csv.reader(text.splitlines()[1:]):
        rows.setdefault(row[0], []).append([float(value) for value in row[2:]])
    return MappingProxyType({name: np.array(values) for name, values in rows.items()})


def terms(xyz: npt.ArrayLike) -> FloatArray:
    """X, Y, Z relative to the white, and the square roots of XY, YZ and ZX [4]: shape (..., 6)."""
    light = np.maximum(triples(xyz, "xyz", "X, Y, Z"), 0.0)
    roots = np.sqrt(light)
    return np.concatenate([light, roots * np.roll(roots, -1, axis=-1)], axis=-1)


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

    By what surfaces have in common under lamps that are known so; by chromatic adaptation under other lights.

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
    known = _surfaces().get(light)
    if known is not None:
        seen = terms(lab_to_xyz(lab) / D65_XYZ) @ known.T
        return xyz_to_lab(np.maximum(seen, 0.0) * white, white)
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
