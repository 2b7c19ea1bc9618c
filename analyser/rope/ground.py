"""What of a strip is table: the paper, felt, wood or linen on which the rope lies, lit or in shadow."""

from __future__ import annotations

import cv2
import numpy as np

from analyser.arrays import BoolArray, FloatArray
from analyser.imaging.logs import log_features
from analyser.rope.locating import texture

BESIDE = 1.25
"""Rows farther out than this many radii are table, as far as the rope is already known."""


def like_table(linear: FloatArray, features: FloatArray, radius: float) -> BoolArray:
    """Pixels of the colour of the table beside them, lit as it is or less, and smoother than beads.

    Parameters
    ----------
    linear, features : ndarray, shape (across, along, 3)
        A strip's linear light, and its log features after calming.
    radius : float
        Of the tube, in strip pixels.

    Returns
    -------
    bool ndarray, shape (across, along)
    """
    rows = np.abs(np.arange(linear.shape[0]) - linear.shape[0] // 2)
    beside = features[rows > BESIDE * radius]
    middle = np.median(beside, axis=0)
    spread = 1.4826 * np.median(np.abs(beside - middle), axis=0)
    off = np.abs(features - middle[None])
    # Shadow takes light, and tints a little: the rope's own colour is in the light that reaches it.
    alike = (off[..., 1:] < 0.15 + 3 * spread[None, :, 1:]).all(axis=-1)
    alike &= features[..., 0] < middle[None, :, 0] + 0.1 + 2 * spread[None, :, 0]
    rough = cv2.blur(texture(linear), (5, 5))
    typical = float(np.median(rough[rows < 0.6 * radius]))
    # A cloth as rough as beads is told by its colour alone.
    own = float(np.percentile(rough[rows > BESIDE * radius], 80))
    return np.asarray(alike & (rough < max(0.6 * typical, 1.5 * own)))


def table_beside(linear: FloatArray, features: FloatArray, radius: float) -> BoolArray:
    """Table-like pixels that join the table beside the rope: a bead of the table's colour does not.

    Parameters and result as of ``like_table``.
    """
    from scipy import ndimage

    alike = like_table(linear, features, radius)
    labels, count = ndimage.label(alike)
    rows = np.abs(np.arange(linear.shape[0]) - linear.shape[0] // 2)
    joined = np.zeros(count + 1, bool)
    joined[np.unique(labels[rows > BESIDE * radius])] = True
    joined[0] = False
    return np.asarray(joined[labels])


def table_ratios(linear: FloatArray, radius: float) -> FloatArray:
    """The table's two log ratios beside each column, shape (along, 2), less their median: the light's colour.

    Only slow changes over four widths count: grain of wood or linen is not light. Shadow dims but hardly
    tints.
    """
    from scipy.ndimage import gaussian_filter1d

    rows = np.abs(np.arange(linear.shape[0]) - linear.shape[0] // 2)
    beside = log_features(linear[rows > BESIDE * radius])[..., 1:]
    ratios = np.median(beside, axis=0)
    slow = gaussian_filter1d(ratios, 4 * radius, axis=0, mode="nearest")
    return np.asarray(slow - np.median(slow, axis=0))
