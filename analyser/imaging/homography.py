"""Planes seen in perspective."""

from __future__ import annotations

import cv2
import numpy as np

from analyser.arrays import FloatArray


def project(homography: FloatArray, points: FloatArray) -> FloatArray:
    """Points (n, 2) through a homography (3, 3)."""
    return np.asarray(cv2.perspectiveTransform(points[None].astype(np.float64), homography)[0], np.float64)


def find_homography(source: FloatArray, target: FloatArray, reach_px: float = 0.0) -> FloatArray | None:
    """The homography (3, 3) that takes points (n, 2) to points (n, 2), or None.

    With a reach, points that end farther than that from their target are left out (RANSAC, fixed seed).
    """
    method = cv2.RANSAC if reach_px else 0
    found, _ = cv2.findHomography(source.astype(np.float64), target.astype(np.float64), method, reach_px)
    return None if found is None else np.asarray(found, np.float64)
