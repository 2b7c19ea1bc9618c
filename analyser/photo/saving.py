"""Saves a calibrated photo for a shop's page: tagged sRGB, upright, without the place it was taken at."""

from __future__ import annotations

import io
from pathlib import Path
from typing import Literal

import numpy as np

from analyser.arrays import BoolArray, FloatArray
from analyser.colour.spaces import linear_to_srgb, linear_to_xyz
from analyser.errors import OptionError
from analyser.files import is_stream, write_whole
from analyser.imaging.encoding import srgb_profile
from analyser.photo.reading import Photo

_FORMATS: dict[str, Literal["JPEG", "PNG"]] = {".jpg": "JPEG", ".jpeg": "JPEG", ".png": "PNG"}
_HALF_STEP = 0.5 / 255  # a channel beyond sRGB by less than this rounds onto its edge
_ROWS = 256  # encoded at a time, to keep a large photo's double-precision copies small


def save_corrected(photo: Photo, path: Path) -> str:
    """Write the photo as 8-bit sRGB JPEG or PNG with its profile embedded and no other metadata.

    The file appears whole or not at all; one of that name is replaced, the photo itself never.

    Parameters
    ----------
    photo : Photo
        Its ``linear`` is saved as it is, at the size it was read.
    path : Path
        Ends in ``.jpg``, ``.jpeg`` or ``.png``.

    Returns
    -------
    str
        One line: what was saved, and the share of pixels whose colour sRGB cannot show.

    Raises
    ------
    OptionError
        If the ending is another, the path is the photo itself, or it cannot be written.
    """
    form = _FORMATS.get(path.suffix.lower(), "JPEG" if is_stream(path) else None)
    if form is None:
        raise OptionError(f"{path}: a corrected photo is saved as .jpg or .png")
    if path.exists() and Path(photo.file).exists() and path.samefile(photo.file):
        raise OptionError(f"{path}: is the photo itself; save the corrected one under another name")
    height, width = photo.linear.shape[:2]
    data, share = corrected_file(photo, form)
    write_whole(path, data)
    says = (
        "every colour fits"
        if not share
        else f"{share:.2%} of its pixels lie beyond sRGB and were dulled to fit"
    )
    return f"{path}: corrected photo saved, {width} x {height}, sRGB; {says}"


def corrected_file(photo: Photo, form: Literal["JPEG", "PNG"] = "JPEG") -> tuple[bytes, float]:
    """The photo as a file of 8-bit sRGB with its profile embedded and no other metadata.

    Parameters
    ----------
    photo : Photo
        Its ``linear`` at the size it was read.
    form : str
        ``JPEG`` or ``PNG``.

    Returns
    -------
    (bytes, float)
        The file; the share of pixels, 0..1, whose colour sRGB cannot show.
    """
    from PIL import Image

    height, width = photo.linear.shape[:2]
    srgb_u8 = np.empty((height, width, 3), np.uint8)
    mapped = 0
    for top in range(0, height, _ROWS):
        rows = np.s_[top : top + _ROWS]
        inside, beyond = into_srgb(photo.linear[rows])
        if photo.opaque is not None:
            inside[~photo.opaque[rows]] = 1.0
            beyond &= photo.opaque[rows]
        srgb_u8[rows] = np.round(255 * linear_to_srgb(inside))
        mapped += int(beyond.sum())
    picture = Image.fromarray(srgb_u8)
    encoded = io.BytesIO()
    finest = {"quality": 93, "subsampling": 0} if form == "JPEG" else {}
    picture.save(encoded, form, icc_profile=srgb_profile(), **finest)
    return encoded.getvalue(), mapped / (height * width)


def into_srgb(linear: FloatArray) -> tuple[FloatArray, BoolArray]:
    """Linear sRGB brought into the gamut by mixing in grey of the same luminance.

    Returns
    -------
    inside : ndarray, shape (..., 3)
        Every channel in [0, 1].
    beyond : bool ndarray, shape (...)
        Where a channel had been outside by more than half an eight-bit step.
    """
    light = np.asarray(linear, np.float64)
    encoded = linear_to_srgb(light)
    beyond = np.asarray(((encoded < -_HALF_STEP) | (encoded > 1 + _HALF_STEP)).any(axis=-1))
    inside = np.clip(light, 0, 1)
    if beyond.any():
        out = light[beyond]
        grey = np.clip(linear_to_xyz(out)[:, 1:2], 0, 1)
        away = out - grey
        # how far along from grey to the colour every channel still fits
        with np.errstate(divide="ignore", invalid="ignore"):
            room = np.where(away > 0, (1 - grey) / away, np.where(away < 0, -grey / away, np.inf))
        inside[beyond] = np.clip(grey + np.clip(room.min(axis=-1, keepdims=True), 0, 1) * away, 0, 1)
    return inside, beyond
