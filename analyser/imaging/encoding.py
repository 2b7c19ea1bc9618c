"""Linear light as the pixels and files that screens show.

Pictures are encoded from pixels, never copied from files: whatever a file carried besides its pixels
(place, camera, thumbnail) stays behind. Every picture carries an sRGB profile.

Sources
-------
ICC.1:2022, section 7.2: the profile header (bytes 24 to 35 hold the date).
"""

from __future__ import annotations

import io
from functools import cache

import numpy as np
import numpy.typing as npt

from analyser.arrays import FloatArray
from analyser.colour import spaces
from analyser.imaging.downscale import downscale

U8Array = npt.NDArray[np.uint8]


@cache
def srgb_profile() -> bytes:
    """An ICC profile of sRGB, the same bytes on every day (its date is left blank)."""
    from PIL import ImageCms

    made = bytearray(ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes())
    made[24:36] = bytes(12)
    return bytes(made)


def png_bytes(pixels: U8Array) -> bytes:
    """A PNG of sRGB pixels, shape (h, w, 3) or with alpha (h, w, 4), tagged as sRGB."""
    from PIL import Image

    out = io.BytesIO()
    # Packed less hard than usual: a third of the time for 4 % more bytes.
    Image.fromarray(np.ascontiguousarray(pixels)).save(
        out, "PNG", icc_profile=srgb_profile(), compress_level=3
    )
    return out.getvalue()


def jpeg_bytes(pixels: U8Array, quality: int = 88) -> bytes:
    """A JPEG of sRGB pixels (h, w, 3), tagged as sRGB, its colour at full resolution, no metadata."""
    from PIL import Image

    out = io.BytesIO()
    # Colour is the subject: chroma at half resolution greys single beads.
    Image.fromarray(np.ascontiguousarray(pixels)).save(
        out, "JPEG", quality=quality, subsampling=0, optimize=True, icc_profile=srgb_profile()
    )
    return out.getvalue()


def picture_u8(linear: FloatArray, longest_px: int | None = None) -> U8Array:
    """Linear light (h, w, 3), sRGB primaries, as sRGB pixels, made smaller in linear light if need be.

    Parameters
    ----------
    linear : array, shape (h, w, 3)
        1.0 is white; values beyond [0, 1] are clipped after the scaling.
    longest_px : int, optional
        The longer side of the result at most.
    """
    return srgb_u8(linear if longest_px is None else downscale(linear, longest_px))


def srgb_u8(linear: FloatArray) -> U8Array:
    """Linear light as eight-bit sRGB, by a table of 65536 steps: within half a step of the exact curve."""
    steps = np.clip(linear, 0.0, 1.0) * np.float32(65535.0) + np.float32(0.5)
    picture: U8Array = _encoding_table()[steps.astype(np.uint16)]
    return picture


@cache
def _encoding_table() -> U8Array:
    light = np.repeat(np.linspace(0.0, 1.0, 65536)[:, None], 3, axis=1)
    table: U8Array = np.round(spaces.linear_to_srgb(light)[:, 0] * 255.0).astype(np.uint8)
    return table
