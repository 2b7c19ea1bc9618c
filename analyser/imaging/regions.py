"""Even surfaces in a photo: what charts and cards are looked for by."""

from __future__ import annotations

import cv2
import numpy as np
import numpy.typing as npt

from analyser.arrays import BoolArray, FloatArray

SMALLEST_PX = 32
"""The shorter side below which a photo shows no chart, card or background that could be told."""

Picture = npt.NDArray[np.float32]
Regions = tuple[npt.NDArray[np.int32], npt.NDArray[np.int32]]


def shrunk(linear: Picture, longest_px: int) -> Picture:
    """A copy whose longer side is at most that, averaged in linear light."""
    height, width = linear.shape[:2]
    shrink = min(1.0, longest_px / max(height, width))
    size = max(1, round(width * shrink)), max(1, round(height * shrink))
    return np.asarray(cv2.resize(linear, size, interpolation=cv2.INTER_AREA), np.float32)


def encoded(linear: Picture) -> Picture:
    """Cube roots, each channel to about 1 at its bright end: steps are then about equally visible."""
    top = np.percentile(linear[::4, ::4].reshape(-1, 3), 99.5, axis=0)
    return np.cbrt(np.clip(linear / np.maximum(top, 1e-4), 0, 2)).astype(np.float32)


def steps(seen: Picture, blur_px: float) -> Picture:
    """The largest change per pixel in any channel, shape (h, w), after a blur against noise."""
    smooth = cv2.GaussianBlur(seen, (0, 0), blur_px)
    across = np.abs(cv2.Sobel(smooth, cv2.CV_32F, 1, 0, scale=0.25))
    down = np.abs(cv2.Sobel(smooth, cv2.CV_32F, 0, 1, scale=0.25))
    return largest_channel(np.maximum(across, down))


def largest_channel(picture: FloatArray) -> Picture:
    """The largest of three channels, shape (h, w); NumPy is ten times slower over so short an axis."""
    red, green, blue = (picture[..., channel] for channel in range(3))
    return np.asarray(np.maximum(np.maximum(red, green), blue), np.float32)


def regions(even: BoolArray) -> Regions:
    """Connected regions: labels (h, w); left, top, width, height, area of each (n, 5), the rest first."""
    _, labels, stats, _ = cv2.connectedComponentsWithStats(even.astype(np.uint8), connectivity=4)
    return np.asarray(labels, np.int32), np.asarray(stats, np.int32)


def project(homography: FloatArray, points: FloatArray) -> FloatArray:
    """Points (n, 2) through a homography (3, 3)."""
    return np.asarray(cv2.perspectiveTransform(points[None].astype(np.float64), homography)[0], np.float64)


def homography(source: FloatArray, target: FloatArray, reach_px: float = 0.0) -> FloatArray | None:
    """The homography (3, 3) that takes points (n, 2) to points (n, 2), or None.

    With a reach, points that end farther than that from their target are left out (RANSAC, fixed seed).
    """
    method = cv2.RANSAC if reach_px else 0
    found, _ = cv2.findHomography(source.astype(np.float64), target.astype(np.float64), method, reach_px)
    return None if found is None else np.asarray(found, np.float64)
