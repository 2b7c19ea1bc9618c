"""The colours at a frame's border: what lies on a table is of others.

The table runs out of the frame on all sides, in a few colours where it is printed or striped; what is
photographed does not.
"""

from __future__ import annotations

import cv2
import numpy as np

from analyser.arrays import BoolArray, FloatArray
from analyser.imaging.downscale import downscale
from analyser.imaging.logs import log_features
from analyser.imaging.mixtures import looks_of

BORDER_SIDE = 300
"""Longer side, in pixels, of the copy whose border is looked at."""

BORDER = 0.07
"""Share of the frame's shorter side, at its border, that shows what the table's colours are."""

BORDER_PIXELS = 1500
"""Of the border, that are looked at: its colours are few."""

TABLE_LIGHT = np.diag([0.3, 0.03, 0.03]) ** 2
"""Variance of a table's log light and two log ratios beyond its own, for lamps that fall off over a frame."""

FOREIGN = 16.3
"""Squared distance from each of the table's colours beyond which a pixel is none: chi-square, 3, 0.1 %."""


def border_colours(linear: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Means (k, 3) and covariances (k, 3, 3) of the colours at the frame's border, as log features."""
    features = _log_colours(downscale(linear, BORDER_SIDE))
    band = max(3, round(BORDER * min(features.shape[:2])))
    border = np.ones(features.shape[:2], bool)
    border[band:-band, band:-band] = False
    pixels = features[border].astype(float)
    _, means, covariances = looks_of(pixels[:: max(1, len(pixels) // BORDER_PIXELS)])
    return means, covariances


def unlike_border(linear: FloatArray, border: tuple[FloatArray, FloatArray]) -> BoolArray:
    """Pixels of a colour that the frame's border has not, in its light or in half or twice of it."""
    features = _log_colours(linear)
    flat = features.reshape(-1, 3)
    nearest = np.full(len(flat), np.inf, np.float32)
    for mean, covariance in zip(*border, strict=True):
        whiten = np.linalg.cholesky(np.linalg.inv(covariance + TABLE_LIGHT)).astype(np.float32)
        off = (flat - mean.astype(np.float32)) @ whiten
        nearest = np.minimum(nearest, np.einsum("ni,ni->n", off, off))
    return np.asarray((nearest > FOREIGN).reshape(features.shape[:2]))


def _log_colours(linear: FloatArray) -> FloatArray:
    calm = cv2.GaussianBlur(np.asarray(linear, np.float32), (0, 0), 1.5)
    return np.asarray(log_features(np.asarray(calm, float)), np.float32)
