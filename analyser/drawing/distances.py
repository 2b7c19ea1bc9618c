"""A picture as the eye has it from further away: the same stretch, with what is lost on the way taken away.

The picture is not made smaller: it shows what is left of the same stretch. A picture of a rope stands for
the rope in the hand, so from there on the eye's filter [1] counts: at each fineness, what it passes at the
distance against what it passes in the hand. (The filter alone would fade even the rope in the hand, which
looks as it looks.) It is filtered in linear light in opponent channels; whether a pattern still *reads* is
judged by ``analyser.colour.viewing``, not by this picture.

Sources
-------
[1] Zhang, Wandell (1996), SID Symposium Digest 27, 731-734, as in ``analyser.colour.sight``.
"""

from __future__ import annotations

from functools import lru_cache

import cv2
import numpy as np

from analyser.arrays import FloatArray
from analyser.colour import sight, spaces, viewing
from analyser.drawing.solids import F32

IN_THE_HAND_M = viewing.DISTANCES_M["in the hand"]

_ROOM_DEG = 1.0  # of cloth above and below: the widest colour kernel, save a thousandth of it
_FINEST_DEG = 0.012  # pixels finer than a quarter of the narrowest kernel show nothing more


def from_distance(picture: F32, cloth: FloatArray, px_per_mm: float, distance_m: float) -> F32:
    """What is left of a picture of a rope at a distance.

    Parameters
    ----------
    picture : float32 array (height, width, 3)
        Linear light. The rope runs across it and goes on beyond its left and right edge.
    cloth : array (3,)
        Linear light of what lies beyond its upper and lower edge.
    px_per_mm : float
        Scale of the picture.
    distance_m : float
        At least that of the hand, 0.35; there the picture comes back unchanged.

    Returns
    -------
    float32 array (height, width, 3)
        Linear light in [0, 1], of the same size.

    Raises
    ------
    ValueError
        If the distance is nearer than the hand.
    """
    if distance_m < IN_THE_HAND_M:
        raise ValueError(f"distance_m must be {IN_THE_HAND_M} or more; got {distance_m}")
    if distance_m == IN_THE_HAND_M:
        return picture
    height, width = picture.shape[:2]
    px_per_degree = px_per_mm * float(viewing.mm_per_degree(distance_m))
    coarser = min(1.0, 1.0 / (_FINEST_DEG * px_per_degree))
    small = cv2.resize(
        picture,
        (max(4, round(width * coarser)), max(4, round(height * coarser))),
        interpolation=cv2.INTER_AREA,
    )
    room = int(np.ceil(_ROOM_DEG * px_per_degree * small.shape[0] / height))
    tall, wide = cv2.getOptimalDFTSize(small.shape[0] + 2 * room), 2 * small.shape[1]
    light = np.empty((tall, wide, 3), np.float32)
    light[:] = np.asarray(cloth, np.float32)
    # Mirrored, so that the rope goes on without a seam.
    light[room : room + small.shape[0], : small.shape[1]] = small
    light[room : room + small.shape[0], small.shape[1] :] = small[:, ::-1]
    mm_per_px = (height / small.shape[0] / px_per_mm, width / small.shape[1] / px_per_mm)
    left = _filtered(light, mm_per_px, distance_m)[room : room + small.shape[0], : small.shape[1]]
    shown = cv2.resize(left, (width, height), interpolation=cv2.INTER_CUBIC)
    return np.asarray(np.clip(shown, 0.0, 1.0), np.float32)


def _filtered(light: F32, mm_per_px: tuple[float, float], distance_m: float) -> F32:
    to_opponent = (sight.XYZ_TO_OPPONENT @ spaces.LINEAR_SRGB_TO_XYZ).astype(np.float32)
    waves = np.fft.rfft2(light @ to_opponent.T, axes=(0, 1))
    waves *= _left((light.shape[0], light.shape[1]), mm_per_px, distance_m)
    opponent = np.fft.irfft2(waves, s=light.shape[:2], axes=(0, 1))
    return np.asarray(opponent @ np.linalg.inv(to_opponent).T, np.float32)


# The same for every set of colours.
@lru_cache(maxsize=8)
def _left(shape: tuple[int, int], mm_per_px: tuple[float, float], distance_m: float) -> FloatArray:
    """What a distance leaves of each wave against the hand, by opponent channel, (h, w / 2 + 1, 3)."""
    down, across = np.fft.fftfreq(shape[0], mm_per_px[0]), np.fft.rfftfreq(shape[1], mm_per_px[1])
    cycles_per_mm = np.hypot(down[:, None], across)
    there = sight.modulation(cycles_per_mm * viewing.mm_per_degree(distance_m))
    here = sight.modulation(cycles_per_mm * viewing.mm_per_degree(IN_THE_HAND_M))
    return np.moveaxis(np.clip(there / np.maximum(here, 1e-12), 0.0, 1.0), 0, -1)
