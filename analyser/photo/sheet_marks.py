"""The marks of a photo sheet in a picture: which are there and where their corners lie.

Sources
-------
[1] Olson (2011), AprilTag, IEEE ICRA, 3400-3407, doi:10.1109/ICRA.2011.5979561; found by OpenCV's
    ``aruco.ArucoDetector``.
"""

from __future__ import annotations

from functools import cache
from typing import Any

import cv2
import numpy as np
import numpy.typing as npt

from analyser.arrays import FloatArray
from analyser.imaging.downscale import SMALLEST_PX
from analyser.imaging.gradients import cube_root
from analyser.photo.sheet_layout import sheet_of

# A sheet that is the ground covers a tenth of the frame or more: its marks then have 2.5 pixels a module at
# the first of these longer sides. The second is tried only where the first found some but too few.
_LONGEST_PX = (1100, 2200)
_ENOUGH = 3


def find_marks(linear: npt.NDArray[np.float32]) -> tuple[dict[int, FloatArray], int]:
    """Marks of photo sheets in a picture of linear light (h, w, 3).

    Returns
    -------
    dict of int to ndarray, shape (4, 2)
        Corners, clockwise from the mark's own upper left, as fractions of the frame. Of a number seen twice
        the larger one.
    int
        How many marks bear a number that another one bears too.
    """
    found: dict[int, FloatArray] = {}
    again = 0
    height, width = linear.shape[:2]
    if min(height, width) < SMALLEST_PX:
        return found, 0
    light = cv2.extractChannel(linear, 1)
    for longest in _LONGEST_PX:
        shrink = min(1.0, longest / max(height, width))
        size = max(1, round(width * shrink)), max(1, round(height * shrink))
        small = cv2.resize(light, size, interpolation=cv2.INTER_AREA) if shrink < 1 else light
        seen, twice = _seen(np.asarray(small, np.float32))
        if len(seen) > len(found):
            found, again = seen, twice
        if not found or len(found) >= _ENOUGH or shrink == 1.0:
            break
    return found, again


def _seen(light: npt.NDArray[np.float32]) -> tuple[dict[int, FloatArray], int]:
    top = float(np.percentile(light[::4, ::4], 99.5))
    # cube roots: as the eye has it, so that a mark in the shade keeps its contrast
    seen = cube_root(np.clip(light / max(top, 1e-4), 0, 1))
    corners, numbers, _ = _detector().detectMarkers(np.round(255 * seen).astype(np.uint8))
    found: dict[int, FloatArray] = {}
    sizes: dict[int, float] = {}
    again = 0
    for number, quad in zip([] if numbers is None else numbers.ravel().tolist(), corners, strict=True):
        size = float(cv2.contourArea(quad[0]))
        again += number in sizes
        if sheet_of(number) is not None and size > sizes.get(number, 0.0):
            # OpenCV counts from a pixel's centre
            found[number] = (quad[0].astype(np.float64) + 0.5) / light.shape[::-1]
            sizes[number] = size
    return found, again


@cache
def _detector() -> Any:
    settings = cv2.aruco.DetectorParameters()
    settings.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_SUBPIX
    settings.minMarkerPerimeterRate = 0.05  # of the longer side: a mark of a sheet that fills a third of it
    family = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_APRILTAG_36h11)
    return cv2.aruco.ArucoDetector(family, settings)
