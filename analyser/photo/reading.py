"""A photo file becomes linear light, upright, at the size the job needs.

The format is told by the content, sizes and damage are known before anything is decoded, and the
colour is what the file declares. ``linear`` always has sRGB (Rec. 709) primaries and a D65 white;
1.0 is the file's own white.
"""

from __future__ import annotations

import hashlib
import math
import stat
from dataclasses import dataclass
from pathlib import Path
from typing import Any, TypeVar

import cv2
import numpy as np
import numpy.typing as npt

from analyser.arrays import BoolArray
from analyser.errors import PhotoError
from analyser.photo import damage, decoding, formats, profiles


@dataclass(frozen=True, slots=True, eq=False)
class Photo:
    """A photo as linear light, upright, at the size the job needs.

    Attributes
    ----------
    linear : float32 ndarray, shape (h, w, 3)
        Linear light, sRGB primaries, D65, 1.0 the file's white; below 0 or above 1 lies beyond sRGB.
    opaque : bool ndarray, shape (h, w), or None
        False where the file's alpha hides the pixel; None if it has no alpha.
    clipped : bool ndarray, shape (h, w)
        A stored channel is at its top there.
    file : str
        Name as given.
    width, height : int
        Pixels of the upright, full-size photo.
    profile : str
        The colour space the file declares, or ``"none (sRGB assumed)"``.
    orientation : int
        EXIF orientation of the file, 1 to 8, already applied.
    sha256 : str
        Of the file's bytes.
    notes : tuple of str
        What a user should know about how the file was read.
    focal_35mm : float or None
        Focal length that gives the same view on 35 mm film, in mm, where the file tells it.
    """

    linear: npt.NDArray[np.float32]
    opaque: BoolArray | None
    clipped: BoolArray
    file: str
    width: int
    height: int
    profile: str
    orientation: int
    sha256: str
    notes: tuple[str, ...] = ()
    focal_35mm: float | None = None

    @property
    def scale(self) -> float:
        """Full-size pixels per pixel of ``linear``, along a side."""
        return float(self.width / self.linear.shape[1])


Pixel = TypeVar("Pixel", bound=np.generic)

# Half a level under the top of 8 bits counts as the top: encoders ring by a level there.
_TOP = {np.dtype(np.uint8): 254, np.dtype(np.uint16): 65534}
# Pixels linearised at a time: a strip then stays in the processor's cache.
_STRIP = 250_000
# What alpha hides in part is shown from a half on; what is missing in part is not (0.999 is for rounding):
# the palette of what is left was up to 14 CIEDE2000 from that of the same part of the whole file.
_HALF, _WHOLE = 0.5, 0.999
_ROWS_OFF = "some rows of the picture look damaged and were left out; copy the file again from where it came"
# The transform domain averages encoded numbers, not light. Two decoded pixels for each one asked for
# leave the rest of the averaging to linear light: mean CIEDE2000 to a full decode over outfits and
# ropes 0.05 to 0.6 instead of 0.1 to 0.9, at 0.05 of a full decode.
_SPARE = 2.0
_NO_MEMORY = "needs more memory than there is; make it smaller"


def read(
    path: str | Path, *, about_pixels: int | None = None, limit_mp: float = 200.0, spare: float = _SPARE
) -> Photo:
    """Read a photo into linear light.

    Parameters
    ----------
    path : str or Path
        A JPEG, PNG, TIFF, WebP or HEIC file; told by its content, not by its name.
    about_pixels : int, optional
        Read at about this many pixels, averaged in linear light; full size if left out or if the
        photo has fewer. A JPEG is decoded at a half, quarter or eighth where that leaves as many.
    limit_mp : float
        Megapixels above which a photo is refused before it is decoded.
    spare : float
        A JPEG decoded smaller has so many pixels for each one asked for, at least: the fewer, the less of
        the averaging is of linear light.

    Returns
    -------
    Photo

    Raises
    ------
    PhotoError
        If there is no such file, it cannot be read, is no photo, is cut short, is too large, or of a
        kind that cannot be used (CMYK, animation, HDR curve, camera raw).
    """
    name = str(path)
    try:
        return _read(name, about_pixels, limit_mp, spare)
    except (formats.UnreadableError, MemoryError) as error:
        shown = "".join(c if c.isprintable() else "?" for c in name)
        says = str(error) if isinstance(error, formats.UnreadableError) else _NO_MEMORY
        raise PhotoError(f"{shown}: {says}") from error


