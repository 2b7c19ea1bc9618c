"""Pictures and colours in the form a self-contained page holds them: data URIs and CSS values.

Pictures are encoded from pixels, never copied from files: whatever a file carried besides its pixels
(place, camera, thumbnail) stays behind. Every picture carries an sRGB profile. Colours are written as
CSS ``color(srgb ...)``; those beyond sRGB also as ``color(display-p3 ...)``. CSS ``lab()`` is never used:
it is relative to D50, while Lab here means D65.

Sources
-------
CSS Color Module Level 4, W3C, section 10: the ``color()`` function and its predefined spaces.
ICC.1:2022, section 7.2: the profile header (bytes 24 to 35 hold the date).
"""

from __future__ import annotations

import base64
import io
from functools import cache

import cv2
import numpy as np
import numpy.typing as npt

from analyser.arrays import FloatArray
from analyser.colour import gamut, spaces

U8Array = npt.NDArray[np.uint8]


@cache
def srgb_profile() -> bytes:
    """An ICC profile of sRGB, the same bytes on every day (its date is left blank)."""
    from PIL import ImageCms

    made = bytearray(ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes())
    made[24:36] = bytes(12)
    return bytes(made)


def png_bytes(srgb_u8: U8Array) -> bytes:
    """A PNG of sRGB pixels, shape (h, w, 3) or with alpha (h, w, 4), tagged as sRGB."""
    from PIL import Image

    out = io.BytesIO()
    Image.fromarray(np.ascontiguousarray(srgb_u8)).save(out, "PNG", icc_profile=srgb_profile())
    return out.getvalue()


def jpeg_bytes(srgb_u8: U8Array, quality: int = 88) -> bytes:
    """A JPEG of sRGB pixels (h, w, 3), tagged as sRGB, its colour at full resolution, no metadata."""
    from PIL import Image

    out = io.BytesIO()
    # Colour is the subject: chroma at half resolution greys single beads.
    Image.fromarray(np.ascontiguousarray(srgb_u8)).save(
        out, "JPEG", quality=quality, subsampling=0, optimize=True, icc_profile=srgb_profile()
    )
    return out.getvalue()


def data_uri(encoded: bytes) -> str:
    """A ``data:`` URI of a PNG or JPEG file's bytes."""
    kind = "png" if encoded.startswith(b"\x89PNG") else "jpeg"
    return f"data:image/{kind};base64,{base64.b64encode(encoded).decode('ascii')}"


def picture_u8(linear: FloatArray, longest_px: int | None = None) -> U8Array:
    """Linear light (h, w, 3), sRGB primaries, as sRGB pixels, made smaller in linear light if need be.

    Parameters
    ----------
    linear : array, shape (h, w, 3)
        1.0 is white; values beyond [0, 1] are clipped after the scaling.
    longest_px : int, optional
        The longer side of the result at most.
    """
    height, width = linear.shape[:2]
    if longest_px is not None and max(height, width) > longest_px:
        scale = longest_px / max(height, width)
        size = (max(1, round(width * scale)), max(1, round(height * scale)))
        return encoded_u8(np.asarray(cv2.resize(linear, size, interpolation=cv2.INTER_AREA)))
    return encoded_u8(linear)


def encoded_u8(linear: FloatArray) -> U8Array:
    """Linear light as eight-bit sRGB, by a table of 65536 steps: within half a step of the exact curve."""
    steps = np.clip(linear, 0.0, 1.0) * np.float32(65535.0) + np.float32(0.5)
    picture: U8Array = _encoding_table()[steps.astype(np.uint16)]
    return picture


@cache
def _encoding_table() -> U8Array:
    light = np.repeat(np.linspace(0.0, 1.0, 65536)[:, None], 3, axis=1)
    table: U8Array = np.round(spaces.linear_to_srgb(light)[:, 0] * 255.0).astype(np.uint8)
    return table


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
