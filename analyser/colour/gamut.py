"""Colours that a screen cannot show, as the nearest that it can.

The nearest is that of least CIEDE2000. Lab is CIE 1976 L*a*b*, D65, 2 degree observer.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import numpy.typing as npt

from analyser.arrays import FloatArray
from analyser.colour.difference import delta_e_2000
from analyser.colour.spaces import (
    display_p3_to_linear,
    lab_to_linear,
    lab_to_srgb,
    linear_to_display_p3,
    linear_to_lab,
    srgb_to_lab,
)

_Conversion = Callable[[npt.ArrayLike], FloatArray]

# A colour less than half an eight-bit step outside rounds onto the edge and counts as inside.
_HALF_STEP = 0.5 / 255.0


def lab_to_hex(lab: npt.ArrayLike) -> tuple[str, bool]:
    """One colour as the nearest ``#rrggbb`` and whether it lies within sRGB.

    Parameters
    ----------
    lab : array_like, shape (3,)

    Returns
    -------
    hex : str
        In lower case. Beyond sRGB: the sRGB colour of least CIEDE2000 to it.
    in_srgb : bool
        False where the colour had to be mapped.
    """
    colour = np.asarray(lab, dtype=np.float64)
    if colour.shape != (3,):
        raise ValueError(f"lab must be one L*, a*, b*; got shape {colour.shape}")
    srgb = lab_to_srgb(colour)
    inside = bool(np.all((srgb >= -_HALF_STEP) & (srgb <= 1.0 + _HALF_STEP)))
    if not inside:
        srgb = _nearest_inside(colour, lab_to_srgb, srgb_to_lab)
    red, green, blue = (round(float(part) * 255.0) for part in np.clip(srgb, 0.0, 1.0))
    return f"#{red:02x}{green:02x}{blue:02x}", inside


def lab_to_display_p3(lab: npt.ArrayLike) -> tuple[FloatArray, bool]:
    """One colour as Display P3 components for CSS ``color(display-p3 r g b)``, and whether it fits.

    Parameters
    ----------
    lab : array_like, shape (3,)

    Returns
    -------
    display_p3 : ndarray, shape (3,), in [0, 1]
        Beyond Display P3: the colour within it of least CIEDE2000.
    in_display_p3 : bool
        False where the colour had to be mapped.
    """
    colour = np.asarray(lab, dtype=np.float64)
    if colour.shape != (3,):
        raise ValueError(f"lab must be one L*, a*, b*; got shape {colour.shape}")
    components = linear_to_display_p3(lab_to_linear(colour))
    inside = bool(np.all((components >= -_HALF_STEP) & (components <= 1.0 + _HALF_STEP)))
    if not inside:
        components = _nearest_inside(
            colour,
            lambda values: linear_to_display_p3(lab_to_linear(values)),
            lambda values: linear_to_lab(display_p3_to_linear(values)),
        )
    return np.clip(components, 0.0, 1.0), inside


def _nearest_inside(lab: FloatArray, encode: _Conversion, decode: _Conversion) -> FloatArray:
    """The encoded colour in the unit cube of least CIEDE2000 to ``lab``, to a quarter of an eight-bit step.

    A pattern search over the 26 neighbours in the cube, from the best of three starts: the clipped colour,
    and the colours of the same lightness and hue, and of the same hue alone, drawn in until they fit.
    """
    lightness = np.clip(lab[0], 0.0, 100.0)
    shrink = np.linspace(0.0, 1.0, 257)[:, None]
    drawn_in = lab * [0.0, 1.0, 1.0] * shrink + [lightness, 0.0, 0.0]
    to_grey = lab * shrink + np.array([50.0, 0.0, 0.0]) * (1.0 - shrink)
    starts = np.clip(np.vstack([encode(lab), encode(drawn_in), encode(to_grey)]), 0.0, 1.0)
    steps = np.stack(np.meshgrid(*[[-1.0, 0.0, 1.0]] * 3, indexing="ij"), axis=-1).reshape(-1, 3)
    start_de00 = delta_e_2000(decode(starts), lab)
    here, least = starts[np.argmin(start_de00)], float(np.min(start_de00))
    step = 1.0 / 16.0
    while step >= 0.25 / 255.0:
        around = np.clip(here + step * steps, 0.0, 1.0)
        de00 = delta_e_2000(decode(around), lab)
        if float(np.min(de00)) < least:
            here, least = around[np.argmin(de00)], float(np.min(de00))
        else:
            step /= 2.0
    return np.asarray(here, dtype=np.float64)
