"""How many-hued the most colourful part of a photo is: what rules a colour chart out in a few milliseconds.

A chart has reds beside greens, blues and yellows within a small window, so its log ratios of red and of blue
to green scatter in every direction. Two things side by side scatter along one line only, whatever their
colours. A lamp, which multiplies the channels, leaves the scatter as it is.
"""

from __future__ import annotations

import cv2
import numpy as np

from analyser.imaging.downscale import Picture, downscale, resize

_LONGEST_PX = 500  # the copy that is looked at; the least chart that can be found is then 16 pixels long
_WINDOWS_PX = (8, 11)  # and twice, four times ... that, on copies of half, a quarter ... the size
_DARK = 0.01  # of a channel's light in the brightest things: darker than this, hue is grain


def many_hued(linear: Picture) -> float:
    """The largest scatter over square windows, in the direction in which the window scatters least.

    Parameters
    ----------
    linear : float32 ndarray, shape (h, w, 3)
        Linear light as the camera gave it.

    Returns
    -------
    float
        Standard deviation of the log ratios, at least 0; about 1 to 1.6 for a window full of chart, 0 for a
        picture smaller than the smallest window.
    """
    small = downscale(linear, _LONGEST_PX)
    top = np.maximum(np.percentile(small[::2, ::2], 99.5, axis=(0, 1)), 1e-3)  # by channel, as lamps differ
    red, green, blue = cv2.split(cv2.log(np.maximum(small, 0) + (_DARK * top).astype(np.float32)))
    u, v = red - green, blue - green
    moments = [np.asarray(plane) for plane in (u, v, u * u, v * v, u * v)]
    most = 0.0
    while min(moments[0].shape) >= min(_WINDOWS_PX):
        for size in _WINDOWS_PX:
            mean_u, mean_v, *mean = (np.asarray(cv2.blur(plane, (size, size))) for plane in moments)
            uu, vv, uv = mean[0] - mean_u**2, mean[1] - mean_v**2, mean[2] - mean_u * mean_v
            least = (uu + vv) / 2 - np.sqrt(((uu - vv) / 2) ** 2 + uv**2)  # the smaller eigenvalue
            most = max(most, float(least.max()))
        height, width = moments[0].shape
        moments = [resize(plane, (width // 2, height // 2)) for plane in moments]
    return float(np.sqrt(most))