def _read(name: str, about_pixels: int | None, limit_mp: float, spare: float) -> Photo:
    data = _bytes(name, limit_mp)
    kind = formats.kind_of(data[:32])
    heic = decoding.Heic(data) if kind == "HEIC" else None
    header = heic.header if heic else formats.header_of(kind, data)
    if header.width * header.height > limit_mp * 1e6:
        raise formats.UnreadableError(
            f"has {header.width} x {header.height} pixels, the limit is {limit_mp:g} megapixels; "
            "make it smaller or raise the limit (--limit-mp)"
        )
    if damage.has_hole(kind, data, header.width * header.height):
        raise formats.UnreadableError(formats.DAMAGED)
    profile, notes = _profile(header)
    enough = None if about_pixels is None else spare * about_pixels
    colour, alpha, upright = heic.decode() if heic else decoding.decode(data, header, enough)
    least_cover = _HALF
    if header.kind == "JPEG" and alpha is not None:
        notes += (_ROWS_OFF,)
        least_cover = _WHOLE
    if header.uncompressed and header.orientation == 1 and alpha is None:
        alpha, said = _without_missing(colour)
        notes += said
        least_cover = _WHOLE
    linear, clipped, opaque = _reduced(colour, alpha, profile, about_pixels, least_cover)
    width, height = header.width, header.height
    if header.kind != "HEIC" and header.orientation >= 5:
        width, height = height, width
    if not upright:
        linear, clipped = _turned(linear, header.orientation), _turned(clipped, header.orientation)
        opaque = None if opaque is None else _turned(opaque, header.orientation)
    return Photo(
        linear=linear,
        opaque=opaque,
        clipped=clipped,
        file=name,
        width=width,
        height=height,
        profile=profile.name,
        orientation=header.orientation,
        sha256=hashlib.sha256(data).hexdigest(),
        notes=(*header.notes, *notes),
        focal_35mm=header.focal_35mm,
    )


def _bytes(name: str, limit_mp: float) -> bytes:
    """The file's bytes; only a regular file of a believable size is taken."""
    try:
        about = Path(name).stat()
        if stat.S_ISDIR(about.st_mode):
            raise formats.UnreadableError("is a folder; name a photo in it")
        if not stat.S_ISREG(about.st_mode):
            raise formats.UnreadableError("is not a regular file; save the photo to disk first")
        if about.st_size == 0:
            raise formats.UnreadableError("is empty; copy it again from where it came")
        # Sixteen bits, four channels, and room for previews: no photo within the limit is larger.
        if about.st_size > limit_mp * 8e6 + 1e8:
            raise formats.UnreadableError(
                f"has {about.st_size / 1e6:.0f} MB, too much for a photo of {limit_mp:g} megapixels"
            )
        return Path(name).read_bytes()
    except FileNotFoundError as error:
        raise formats.UnreadableError("there is no such file; check its name and folder") from error
    except PermissionError as error:
        raise formats.UnreadableError("may not be read; give yourself permission to read it") from error
    except OSError as error:
        raise formats.UnreadableError(f"cannot be opened ({error.strerror or error})") from error


def _without_missing(colour: decoding.Stored) -> tuple[decoding.Stored | None, tuple[str, ...]]:
    """An alpha that hides what was never written or is missing of raw pixels, and what to say of it."""
    rows, height = damage.rows_not_written(colour), len(colour)
    hidden = damage.missing(colour)
    said = []
    if rows:
        said.append(
            f"the lowest {rows / height:.0%} of the picture is pure black and was left out: if it should not "
            "be, the file was not copied whole; copy it again from where it came"
        )
    if hidden.any():
        said.append(
            "a piece of the picture is missing and was left out; copy the file again from where it came"
        )
    if not said:
        return None, ()
    hidden[height - rows :] = True
    alpha = np.full(colour.shape[:2], np.iinfo(colour.dtype).max, colour.dtype)
    alpha[hidden] = 0
    return alpha, tuple(said)


