"""Colours written as ``#rrggbb``, without NumPy: its import takes longer than a short list does.

Sources
-------
[1] IEC 61966-2-1:1999 (sRGB): the curve.
[2] W3C CSS Color Module Level 4, sample code for colour conversions: the matrix as exact ratios of the
    primaries in [1]; each row sums to the white.
[3] CIE 15:2018, section 8.2.1 (L*a*b*), with the exact constants (6/29)^3 and (29/3)^3.
"""

from __future__ import annotations

import math
from functools import cache

from analyser.arrays import Lab

#: [2]
LINEAR_SRGB_TO_XYZ = (
    (506752 / 1228815, 87881 / 245763, 12673 / 70218),
    (87098 / 409605, 175762 / 245763, 12673 / 175545),
    (7918 / 409605, 87881 / 737289, 1001167 / 1053270),
)
_DELTA = 6.0 / 29.0  # [3]


def hex_to_lab(text: str) -> Lab:
    """CIE 1976 L*a*b* (D65, 2 degree observer) of ``#rrggbb`` or ``rrggbb``.

    Raises
    ------
    ValueError
        If the text is not six hexadecimal digits.

    >>> [round(part, 4) for part in hex_to_lab("#808080")]
    [53.585, 0.0, 0.0]
    """
    digits = text.strip().removeprefix("#")
    if len(digits) != 6 or any(digit not in "0123456789abcdefABCDEF" for digit in digits):
        raise ValueError(f"a colour is written #rrggbb, six hexadecimal digits; got {text!r}")
    red, green, blue = (_linear(code) for code in bytes.fromhex(digits))
    x, y, z = (_root((r * red + g * green + b * blue) / (r + g + b)) for r, g, b in LINEAR_SRGB_TO_XYZ)
    return 116.0 * y - 16.0, 500.0 * (x - y), 200.0 * (y - z)


@cache
def _linear(code: int) -> float:
    """Linear light of one of the 256 codes, 0 to 1 [1]."""
    encoded = code / 255.0
    return encoded / 12.92 if encoded <= 0.04045 else math.pow((encoded + 0.055) / 1.055, 2.4)


def _root(ratio: float) -> float:
    """The cube root, straight near black [3]."""
    return math.cbrt(ratio) if ratio > _DELTA**3 else ratio / (3 * _DELTA**2) + 4 / 29
