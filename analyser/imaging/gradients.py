"""How fast a picture changes from pixel to pixel: by it edges, even surfaces and heaps are told."""

from __future__ import annotations

import cv2
import numpy as np

from analyser.arrays import FloatArray
from analyser.imaging.downscale import Picture

_PER_PIXEL = 0.125  # Sobel's 3 x 3 kernel sums eight differences of one pixel


def cube_roots(linear: Picture) -> Picture:
    """Cube roots of light, each channel to about 1 at its bright end: steps are then equally visible."""
    top = np.percentile(linear[::4, ::4].reshape(-1, 3), 99.5, axis=0)
    return cube_root(np.clip(linear / np.maximum(top, 1e-4).astype(np.float32), 0, 2))


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
    across, down = gradients(picture, blur_px)
    return largest_channel(np.maximum(np.abs(across), np.abs(down)))


def gradient_magnitude(picture: Picture, blur_px: float) -> Picture:
    """Length of the gradient of all channels together, per pixel, shape (h, w)."""
    across, down = gradients(picture, blur_px)
    squares = np.einsum("hwc,hwc->hw", across, across) + np.einsum("hwc,hwc->hw", down, down)
    return np.asarray(np.sqrt(squares), np.float32)


def largest_channel(picture: FloatArray) -> Picture:
    """The largest of three channels, shape (h, w); NumPy is ten times slower over so short an axis."""
    red, green, blue = (picture[..., channel] for channel in range(3))
    return np.asarray(np.maximum(np.maximum(red, green), blue), np.float32)
