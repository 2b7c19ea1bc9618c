"""Connected regions of a mask, and masks of polygons."""

from __future__ import annotations

import cv2
import numpy as np
import numpy.typing as npt

from analyser.arrays import BoolArray, FloatArray

Regions = tuple[npt.NDArray[np.int32], npt.NDArray[np.int32]]


def connected_regions(mask: BoolArray) -> Regions:
    """Regions of a mask: labels (h, w); left, top, width, height, area of each (n, 5), the rest first."""
    _, labels, stats, _ = cv2.connectedComponentsWithStats(mask.view(np.uint8), connectivity=4)
    return np.asarray(labels, np.int32), np.asarray(stats, np.int32)


def polygon_mask(corners: FloatArray, shape: tuple[int, ...], grown: float = 1.0) -> BoolArray:
    """True inside a convex polygon.

    Parameters
    ----------
    corners : array, shape (n, 2)
        x and y in pixels of the picture.
    shape : tuple of int
        Of the picture, height first.
    grown : float
        The polygon is made so many times as large about the mean of its corners.
    """
    centre = corners.mean(axis=0)
    mask = np.zeros(shape[:2], np.uint8)
    cv2.fillConvexPoly(mask, np.round(centre + grown * (corners - centre)).astype(np.int32), 1)
    return mask > 0
