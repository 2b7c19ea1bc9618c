"""Pictures and colours in the form a self-contained page holds them: data URIs and CSS values.

Colours are written as CSS ``color(srgb ...)``; those beyond sRGB also as ``color(display-p3 ...)``.
CSS ``lab()`` is never used: it is relative to D50, while Lab here means D65.

Sources
-------
CSS Color Module Level 4, W3C, section 10: the ``color()`` function and its predefined spaces.
"""

from __future__ import annotations

import base64

import numpy as np
import numpy.typing as npt

from analyser.arrays import FloatArray
from analyser.colour import gamut, spaces


def data_uri(encoded: bytes) -> str:
    """A ``data:`` URI of a PNG or JPEG file's bytes."""
    kind = "png" if encoded.startswith(b"\x89PNG") else "jpeg"
    return f"data:image/{kind};base64,{base64.b64encode(encoded).decode('ascii')}"


def css_colours(lab: npt.ArrayLike) -> tuple[str, ...]:
    """CSS values of a colour (Lab, D65), the plainest first: a browser takes the last it understands.

    Within sRGB one ``color(srgb ...)`` follows the hexadecimal fallback; beyond it the mapped
    ``color(srgb ...)`` is followed by ``color(display-p3 ...)``.

    Examples
    --------
    >>> css_colours([100.0, 0.0, 0.0])
    ('#ffffff', 'color(srgb 1.0000 1.0000 1.0000)')
    """
    hex_code, in_srgb = gamut.lab_to_hex(lab)
    if in_srgb:
        parts = np.clip(spaces.lab_to_srgb(np.asarray(lab, dtype=float)), 0.0, 1.0)
        return hex_code, f"color(srgb {_numbers(parts)})"
    mapped = spaces.lab_to_srgb(spaces.hex_to_lab(hex_code))
    wide, _ = gamut.lab_to_display_p3(lab)
    return hex_code, f"color(srgb {_numbers(mapped)})", f"color(display-p3 {_numbers(wide)})"


def css_declarations(lab: npt.ArrayLike, prop: str = "background-color") -> str:
    """The declarations of ``css_colours`` for one property, to stand in a ``style`` attribute."""
    return ";".join(f"{prop}:{value}" for value in css_colours(lab))


def _numbers(parts: FloatArray) -> str:
    # + 0.0 turns a negative zero into zero.
    return " ".join(f"{float(np.clip(part, 0.0, 1.0)) + 0.0:.4f}" for part in parts)
