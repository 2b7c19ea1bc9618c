"""Which pixels of a pile are beads: table, soft shadow and the gaps between beads are left out.

The pile is brought to one size in a square close-up, in which a small network tells beads from all else; see
``bead_pixels`` for how it learnt that. Linear light with sRGB primaries.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
import numpy.typing as npt

from analyser.arrays import BoolArray
from analyser.tray.bead_pixels import RADIUS_PX, SIDE_PX, bead_chance
from analyser.tray.finding import Blob

F32 = npt.NDArray[np.float32]

_BEAD = 0.5  # chance from which a pixel is a bead's
_BEYOND = 0.12  # of the radius: how far outside where the pile was found its beads may lie
_LONGEST = 0.8  # of the close-up's side: no pile is longer there


@dataclass(frozen=True, slots=True, eq=False)
class CloseUp:
    """A square part of the photo with one pile in its middle, at the size the network knows.

    Attributes
    ----------
    corner : tuple of int
        x, y of its upper left corner in the photo as read.
    side : int
        Of it in the photo as read, pixels.
    """

    corner: tuple[int, int]
    side: int

    @classmethod
    def of(cls, blob: Blob, mask: BoolArray) -> CloseUp:
        """Of a pile found: its blob, and its mask at the photo's size."""
        rows, columns = np.flatnonzero(mask.any(axis=1)), np.flatnonzero(mask.any(axis=0))
        longest = max(np.ptp(rows), np.ptp(columns)) + 1
        side = max(SIDE_PX * blob.radius / RADIUS_PX, longest / _LONGEST, 8.0)
        middle = columns[[0, -1]].mean(), rows[[0, -1]].mean()
        return cls((round(middle[0] - side / 2), round(middle[1] - side / 2)), round(side))

    @property
    def shrink(self) -> float:
        """Its pixels for one of the photo as read."""
        return SIDE_PX / self.side

    def cut(self, layer: F32) -> F32:
        """That part of a layer, its first two axes SIDE_PX long; past the frame its rim goes on."""
        height, width = layer.shape[:2]
        (x, y), far_x, far_y = self.corner, self.corner[0] + self.side, self.corner[1] + self.side
        inside: F32 = np.ascontiguousarray(layer[max(0, y) : far_y, max(0, x) : far_x])
        beyond = max(0, -y), max(0, far_y - height), max(0, -x), max(0, far_x - width)
        if any(beyond):
            inside = np.asarray(cv2.copyMakeBorder(inside, *beyond, cv2.BORDER_REPLICATE), np.float32)
        how = cv2.INTER_AREA if self.shrink <= 1 else cv2.INTER_LINEAR
        return np.asarray(cv2.resize(inside, (SIDE_PX, SIDE_PX), interpolation=how), np.float32)


@dataclass(frozen=True, slots=True, eq=False)
class Outlined:
    """The beads of one pile in its close-up.

    Attributes
    ----------
    beads : bool ndarray, shape (SIDE_PX, SIDE_PX)
        True on bead pixels.
    whole : bool ndarray, shape (SIDE_PX, SIDE_PX)
        The pile with its gaps filled.
    unsure : float
        Mean chance that a pixel of the pile is told wrongly, from 0 to 0.5.
    """

    beads: BoolArray
    whole: BoolArray
    unsure: float


def outline(light: F32, roughly: BoolArray, elsewhere: BoolArray) -> Outlined:
    """Tell the bead pixels of a pile from what surrounds them.

    Parameters
    ----------
    light : float32 ndarray, shape (SIDE_PX, SIDE_PX, 3)
        Linear light of its close-up.
    roughly : bool ndarray, shape (SIDE_PX, SIDE_PX)
        Where it lies, a little too large rather than too small.
    elsewhere : bool ndarray, shape (SIDE_PX, SIDE_PX)
        Other piles, cards: no table either.

    Returns
    -------
    Outlined
    """
    chance = bead_chance(light, elsewhere)
    reach = 2 * round(_BEYOND * RADIUS_PX) + 1
    disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (reach, reach))
    near = (cv2.dilate(roughly.astype(np.uint8), disc) > 0) & ~elsewhere
    beads = near & (chance > _BEAD)
    closed = cv2.morphologyEx(beads.astype(np.uint8), cv2.MORPH_CLOSE, disc)
    contours, _ = cv2.findContours(closed, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    whole = np.zeros(beads.shape, np.uint8)
    if contours:
        cv2.drawContours(whole, [max(contours, key=cv2.contourArea)], -1, 1, cv2.FILLED)
    pile = whole > 0
    unsure = np.minimum(chance, 1 - chance)
    return Outlined(beads & pile, pile, float(unsure[pile].mean()) if pile.any() else 0.5)
