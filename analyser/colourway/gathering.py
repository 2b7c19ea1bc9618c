"""Pixels gathered for their palette: all of the work that does not depend on how many colours are wanted.

Where to put the centres is decided on a small, evenly averaged picture, on which a photo, its half-size
copy and its JPEG agree; the colours themselves are read from all the pixels. Nothing here opens a file.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import cv2
import numpy as np
import numpy.typing as npt

from analyser.arrays import BoolArray, FloatArray
from analyser.colour import spaces
from analyser.colourway import accents, clustering
from analyser.imaging.downscale import downscale_masked
from analyser.photo.subject import is_plain

# Pixels of the small picture on which the centres are decided: fewer than in a quarter-size copy of 0.6 MP.
_SMALL = 20_000
# Colours the pixels are gathered into: the sum of squares then comes out within 0.1 % (measured).
_FINE, _COARSE = 8_000, 3_000
# Colours by which is told how full a colour's neighbourhood is.
_FEW = 250

#: The space of the centres, where accents are kept: lightness counts less than hue.
SCALE = np.array([accents.LIGHTNESS, 1.0, 1.0])


@dataclass(frozen=True, slots=True, eq=False)
class Weighed:
    """What keeping small vivid things needs; colours in the space of the centres (lightness scaled).

    Attributes
    ----------
    coarse, fine : ndarray, shape (n, 3)
        Colours of the small picture, and of all the pixels.
    coarse_weights, fine_weights : ndarray, shape (n,)
        Their pixels, those of rare colours counted more.
    things : ndarray, shape (c, 3)
        Colours of the small things that stand out, the most seen first.
    """

    coarse: FloatArray
    coarse_weights: FloatArray
    fine: FloatArray
    fine_weights: FloatArray
    things: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class Gathered:
    """Pixels, gathered.

    Attributes
    ----------
    width : int
        Of the picture they were gathered from.
    planes : three float32 ndarrays, shape (h, w)
        L*, a* and b* of the small picture.
    inside : bool ndarray, shape (h, w)
        Where it counts.
    lab : ndarray, shape (n, 3)
        Colours of all the pixels.
    count : ndarray, shape (n,)
        Their number of pixels.
    plain : bool
        Whether all of it is of one colour.
    weighed : Weighed or None
        None where small things are not to be kept.
    """

    width: int
    planes: tuple[npt.NDArray[np.float32], ...]
    inside: BoolArray
    lab: FloatArray
    count: FloatArray
    plain: bool
    weighed: Weighed | None


def gathered(
    linear: npt.NDArray[np.float32], *, mask: BoolArray | None = None, keep_accents: bool = True
) -> Gathered:
    """Gather pixels for their palette.

    Parameters
    ----------
    linear : float32 ndarray, shape (h, w, 3)
        Linear light, sRGB primaries.
    mask : bool ndarray, shape (h, w), optional
        Pixels that count; at least one.
    keep_accents : bool
        Look for small vivid areas as well.

    Raises
    ------
    ValueError
        If ``linear`` has not the shape (h, w, 3), or no pixel counts.
    """
    if linear.ndim != 3 or linear.shape[2] != 3:
        raise ValueError(f"linear must have the shape (h, w, 3); got {linear.shape}")
    if mask is None:
        mask = np.ones(linear.shape[:2], dtype=bool)
    if not mask.any():
        raise ValueError("mask must leave at least one pixel")
    small, inside = shrunk(linear, mask, _SMALL)
    planes = _lab_planes(small)
    pixels = _lab_planes(linear if mask.all() else linear[mask][:, np.newaxis])
    lab, count = clustering.gather([p.ravel() for p in pixels], _COARSE if keep_accents else _FINE)
    weighed = _weighed(small, planes, inside, lab, count) if keep_accents else None
    return Gathered(linear.shape[1], tuple(planes), inside, lab, count, is_plain(small, inside), weighed)


def _weighed(
    small: npt.NDArray[np.float32],
    planes: list[npt.NDArray[np.float32]],
    inside: BoolArray,
    lab: FloatArray,
    count: FloatArray,
) -> Weighed:
    scaled = [plane * np.float32(part) for plane, part in zip(planes, SCALE, strict=True)]
    things = accents.small_things(small, scaled, inside) * SCALE
    coarse, seen = clustering.gather([plane[inside] for plane in planes], _COARSE)
    coarse, fine = coarse * SCALE, lab * SCALE
    few = clustering.coarser(coarse, seen, _FEW)
    return Weighed(
        coarse,
        seen * accents.emphasis(coarse, *few),
        fine,
        count * accents.emphasis(fine, *few),
        things,
    )


def _lab_planes(linear: npt.NDArray[np.float32]) -> list[npt.NDArray[np.float32]]:
    """L*, a* and b* of linear light as three float32 planes; to 1e-4 those of ``spaces.linear_to_lab``."""
    matrix = (spaces.LINEAR_SRGB_TO_XYZ / spaces.D65_XYZ[:, np.newaxis]).astype(np.float32)
    xyz = cv2.transform(np.ascontiguousarray(linear, dtype=np.float32), matrix)
    delta = np.float32(6 / 29)
    f = np.where(xyz > delta**3, np.cbrt(xyz), xyz / (3 * delta * delta) + np.float32(4 / 29))
    x, y, z = cv2.split(f)
    return [np.asarray(plane) for plane in (116 * y - 16, 500 * (x - y), 200 * (y - z))]


def shrunk(
    linear: npt.NDArray[np.float32], mask: BoolArray, pixels: int
) -> tuple[npt.NDArray[np.float32], BoolArray]:
    """Averaged in linear light so that about so many pixels count; of the counted pixels alone.

    Parameters
    ----------
    linear : float32 ndarray, shape (h, w, 3)
    mask : bool ndarray, shape (h, w)
    pixels : int
        Fewer are left as they are.
    """
    shrink = math.sqrt(mask.sum() / pixels)
    if shrink <= 1:
        return linear, mask
    height, width = mask.shape
    size = max(1, round(width / shrink)), max(1, round(height / shrink))
    light, cover = downscale_masked(linear, mask, size)
    return light, cover >= min(0.5, float(cover.max()))
