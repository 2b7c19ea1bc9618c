"""Conversions between the colour spaces this project uses, on plain arrays.

Pure functions: arrays in, float64 arrays out; nothing here opens a file.
Conventions, everywhere: the last axis holds the three components, leading axes are free.

- ``srgb``: sRGB as encoded in files, in [0, 1]; beyond that the curve goes on mirrored, as [3] has it.
- ``linear``: linear light on the sRGB primaries, 1.0 = white; below 0 or above 1 is a colour beyond sRGB.
- ``display_p3``: Display P3 as encoded in files: wider primaries, the curve and white of sRGB.
- ``xyz``: CIE 1931 2 degree observer, relative to D65, white has Y = 1.
- ``lab``: CIE 1976 L*a*b*, D65, 2 degree observer, L* in [0, 100].

The white of Lab is the white of the matrices (D65 from x = 0.3127, y = 0.3290), so that neutral RGB has
a* = b* = 0 exactly; libraries that take the five-decimal white differ by up to 0.01.

Sources
-------
[1] IEC 61966-2-1:1999 (sRGB): primaries, white, transfer curve.
[2] SMPTE EG 432-1:2010 (primaries of Display P3).
[3] W3C CSS Color Module Level 4, sample code for colour conversions: the two matrices as exact ratios of
    the primaries in [1] and [2], and the curve continued for negative values.
[4] CIE 15:2018, section 8.2.1 (L*a*b*), with the exact constants (6/29)^3 and (29/3)^3.
[5] W3C WCAG 2.2, definitions of relative luminance and of contrast ratio.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from analyser.arrays import FloatArray
from analyser.colour import codes

LINEAR_SRGB_TO_XYZ: FloatArray = np.array(codes.LINEAR_SRGB_TO_XYZ)
# [3]: exact ratios, as there.
XYZ_TO_LINEAR_SRGB: FloatArray = np.array(
    [
        [12831 / 3959, -329 / 214, -1974 / 3959],
        [-851781 / 878810, 1648619 / 878810, 36519 / 878810],
        [705 / 12673, -2585 / 12673, 705 / 667],
    ]
)
LINEAR_P3_TO_XYZ: FloatArray = np.array(
    [
        [608311 / 1250200, 189793 / 714400, 198249 / 1000160],
        [35783 / 156275, 247089 / 357200, 198249 / 2500400],
        [0.0, 32229 / 714400, 5220557 / 5000800],
    ]
)
LINEAR_P3_TO_LINEAR_SRGB: FloatArray = XYZ_TO_LINEAR_SRGB @ LINEAR_P3_TO_XYZ
LINEAR_SRGB_TO_LINEAR_P3: FloatArray = np.asarray(np.linalg.inv(LINEAR_P3_TO_LINEAR_SRGB), dtype=np.float64)

D65_XYZ: FloatArray = LINEAR_SRGB_TO_XYZ.sum(axis=1)

_WCAG_WEIGHTS: FloatArray = np.array([0.2126, 0.7152, 0.0722])  # [5]: four decimals, on purpose
_DELTA = 6.0 / 29.0  # [4]

for _constant in (
    LINEAR_SRGB_TO_XYZ,
    XYZ_TO_LINEAR_SRGB,
    LINEAR_P3_TO_XYZ,
    LINEAR_P3_TO_LINEAR_SRGB,
    LINEAR_SRGB_TO_LINEAR_P3,
    D65_XYZ,
):
    _constant.setflags(write=False)


def triples(values: npt.ArrayLike, name: str, parts: str) -> FloatArray:
    """``values`` as float64, checked to hold three components on the last axis.

    Parameters
    ----------
    values : array_like, shape (..., 3)
    name, parts : str
        How an error names the array and its components.

    Raises
    ------
    ValueError
        If the last axis is not of size 3.
    """
    array = np.asarray(values, dtype=np.float64)
    if array.ndim == 0 or array.shape[-1] != 3:
        raise ValueError(f"{name} must hold {parts} on its last axis; got shape {array.shape}")
    return array


def srgb_to_linear(srgb: npt.ArrayLike) -> FloatArray:
    """Decode the sRGB curve [1]; shape (..., 3) in and out.

    >>> round(float(srgb_to_linear([0.5, 0.5, 0.5])[0]), 6)
    0.214041
    """
    encoded = triples(srgb, "srgb", "red, green, blue")
    size = np.abs(encoded)
    return np.copysign(np.where(size <= 0.04045, size / 12.92, ((size + 0.055) / 1.055) ** 2.4), encoded)


def linear_to_srgb(linear: npt.ArrayLike) -> FloatArray:
    """Encode linear light by the sRGB curve [1]; shape (..., 3) in and out, not clipped."""
    light = triples(linear, "linear", "red, green, blue")
    size = np.abs(light)
    return np.copysign(np.where(size <= 0.0031308, 12.92 * size, 1.055 * size ** (1 / 2.4) - 0.055), light)


def linear_to_xyz(linear: npt.ArrayLike) -> FloatArray:
    """Linear sRGB to XYZ (D65, white Y = 1); shape (..., 3) in and out."""
    return triples(linear, "linear", "red, green, blue") @ LINEAR_SRGB_TO_XYZ.T


def xyz_to_linear(xyz: npt.ArrayLike) -> FloatArray:
    """XYZ (D65, white Y = 1) to linear sRGB; shape (..., 3) in and out, not clipped."""
    return triples(xyz, "xyz", "X, Y, Z") @ XYZ_TO_LINEAR_SRGB.T


def xyz_to_lab(xyz: npt.ArrayLike, white: npt.ArrayLike = D65_XYZ) -> FloatArray:
    """XYZ to L*a*b* relative to ``white`` [4]; shape (..., 3) in and out.

    Negative XYZ, as colours beyond sRGB can have after a matrix, stays on the straight part of the curve.
    """
    ratio = triples(xyz, "xyz", "X, Y, Z") / triples(white, "white", "X, Y, Z")
    f = np.where(ratio > _DELTA**3, np.cbrt(ratio), ratio / (3 * _DELTA**2) + 4 / 29)
    lab = np.empty_like(f)
    lab[..., 0] = 116.0 * f[..., 1] - 16.0
    lab[..., 1] = 500.0 * (f[..., 0] - f[..., 1])
    lab[..., 2] = 200.0 * (f[..., 1] - f[..., 2])
    return lab


def lab_to_xyz(lab: npt.ArrayLike, white: npt.ArrayLike = D65_XYZ) -> FloatArray:
    """L*a*b* to XYZ relative to ``white`` [4]; shape (..., 3) in and out."""
    values = triples(lab, "lab", "L*, a*, b*")
    f = np.empty_like(values)
    f[..., 1] = (values[..., 0] + 16.0) / 116.0
    f[..., 0] = f[..., 1] + values[..., 1] / 500.0
    f[..., 2] = f[..., 1] - values[..., 2] / 200.0
    ratio = np.where(f > _DELTA, f**3, 3 * _DELTA**2 * (f - 4 / 29))
    return ratio * triples(white, "white", "X, Y, Z")


def linear_to_lab(linear: npt.ArrayLike) -> FloatArray:
    """Linear sRGB to L*a*b*; shape (..., 3) in and out.

    >>> linear_to_lab([1.0, 1.0, 1.0]).round(9).tolist()
    [100.0, 0.0, 0.0]
    """
    return xyz_to_lab(linear_to_xyz(linear))


def lab_to_linear(lab: npt.ArrayLike) -> FloatArray:
    """L*a*b* to linear sRGB; shape (..., 3) in and out, not clipped."""
    return xyz_to_linear(lab_to_xyz(lab))


def srgb_to_lab(srgb: npt.ArrayLike) -> FloatArray:
    """Encoded sRGB to L*a*b*; shape (..., 3) in and out."""
    return linear_to_lab(srgb_to_linear(srgb))


def lab_to_srgb(lab: npt.ArrayLike) -> FloatArray:
    """L*a*b* to encoded sRGB; shape (..., 3) in and out, not clipped: outside [0, 1] it is beyond sRGB."""
    return linear_to_srgb(lab_to_linear(lab))


def display_p3_to_linear(display_p3: npt.ArrayLike) -> FloatArray:
    """Encoded Display P3 to linear sRGB primaries; shape (..., 3) in and out, not clipped.

    >>> display_p3_to_linear([1.0, 1.0, 1.0]).round(9).tolist()
    [1.0, 1.0, 1.0]
    """
    return srgb_to_linear(triples(display_p3, "display_p3", "red, green, blue")) @ LINEAR_P3_TO_LINEAR_SRGB.T


def linear_to_display_p3(linear: npt.ArrayLike) -> FloatArray:
    """Linear sRGB primaries to encoded Display P3; shape (..., 3) in and out, not clipped."""
    return linear_to_srgb(triples(linear, "linear", "red, green, blue") @ LINEAR_SRGB_TO_LINEAR_P3.T)


def relative_luminance(linear: npt.ArrayLike) -> FloatArray:
    """Relative luminance of linear sRGB as WCAG weighs it [5]: shape (..., 3) to (...), white is 1."""
    light = triples(linear, "linear", "red, green, blue")
    luminance: FloatArray = np.clip(light, 0.0, 1.0) @ _WCAG_WEIGHTS
    return luminance


def contrast_ratio(linear_1: npt.ArrayLike, linear_2: npt.ArrayLike) -> FloatArray:
    """WCAG contrast ratio of two colours in linear sRGB [5].

    Parameters
    ----------
    linear_1, linear_2 : array_like, shape (..., 3)
        Leading axes broadcast; what lies beyond sRGB is clipped, as on a screen.

    Returns
    -------
    ndarray, shape (...)
        1 (no contrast) to 21 (black on white), the same with the arguments swapped.
    """
    one, two = relative_luminance(linear_1), relative_luminance(linear_2)
    return np.asarray((np.maximum(one, two) + 0.05) / (np.minimum(one, two) + 0.05), dtype=np.float64)


def hex_to_lab(text: str) -> FloatArray:
    """L*a*b* of ``#rrggbb`` or ``rrggbb``, shape (3,): what ``codes.hex_to_lab`` tells.

    Raises
    ------
    ValueError
        If the text is not six hexadecimal digits.
    """
    return np.array(codes.hex_to_lab(text))
