"""How a photo's linear light becomes colour, and how far off it may be."""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import cv2
import numpy as np
import numpy.typing as npt

from analyser.arrays import BoolArray, FloatArray
from analyser.photo.chart import Correction
from analyser.photo.illumination import IlluminationField
from analyser.photo.reading import Photo
from analyser.photo.reference import Reference
from analyser.photo.uncertainty import Doubt

if TYPE_CHECKING:
    from analyser.photo.sheet import Sheet
    from analyser.photo.sheet_light import SheetLight

Method = Literal["chart", "sheet", "grey-card", "white-card", "paper", "none"]

_RIM = 0.004  # of the longer side: blur and the edge of a reference, which are no colour of the photo


@dataclass(frozen=True, slots=True, eq=False)
class Calibration:
    """How a photo's linear light becomes colour.

    Attributes
    ----------
    method : str
        ``chart``, ``sheet``, ``grey-card``, ``white-card``, ``paper`` or ``none``.
    uncertainty_de00 : float
        About 68 % of colours read through it lie within this CIEDE2000 of the truth.
    notes : tuple of str
        What was found, assumed or is in doubt, in plain words.
    correction : Correction or None
        Of linear sRGB, after the field was divided out; None leaves it as it is.
    field : IlluminationField or None
        Uneven light, 1 at the place of the card or chart; None where it is even or cannot be told.
    doubt : Doubt
        What is known about the errors, for ``uncertainty_of``.
    ground : Ground or None
        The photo sheet the photo was taken on, whatever it was calibrated by.
    reference : Reference or None
        What the photo shows of known colour, or may show: found, whether or not it was applied.
    outline : ndarray, shape (n, 4, 2)
        Corners of what it was calibrated by (chart or cards), as fractions of the frame, so that others can
        leave them out; n may be 0.
    """

    method: Method
    uncertainty_de00: float
    notes: tuple[str, ...]
    correction: Correction | None
    field: IlluminationField | None
    doubt: Doubt
    outline: FloatArray
    ground: Ground | None = None
    reference: Reference | None = None

    def corrected(self, photo: Photo) -> Photo:
        """The same photo in calibrated linear light: even, white-balanced, exposed."""
        return dataclasses.replace(photo, linear=self._through(photo.linear))

    def cleared(self, corrected: Photo) -> Photo:
        """A corrected photo with nothing but paper beyond the free places of the sheet it was taken on.

        What is printed there, and the table round the sheet, is no part of what was photographed.
        """
        if self.ground is None:
            return corrected
        shape = corrected.linear.shape[:2]
        free = self.ground.sheet.free(shape)
        linear = np.where(free[..., None], corrected.linear, self._through(self.ground.paper(shape)))
        return dataclasses.replace(corrected, linear=linear, clipped=corrected.clipped & free)

    def _through(self, linear: npt.NDArray[np.float32]) -> npt.NDArray[np.float32]:
        if self.field is not None:
            field = self.field.at(*linear.shape[:2])
            linear = np.divide(linear, field, out=field)
        return linear if self.correction is None else self.correction.apply(linear)

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
        return self.doubt.of(lab)

    @property
    def light_uncertainty_de00(self) -> float:
        """The part of the uncertainty that all colours of the photo share."""
        return self.doubt.light_de00

    def uncertainty_of_difference(self, lab_1: npt.ArrayLike, lab_2: npt.ArrayLike) -> FloatArray:
        """Stated CIEDE2000 uncertainty (68 %) of the difference of two colours of this photo.

        Parameters
        ----------
        lab_1, lab_2 : array_like, shape (..., 3)
            Corrected colours. Leading axes broadcast.

        Returns
        -------
        ndarray, shape (...)
            Smaller than the two doubts together: they share the light.
        """
        return self.doubt.of_difference(lab_1, lab_2)

    def reference_mask(self, shape: tuple[int, ...]) -> BoolArray:
        """Where a picture of that size shows its reference, rims included, or lies off its sheet."""
        height, width = shape[:2]
        mask = np.zeros((height, width), np.uint8)
        if self.ground is not None:
            mask[~self.ground.sheet.free((height, width))] = 1
        for corners in self.outline:
            cv2.fillConvexPoly(mask, np.round(corners * [width, height]).astype(np.int32), 1)
        margin = 2 * max(1, round(_RIM * max(height, width))) + 1
        return np.asarray(cv2.dilate(mask, np.ones((margin, margin), np.uint8)) > 0)


@dataclass(frozen=True, slots=True, eq=False)
class Ground:
    """A photo sheet that a photo was taken on, and the light on it; None where its paper is burnt out."""

    sheet: Sheet
    light: SheetLight | None

    def paper(self, shape: tuple[int, int]) -> npt.NDArray[np.float32]:
        """What the bare paper would give over the whole frame, linear light, shape (h, w, 3)."""
        if self.light is None:
            return np.ones((*shape, 3), np.float32)
        paper = self.light.field.background_linear.astype(np.float32)
        return np.multiply(self.light.field.at(*shape), paper, dtype=np.float32)
