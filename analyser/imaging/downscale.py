"""Pictures made smaller or larger; light is averaged, so what comes in is linear."""

from __future__ import annotations

import cv2
import numpy as np
import numpy.typing as npt

from analyser.arrays import BoolArray, FloatArray

Picture = npt.NDArray[np.float32]

SMALLEST_PX = 32
"""The shorter side below which a photo shows no chart, card or background that could be told."""


def size_within(shape: tuple[int, ...], longest_px: int) -> tuple[int, int]:
    """Width and height of a picture (h, w, ...) scaled down until its longer side is at most that."""
    height, width = shape[:2]
    shrink = min(1.0, longest_px / max(height, width))
    return max(1, round(width * shrink)), max(1, round(height * shrink))


def downscale(linear: FloatArray, longest_px: int) -> Picture:
    """A copy whose longer side is at most that, averaged in linear light."""
    return resize(linear, size_within(linear.shape, longest_px))


def resize(linear: FloatArray, size: tuple[int, int]) -> Picture:
    """A copy of that width and height: averaged where it gets smaller, cubic where it gets larger."""
    if size == linear.shape[1::-1]:
        return np.asarray(linear, np.float32)
    way = cv2.INTER_CUBIC if size[0] > linear.shape[1] else cv2.INTER_AREA
    return np.asarray(cv2.resize(linear, size, interpolation=way), np.float32)


def downscale_masked(linear: Picture, mask: BoolArray, size: tuple[int, int]) -> tuple[Picture, Picture]:
    """Mean light of the masked pixels at a smaller size (width, height), and the part that is masked."""
    if mask.all():
        small = np.asarray(cv2.resize(linear, size, interpolation=cv2.INTER_AREA), np.float32)
        return small, np.ones(small.shape[:2], np.float32)
    cover = np.asarray(cv2.resize(mask.astype(np.float32), size, interpolation=cv2.INTER_AREA), np.float32)
    kept = cv2.copyTo(linear, mask.view(np.uint8))
    light = cv2.resize(kept, size, interpolation=cv2.INTER_AREA)
    return np.asarray(light / np.maximum(cover, np.float32(1e-6))[..., np.newaxis], np.float32), cover
