"""Which pixels of a close-up are beads, by a small network [1] that has learnt it from drawn heaps.

The network (weights in ``data``, run by OpenCV) sees the light beside the table's and beside the brightest of
the close-up, so that neither exposure nor the lamp's colour matters much. How it was trained, and on what, is
in ``synthetic/train_heaps.py``; what it was compared with, in ``docs/decisions/tray.md``.

Linear light with sRGB primaries.

Sources
-------
[1] Ronneberger, Fischer and Brox (2015), U-Net: convolutional networks for biomedical image segmentation,
    MICCAI, arXiv:1505.04597.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path

import cv2
import numpy as np
import numpy.typing as npt

from analyser.arrays import BoolArray
from analyser.colour.spaces import relative_luminance

F32 = npt.NDArray[np.float32]

#: Side of a close-up, pixels, and the radius that a heap has in it.
SIDE_PX, RADIUS_PX = 192, 58.0

_BORDER_PX = 16  # of the close-up's rim, which shows the table
_LEAST_OF_RIM = 0.1  # of it must be table to go without what lies elsewhere
_DARKEST = 2e-3  # linear light, below which noise would be made large
_AT_MOST = 2.0  # times the table's or the brightest light's cube root


def bead_chance(light: F32, elsewhere: BoolArray) -> F32:
    """How likely each pixel of a close-up is a bead's.

    Parameters
    ----------
    light : float32 ndarray, shape (SIDE_PX, SIDE_PX, 3)
        Linear light, with the heap in the middle at about ``RADIUS_PX``.
    elsewhere : bool ndarray, shape (SIDE_PX, SIDE_PX)
        What shows no table though it lies at the rim: other heaps, cards.

    Returns
    -------
    float32 ndarray, shape (SIDE_PX, SIDE_PX)
        From 0 to 1.
    """
    network = _network()
    network.setInput(np.ascontiguousarray(features(light, elsewhere).transpose(2, 0, 1)[None]))
    return np.asarray(1 / (1 + np.exp(-network.forward()[0, 0])), np.float32)


def features(light: F32, elsewhere: BoolArray | None = None) -> F32:
    """What the network sees of a close-up.

    Parameters
    ----------
    light : float32 ndarray, shape (SIDE_PX, SIDE_PX, 3)
    elsewhere : bool ndarray, shape (SIDE_PX, SIDE_PX), optional

    Returns
    -------
    float32 ndarray, shape (SIDE_PX, SIDE_PX, 6)
        Cube roots of the light over the table's, by channel, and over the brightest luminance; 0 to 2.
    """
    rim = np.ones(light.shape[:2], bool)
    rim[_BORDER_PX:-_BORDER_PX, _BORDER_PX:-_BORDER_PX] = False
    if elsewhere is not None and (rim & ~elsewhere).sum() > _LEAST_OF_RIM * rim.sum():
        rim &= ~elsewhere
    table = np.maximum(np.median(light[rim], axis=0), _DARKEST)
    brightest = max(float(np.percentile(relative_luminance(light), 99)), _DARKEST)
    both = np.concatenate([light / table, light / brightest], axis=-1)
    return np.asarray(np.clip(np.cbrt(np.maximum(both, 0)), 0, _AT_MOST), np.float32)


@cache
def _network() -> cv2.dnn.Net:
    weights = (Path(__file__).with_name("data") / "bead_pixels.onnx").read_bytes()
    return cv2.dnn.readNetFromONNX(np.frombuffer(weights, np.uint8))
