"""Pixels as log light: shade moves their mean, colour their ratios."""

from __future__ import annotations

import cv2
import numpy as np

from analyser.arrays import FloatArray

SHADE_FLOOR = 0.004
"""Added to linear light before its log: about the read noise and stray light of a camera's darks."""


def log_features(linear: FloatArray) -> FloatArray:
    """Mean log light, log red/green and log blue/green, shape (..., 3)."""
    logs = np.log(np.maximum(linear, 0) + SHADE_FLOOR)
    red, green, blue = (logs[..., channel] for channel in range(3))
    # NumPy's mean is five times slower over so short an axis
    return np.stack([(red + green + blue) / 3, red - green, blue - green], axis=-1)


def light_of(features: FloatArray) -> FloatArray:
    """Linear light of log features, shape (3,): what ``log_features`` was given, not below zero."""
    mean, red, blue = features
    green = mean - (red + blue) / 3
    return np.maximum(np.exp([green + red, green, green + blue]) - SHADE_FLOOR, 0)


def calm(linear: FloatArray, width: float) -> FloatArray:
    """Median over a square of ``width`` pixels, which removes highlights and bead holes, in linear light."""
    size = max(3, round(width)) | 1
    # Coded in 8 bits with a square root, as the filter asks; for finding roles only, never for measuring.
    top = max(float(np.percentile(linear, 99.9)), 1e-6)
    coded = np.clip(np.sqrt(np.clip(linear / top, 0, 1)) * 255 + 0.5, 0, 255).astype(np.uint8)
    return np.asarray((cv2.medianBlur(coded, size).astype(np.float32) / 255) ** 2 * top)
