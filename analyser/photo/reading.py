"""A photo file becomes linear light.

Conventions: ``linear`` has sRGB/Rec. 709 primaries and D65 white, 1.0 is the file's own white.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np
import numpy.typing as npt

from analyser.errors import PhotoError


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
    """

    linear: npt.NDArray[np.float32]
    opaque: npt.NDArray[np.bool_] | None
    clipped: npt.NDArray[np.bool_]
    file: str
    width: int
    height: int
    profile: str
    orientation: int
    sha256: str
    notes: tuple[str, ...] = ()

    @property
    def scale(self) -> float:
        """Full-size pixels per pixel of ``linear``, along a side."""
        return self.width / self.linear.shape[1]


def _srgb_table() -> npt.NDArray[np.float32]:
    code = np.arange(256) / 255
    # IEC 61966-2-1: the linear toe, then the power.
    return np.where(code <= 0.04045, code / 12.92, ((code + 0.055) / 1.055) ** 2.4).astype(np.float32)


def read(path: str | Path, *, about_pixels: int | None = None, limit_mp: float = 200.0) -> Photo:
    """Read a photo into linear light.

    Parameters
    ----------
    path : str or Path
        The file; its format is recognised by its content.
    about_pixels : int, optional
        Read no more than about this many pixels; full size if left out.
    limit_mp : float
        Megapixels above which a photo is refused.

    Raises
    ------
    PhotoError
        If the file cannot be read as a photo.
    """
    try:
        data = Path(path).read_bytes()
    except OSError as error:
        raise PhotoError(f"{path}: cannot be opened ({error.strerror})") from error
    stored = cv2.imdecode(np.frombuffer(data, np.uint8), cv2.IMREAD_COLOR_RGB)
    if stored is None:
        raise PhotoError(f"{path}: not a photo this tool can read")
    height, width = stored.shape[:2]
    linear = _srgb_table()[stored]
    clipped = (stored >= 254).any(axis=2)
    if about_pixels and height * width > about_pixels:
        shrink = (about_pixels / (height * width)) ** 0.5
        size = max(1, round(width * shrink)), max(1, round(height * shrink))
        linear = cv2.resize(linear, size, interpolation=cv2.INTER_AREA)
        clipped = cv2.resize(clipped.astype(np.uint8), size, interpolation=cv2.INTER_NEAREST) > 0
    return Photo(
        linear,
        None,
        clipped,
        str(path),
        width,
        height,
        "none (sRGB assumed)",
        1,
        hashlib.sha256(data).hexdigest(),
    )
