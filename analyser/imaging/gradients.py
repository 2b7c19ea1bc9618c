"""How fast a picture changes from pixel to pixel: by it edges, even surfaces and heaps are told."""

from __future__ import annotations

import math
from collections.abc import Iterator

import cv2
import numpy as np

from analyser.arrays import FloatArray
from analyser.imaging.downscale import Picture

_PER_PIXEL = 0.125  # Sobel's 3 x 3 kernel sums eight differences of one pixel
# Pixels worked on at a time: intermediate pictures then stay in the processor's cache. New memory for whole
# ones takes several times as long as the arithmetic on them.
_STRIP = 60_000


def cube_roots(linear: Picture, out: Picture | None = None) -> Picture:
    """Cube roots of light, each channel to about 1 at its bright end: steps are then equally visible.

    They are written to ``out`` where it is given, which may be the light itself.
    """
    top = np.percentile(linear[::4, ::4].reshape(-1, 3), 99.5, axis=0)
    # as long as a row: over an axis of three NumPy takes several times as long
    across = np.tile(np.maximum(top, 1e-4).astype(np.float32), linear.shape[1])
    roots = np.empty(linear.shape, np.float32) if out is None else out
    for part in _strips(linear):
        light = roots[part].reshape(-1, len(across))
        np.divide(linear[part].reshape(light.shape), across, out=light)
        np.clip(light, 0, 2, out=light)
        cv2.pow(light, 1 / 3, dst=light)
    return roots


def _strips(picture: Picture) -> Iterator[slice]:
    """Rows of a picture, so many at a time."""
    height, width = picture.shape[:2]
    rows = max(1, _STRIP // width)
    return (slice(top, min(height, top + rows)) for top in range(0, height, rows))


def cube_root(light: FloatArray) -> Picture:
    """Cube root of what is not below zero, within a millionth of itself; NumPy's takes ten times as long."""
    root = cv2.pow(np.asarray(light, np.float32), 1 / 3)
    return np.asarray(root, np.float32).reshape(np.shape(light))  # OpenCV before 5 makes columns of lists


def gradients(picture: Picture, blur_px: float) -> tuple[Picture, Picture]:
    """Change per pixel across and down, each of the picture's shape, after a Gaussian blur against noise."""
    smooth = cv2.GaussianBlur(picture, (0, 0), blur_px)
    across = cv2.Sobel(smooth, cv2.CV_32F, 1, 0, scale=_PER_PIXEL)
    down = cv2.Sobel(smooth, cv2.CV_32F, 0, 1, scale=_PER_PIXEL)
    return np.asarray(across, np.float32), np.asarray(down, np.float32)


def largest_step(picture: Picture, blur_px: float) -> Picture:
    """The largest change per pixel, across or down and in any channel, shape (h, w)."""
    largest = np.empty(picture.shape[:2], np.float32)
    reach = math.ceil(4 * blur_px) + 2  # what the blur and the kernel see beyond a strip's rows
    for part in _strips(picture):
        top = max(0, part.start - reach)
        across, down = gradients(picture[top : part.stop + reach], blur_px)
        step = np.maximum(np.abs(across, out=across), np.abs(down, out=down), out=across)
        largest[part] = largest_channel(step[part.start - top : part.stop - top])
    return largest


def gradient_magnitude(picture: Picture, blur_px: float) -> Picture:
    """Length of the gradient of all channels together, per pixel, shape (h, w)."""
    across, down = gradients(picture, blur_px)
    squares = np.einsum("hwc,hwc->hw", across, across) + np.einsum("hwc,hwc->hw", down, down)
    return np.asarray(np.sqrt(squares), np.float32)


def largest_channel(picture: FloatArray) -> Picture:
    """The largest of three channels, shape (h, w); NumPy is ten times slower over so short an axis."""
    red, green, blue = (picture[..., channel] for channel in range(3))
    largest = np.maximum(red, green)
    return np.asarray(np.maximum(largest, blue, out=largest), np.float32)
