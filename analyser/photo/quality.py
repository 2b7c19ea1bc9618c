"""What makes a photo's colours doubtful, told in plain words: clipping, blur, dark, uneven and mixed light.

Every threshold is our own choice; where and against what it was chosen stands beside it.
"""

from __future__ import annotations

import cv2
import numpy as np
import numpy.typing as npt

from analyser.arrays import FloatArray
from analyser.colour.spaces import linear_to_lab
from analyser.imaging.downscale import SMALLEST_PX
from analyser.imaging.gradients import largest_channel
from analyser.photo.illumination import IlluminationField
from analyser.photo.reading import Photo

_CLIPPED = 0.02  # of the frame; glints on glass beads stay well below
_DARK = (
    0.12  # 98th percentile of the brightest channel; then a white card would take less than half the range
)
UNEVEN = 1.25  # brightest to darkest: a quarter shows as 8 L*, more than bead lots differ by
_BLURRED = 0.28  # see ``sharpness``: more than two pixels of blur; sharp photos measure 0.5 and more
_EDGE_PX = 8
_EVERY = 5  # rows and columns along which edges are looked at: more of them show no others


def remarks(photo: Photo, field: IlluminationField | None) -> tuple[str, ...]:
    """What to know about the photo before trusting its colours."""
    said = []
    clipped = float(photo.clipped.mean())
    if clipped > _CLIPPED:
        said.append(f"{clipped:.0%} of the picture is overexposed; colours there are lost")
    if brightest(photo) < _DARK:
        said.append("the picture is very dark; dark colours are unsure, so photograph it in more light")
    if sharpness(photo) < _BLURRED:
        said.append("the picture is blurred; neighbouring colours run into each other")
    if field is not None and field.cast_ratio > 1:
        said.append("mixed light: its tint changes across the picture; one kind of light is safer")
    if field is not None and field.ratio > UNEVEN:
        said.append(f"uneven light: the brightest part gets {field.ratio:.1f} times the light of the darkest")
    return tuple(said)


def brightest(photo: Photo) -> float:
    """98th percentile of the larger channel: the level of the lightest things but glints."""
    return float(np.percentile(largest_channel(photo.linear[::3, ::3]), 98))


def sharpness(photo: Photo) -> float:
    """How steep the steepest edges are at the reading size: the largest step of one pixel in that of eight.

    1 for a perfect edge, about 0.45 when blurred by one pixel (standard deviation), 0.3 by two.
    """
    if min(photo.linear.shape[:2]) < SMALLEST_PX:
        return 1.0
    green = photo.linear[..., 1]
    ratios = [_steepness(green[::_EVERY]), _steepness(green[:, ::_EVERY].T)]
    return float(np.percentile(np.concatenate(ratios), 90))


def _steepness(light: npt.NDArray[np.float32]) -> npt.NDArray[np.float32]:
    """Of the strongest edges along rows: their largest step of one pixel over the whole step."""
    level = np.sqrt(np.clip(light, 0, 1, order="C"))
    whole = np.abs(level[:, _EDGE_PX:] - level[:, :-_EDGE_PX])
    one = np.abs(np.diff(level, axis=1))
    largest = np.asarray(cv2.dilate(one, np.ones((1, _EDGE_PX), np.uint8), anchor=(0, 0)))[
        :, : whole.shape[1]
    ]
    strong = whole > max(0.5 * float(np.percentile(whole, 99.9)), 0.05)
    return (largest[strong] / whole[strong]).astype(np.float32) if strong.any() else np.ones(1, np.float32)


def tint_words(cast: FloatArray) -> str:
    """``warm``, ``cool``, ``greenish`` or ``pinkish``: the side to which a light leans."""
    _, a, b = linear_to_lab(0.5 * cast)
    if abs(b) >= abs(a):
        return "warm" if b > 0 else "cool"
    return "pinkish" if a > 0 else "greenish"
