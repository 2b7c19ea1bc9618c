"""How many-hued the most colourful part of a photo is: what rules a colour chart out in a few milliseconds.

A chart has reds beside greens, blues and yellows within a small window, so its log ratios of red and of blue
to green scatter in every direction. Two things side by side scatter along one line only, whatever their
colours. A lamp, which multiplies the channels, leaves the scatter as it is.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

from analyser.arrays import BoolArray
from analyser.imaging.downscale import Picture, downscale, resize

MANY_HUED = 0.2
"""Below this no window of a photo has a chart's hues.

Charts have 0.8 and more, those drawn as by a camera that mixes 40 % of each channel into the others 0.29 and
more; a fifth of the photos tried lies below.
"""

_LONGEST_PX = 500  # the copy that is looked at; the least chart that can be found is then 16 pixels long
_WINDOWS_PX = (8, 11)  # and twice, four times ... that, on copies of half, a quarter ... the size
_SMALL = 3  # copies whose windows show the hues of a chart that is a fifth of the photo long or less
_REACH = 1.5  # windows by which a chart may reach beyond the middle of one that shows its hues
_DARK = 0.01  # of a channel's light in the brightest things: darker than this, hue is grain


@dataclass(frozen=True, slots=True, eq=False)
class Hues:
    """How many-hued a photo is.

    Attributes
    ----------
    most : float
        The largest scatter over square windows, in the direction in which the window scatters least: standard
        deviation of the log ratios, at least 0; about 1 to 1.6 for a window full of chart, 0 for a picture
        smaller than the smallest window.
    small_chart : bool ndarray, shape (h, w)
        Where on a small copy of the photo a chart may lie that is a fifth of it long or less.
    """

    most: float
    small_chart: BoolArray


def hues(linear: Picture) -> Hues:
    """Look at square windows of every size.

    Parameters
    ----------
    linear : float32 ndarray, shape (h, w, 3)
        Linear light as the camera gave it.
    """
    small = downscale(linear, _LONGEST_PX)
    top = np.maximum(np.percentile(small[::2, ::2], 99.5, axis=(0, 1)), 1e-3)  # by channel, as lamps differ
    red, green, blue = cv2.split(cv2.log(np.maximum(small, 0) + (_DARK * top).astype(np.float32)))
    u, v = red - green, blue - green
    moments = [np.asarray(plane) for plane in (u, v, u * u, v * v, u * v)]
    near = np.zeros(u.shape, bool)
    most, level = 0.0, 0
    while min(moments[0].shape) >= min(_WINDOWS_PX):
        for size in _WINDOWS_PX:
            mean_u, mean_v, *mean = (np.asarray(cv2.blur(plane, (size, size))) for plane in moments)
            uu, vv, uv = mean[0] - mean_u**2, mean[1] - mean_v**2, mean[2] - mean_u * mean_v
            least = (uu + vv) / 2 - np.sqrt(((uu - vv) / 2) ** 2 + uv**2)  # the smaller eigenvalue
            most = max(most, float(least.max()))
            if level < _SMALL:
                reach = 2 * round(_REACH * size) + 1
                around = cv2.dilate(
                    (least > MANY_HUED**2).astype(np.uint8), np.ones((reach, reach), np.uint8)
                )
                grown = cv2.resize(around, near.shape[::-1], interpolation=cv2.INTER_NEAREST)
                near |= np.asarray(grown > 0)
        height, width = moments[0].shape
        moments = [resize(plane, (width // 2, height // 2)) for plane in moments]
        level += 1
    return Hues(float(np.sqrt(most)), near)
