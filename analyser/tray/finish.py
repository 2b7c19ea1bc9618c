"""What finish a pile of beads seems to have, guessed from how its light is spread.

Only a guess: one photo shows gloss, not glass. Linear light with sRGB primaries.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from analyser.arrays import FloatArray
from analyser.colour.spaces import relative_luminance

# Chosen on 104 path-traced piles (coats from polished to chalky, tinted mirrors, clear tinted glass): 8 of 8
# metallic ones are called so and none else; transparent 3 of 5 and 10 others; matte 11 of 46 dull ones (chalk
# to satin) and 1 other, for a dull pile of little chroma cannot be told.
_GLINT = (
    3.4  # 99th percentile of luminance over the median: glass or a mirror; coats on light beads have less
)
_MIRROR_LINEAR = 0.38  # how far glints rise above the pile, white being 1: a coat's reflect a few hundredths
_LIT_THROUGH = 0.37  # 10th percentile over the median: light inside glass fills the shade between beads
_DULL_GLINT = 3.2  # up to which a pile may be matte
_SAME_TINT = 0.93  # saturation of the brightest twentieth over the pile's: gloss is the lamp's colour
_TINTED = 0.15  # saturation below which that says nothing


def guess(linear: npt.ArrayLike) -> str:
    """Guess the finish from a pile's bead pixels.

    Parameters
    ----------
    linear : array_like, shape (n, 3)
        Calibrated linear light of bead pixels, white 1.

    Returns
    -------
    str
        ``metallic``, ``transparent``, ``matte`` or ``opaque``, words of ``bead.FINISHES``.
    """
    pixels = np.asarray(linear, float)
    luminance = np.maximum(relative_luminance(pixels), 1e-5)
    shade, usual, bright, glint = np.percentile(luminance, (10, 50, 95, 99))
    if glint > _GLINT * usual and glint - usual > _MIRROR_LINEAR:
        return "metallic"
    if glint > _GLINT * usual and shade > _LIT_THROUGH * usual:
        return "transparent"
    middle = np.percentile(luminance, (40, 70))
    plain = _saturation(pixels[(luminance >= middle[0]) & (luminance <= middle[1])])
    top = _saturation(pixels[luminance >= bright])
    if glint < _DULL_GLINT * usual and plain > _TINTED and top > _SAME_TINT * plain:
        return "matte"
    return "opaque"


def _saturation(pixels: FloatArray) -> float:
    mean = pixels.mean(axis=0)
    return float(1 - mean.min() / max(float(mean.max()), 1e-6))
