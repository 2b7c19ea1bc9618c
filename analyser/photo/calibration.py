"""From a photo's numbers to colour: chart, card, paper or nothing, with its uncertainty.

The whole photo is looked at, whatever is framed. Corrections act on linear light with sRGB primaries.
"""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass
from typing import Literal

import cv2
import numpy as np
import numpy.typing as npt

from analyser.errors import CalibrationError
from analyser.photo.cards import REFLECTANCE, Card
from analyser.photo.lighting import LightField
from analyser.photo.reading import Photo

__all__ = ["Calibration", "Card", "calibrate"]

FloatArray = npt.NDArray[np.floating]
Method = Literal["chart", "grey-card", "white-card", "paper", "none"]


@dataclass(frozen=True, slots=True, eq=False)
class Calibration:
    """How a photo's linear light becomes colour.

    Attributes
    ----------
    method : str
        ``chart``, ``grey-card``, ``white-card``, ``paper`` or ``none``.
    uncertainty_de00 : float
        About 68 % of colours read through it lie within this CIEDE2000 of the truth.
    notes : tuple of str
        What was found, assumed or is in doubt, in plain words.
    matrix : ndarray, shape (3, 3)
        Applied to linear sRGB after the field was divided out.
    field : LightField or None
        Uneven light, 1 at the place of the card or chart; None where it is even or cannot be told.
    """

    method: Method
    uncertainty_de00: float
    notes: tuple[str, ...]
    matrix: FloatArray
    field: LightField | None = None

    def corrected(self, photo: Photo) -> Photo:
        """The same photo in calibrated linear light: even, white-balanced, exposed."""
        linear = photo.linear
        if self.field is not None:
            linear = linear / self.field.at(*linear.shape[:2])
        return dataclasses.replace(photo, linear=cv2.transform(linear, self.matrix.astype(np.float32)))

    def uncertainty_of(self, lab: npt.ArrayLike) -> FloatArray:
        """Stated CIEDE2000 uncertainty (68 %) of colours read through this calibration.

        Parameters
        ----------
        lab : array_like, shape (..., 3)
            Corrected colours.

        Returns
        -------
        ndarray, shape (...)
        """
        return np.full(np.asarray(lab).shape[:-1], self.uncertainty_de00)


def calibrate(photo: Photo, method: str = "auto", card: Card | None = None) -> Calibration:
    """Find what the photo can be calibrated by, and fit it.

    Parameters
    ----------
    photo : Photo
        At any reading size; about 2 million pixels are plenty.
    method : str
        ``auto`` takes a chart, else a card, else white paper, else nothing; ``chart``, ``card`` and
        ``paper`` insist; ``none`` corrects nothing.
    card : Card, optional
        Where a card lies.

    Raises
    ------
    CalibrationError
        If what was asked for is not in the photo or cannot be used.
    """
    if method not in ("auto", "chart", "card", "paper", "none"):
        raise CalibrationError(f"--calibration is auto, chart, card, paper or none; got {method!r}")
    if card is not None and method in ("auto", "card"):
        return _by_card(photo, card)
    if method not in ("auto", "none"):
        raise CalibrationError(f"{photo.file}: no {method} was found in this photo")
    return Calibration("none", 6.0, ("nothing in the photo to calibrate by",), np.eye(3))


def _by_card(photo: Photo, card: Card) -> Calibration:
    x, y, w, h = (value / photo.scale for value in card.box.in_pixels(photo.width, photo.height))
    rows, columns = photo.linear.shape[:2]
    top, left = min(int(y), rows - 1), min(int(x), columns - 1)
    pixels = photo.linear[top : max(top + 1, round(y + h)), left : max(left + 1, round(x + w))]
    seen = pixels.reshape(-1, 3).mean(axis=0, dtype=np.float64)
    if seen.min() <= 0:
        raise CalibrationError(f"{photo.file}: the card's box is black in one channel; frame the card itself")
    kind = card.kind or ("white" if seen.max() > 0.4 else "grey")
    reflectance = card.reflectance or REFLECTANCE[kind]
    return Calibration(
        "white-card" if kind == "white" else "grey-card",
        5.0,
        (f"{kind} card, reflectance {reflectance:g}",),
        np.diag(reflectance / seen),
    )