def _profile(header: formats.Header) -> tuple[profiles.Profile, tuple[str, ...]]:
    """The colour space the file declares, and what to tell of it."""
    try:
        if header.icc is not None:
            profile = profiles.from_icc(header.icc, 1 if header.grey else 3)
            if profile.table is not None:
                says = "its colour profile works by tables, which were applied in 8 bits"
                return profile, (says,)
            return profile, ()
        if header.cicp is not None:
            return profiles.from_cicp(*header.cicp[:2]), ()
        if header.adobe_rgb:
            return profiles.adobe_rgb(), ()
        if header.srgb:
            return profiles.srgb(), ()
        if header.chrm is not None or header.gamma is not None:
            return profiles.from_chromaticities(header.chrm, header.gamma), ()
    except profiles.HighDynamicRangeError as error:
        raise formats.UnreadableError(
            f"is an HDR photo ({error} curve); export it in standard range (SDR)"
        ) from error
    except ValueError as error:
        says = f"its colour profile cannot be used ({error}); colours were read as sRGB and may be off"
        return profiles.srgb("unreadable (sRGB assumed)"), (says,)
    return profiles.srgb("none (sRGB assumed)"), ()


def _reduced(
    colour: decoding.Stored,
    alpha: decoding.Stored | None,
    profile: profiles.Profile,
    about_pixels: int | None,
    least_cover: float,
) -> tuple[npt.NDArray[np.float32], BoolArray, BoolArray | None]:
    """Linear light, clipped and opaque of stored pixels, averaged down to about so many pixels.

    Means are of linear light, weighted by alpha. A reduced pixel counts as clipped where at least half of
    it is, and as opaque where so much of it is.
    """
    height, width = colour.shape[:2]
    shrink = max(1.0, math.sqrt(height * width / about_pixels)) if about_pixels else 1.0
    columns, rows = max(1, round(width / shrink)), max(1, round(height / shrink))
    linear = np.empty((height, columns, 3), np.float32)
    top = np.empty((height, columns), np.uint8)
    weight = None if alpha is None else np.empty((height, columns), np.float32)
    step = max(1, _STRIP // width)
    # Along the rows strip by strip, then down the columns: exact, and the float copy stays small.
    for start in range(0, height, step):
        part = slice(start, start + step)
        light = profile.to_linear(colour[part])
        if alpha is not None and weight is not None:
            cover = alpha[part].astype(np.float32) / np.float32(np.iinfo(alpha.dtype).max)
            light = light * cover[..., np.newaxis]
            weight[part] = _averaged(cover, columns)
        linear[part] = _averaged(light, columns)
        under = cv2.inRange(colour[part], (0, 0, 0), (_TOP[colour.dtype] - 1,) * 3)
        top[part] = _averaged(255 - under, columns)
    linear, clipped = _averaged(linear, columns, rows), _averaged(top, columns, rows) >= 128
    if weight is None:
        return linear, clipped, None
    weight = _averaged(weight, columns, rows)
    linear /= np.maximum(weight, 1e-6)[..., np.newaxis]
    return linear, clipped, weight >= least_cover


def _averaged(layer: npt.NDArray[Any], columns: int, rows: int | None = None) -> npt.NDArray[Any]:
    """The area mean at so many columns and rows (as many as there are)."""
    rows = rows or layer.shape[0]
    if layer.shape[:2] == (rows, columns):
        return layer
    return np.asarray(cv2.resize(layer, (columns, rows), interpolation=cv2.INTER_AREA), layer.dtype)


def _turned(array: npt.NDArray[Pixel], orientation: int) -> npt.NDArray[Pixel]:
    """Apply an EXIF orientation (DC-008, 4.6.4 A: where row 0 and column 0 lie)."""
    if orientation >= 5:
        array = array.swapaxes(0, 1)
    if orientation in (3, 4, 7, 8):
        array = array[::-1]
    if orientation in (2, 3, 6, 7):
        array = array[:, ::-1]
    return np.ascontiguousarray(array)
