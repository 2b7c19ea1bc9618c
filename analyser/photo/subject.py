"""Which pixels of a photo are the subject, and which are a plain background.

Masks have the shape of ``photo.linear``; a box and a mask file are given in the upright, full-size photo.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
import numpy.typing as npt

from analyser.photo.box import Box
from analyser.photo.reading import Photo

BoolArray = npt.NDArray[np.bool_]


@dataclass(frozen=True, slots=True, eq=False)
class Subject:
    """The subject of a photo.

    Attributes
    ----------
    mask : bool ndarray, shape (h, w) of ``photo.linear``
        True where the subject is.
    background : bool ndarray, shape (h, w), or None
        A plain background round the subject, to be reported apart; None where there is none, and where
        the maker framed the subject.
    notes : tuple of str
        How the subject was found.
    """

    mask: BoolArray
    background: BoolArray | None = None
    notes: tuple[str, ...] = ()


def find_subject(photo: Photo, box: Box | None = None, mask_file: Path | None = None) -> Subject:
    """Find the subject of a photo.

    Parameters
    ----------
    photo : Photo
    box : Box, optional
        Drawn by the maker round the subject.
    mask_file : Path, optional
        A picture of the photo's shape, white where the subject is; wins over the box.

    Raises
    ------
    OptionError
        If the box lies outside the photo.
    PhotoError
        If the mask file cannot be read, has another shape than the photo, or marks nothing.
    """
    mask = np.ones(photo.linear.shape[:2], dtype=bool) if photo.opaque is None else photo.opaque.copy()
    if box is not None:
        x, y, width, height = (
            round(value / photo.scale) for value in box.in_pixels(photo.width, photo.height)
        )
        framed = np.zeros_like(mask)
        framed[y : y + max(height, 1), x : x + max(width, 1)] = True
        mask &= framed
    return Subject(mask)
