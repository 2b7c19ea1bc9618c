"""Pieces of a set against each other, a new lot against a rope, a rope against its stock beads."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations
from typing import Literal

import cv2
import numpy as np
import numpy.typing as npt

from analyser.arrays import FloatArray, Lab
from analyser.audit.verdict import Piece
from analyser.colour.difference import delta_e_2000
from analyser.colour.spaces import linear_to_lab
from analyser.errors import OptionError
from analyser.photo.box import Box

WOVEN_AGAINST_PILED = (1.4, 4.7)
"""CIEDE2000 between the same opaque bead woven and in a pile: least and most over rendered ropes and trays.
The rope shades and mirrors itself otherwise than a heap does."""

NewLotVerdict = Literal["same", "usable if blended", "visible"]

READING_DE00 = 0.5
"""Repeatability of a role's colour: the same rope turned, mirrored or exposed otherwise stays within it."""


@dataclass(frozen=True, slots=True)
class Between:
    """Two pieces' colours of one role.

    Attributes
    ----------
    a, b : int
        Places of the pieces in the list, from 0.
    role : str
    de00 : float
    uncertainty_de00 : float
        Of the difference: both photos' uncertainties in quadrature.
    """

    a: int
    b: int
    role: str
    de00: float
    uncertainty_de00: float

    @property
    def told_apart(self) -> bool:
        """Whether the difference is more than the photos' uncertainty."""
        return self.de00 > self.uncertainty_de00


@dataclass(frozen=True, slots=True)
class NewLot:
    """A pile of a new lot against the role it is nearest to.

    Attributes
    ----------
    role : str
    lab : tuple of 3 float
        Of the pile: mean linear light of its pixels without the brightest tenth and darkest fifth.
    role_lab : tuple of 3 float
        Of the role, measured alike.
    de00 : float
    verdict : str
        ``same``, ``usable if blended`` or ``visible``.
    """

    role: str
    lab: Lab
    role_lab: Lab
    de00: float
    verdict: NewLotVerdict


@dataclass(frozen=True, slots=True)
class AgainstStock:
    """A role against the stock bead it was woven from.

    Attributes
    ----------
    role, bead : str
        The bead's name.
    de00 : float
    allowance_de00 : float
        What weaving and the photo explain.
    """

    role: str
    bead: str
    de00: float
    allowance_de00: float

    @property
    def explained(self) -> bool:
        """Whether weaving and the photo explain the difference."""
        return self.de00 <= self.allowance_de00


def between(pieces: list[Piece]) -> list[Between]:
    """Every pair of pieces, role by role."""
    found = []
    for (a, one), (b, other) in combinations(enumerate(pieces), 2):
        for role in one.roles:
            twin = other.role(role.role)
            if twin is None:
                continue
            de00 = float(delta_e_2000(role.lab, twin.lab))
            doubt = float(np.hypot(np.hypot(role.uncertainty_de00, twin.uncertainty_de00), READING_DE00))
            found.append(Between(a, b, role.role, de00, doubt))
    return found


def new_lot(piece: Piece, box: Box) -> NewLot:
    """Whether beads of a new lot, piled in the rope's own photo, may go on.

    Rope and pile share light and camera, so the photo's uncertainty falls out; what stays is that a pile
    looks otherwise than a rope.

    Raises
    ------
    OptionError
        If the box holds no beads, or lies outside the photo.
    """
    photo = piece.photo
    x, y, width, height = (v / photo.scale for v in box.in_pixels(photo.width, photo.height))
    pile = _pile(photo.linear, (round(x), round(y), round(width), round(height)))
    light = _middle_light(pile)
    lab = linear_to_lab(light)
    placed = piece.placed
    nearest: tuple[float, str, FloatArray] | None = None
    for seen in piece.roles:
        mine = placed.beads.role == seen.index
        if not mine.any():
            continue
        role_lab = linear_to_lab(np.median(placed.beads.linear[mine], axis=0))
        de00 = float(delta_e_2000(role_lab, lab))
        if nearest is None or de00 < nearest[0]:
            nearest = (de00, seen.role, role_lab)
    if nearest is None:
        raise OptionError(
            "the rope's roles could not be told apart, so there is nothing to compare the new lot to"
        )
    de00, role, role_lab = nearest
    least, most = WOVEN_AGAINST_PILED
    verdict: NewLotVerdict = "same" if de00 <= least else "usable if blended" if de00 <= most else "visible"
    return NewLot(
        role,
        (float(lab[0]), float(lab[1]), float(lab[2])),
        (float(role_lab[0]), float(role_lab[1]), float(role_lab[2])),
        de00,
        verdict,
    )


def _pile(linear: FloatArray, box: tuple[int, int, int, int]) -> FloatArray:
    """Linear light of the box's pixels that are not the table round it, shape (n, 3)."""
    x, y, width, height = box
    inside = linear[y : y + height, x : x + width]
    if inside.size < 3 * 100:
        raise OptionError(
            "the box of the new lot holds under a hundred pixels; frame the pile more generously"
        )
    pixels = inside.reshape(-1, 3).astype(np.float32)
    labs = linear_to_lab(cv2.GaussianBlur(inside, (0, 0), 1.0).reshape(-1, 3))
    reach = max(2, min(width, height) // 8)
    ring = linear[max(0, y - reach) : y + height + reach, max(0, x - reach) : x + width + reach].copy()
    outer = np.ones(ring.shape[:2], bool)
    top, left = min(reach, y), min(reach, x)
    outer[top : top + height, left : left + width] = False
    if outer.sum() < 50:
        return pixels
    table = linear_to_lab(np.median(ring[outer], axis=0))
    spread = np.percentile(np.hypot(*(linear_to_lab(ring[outer]) - table)[:, 1:].T), 75)
    off = labs - table
    # Shadow on the table is darker than the table, not of another hue.
    strange = (np.hypot(off[:, 1], off[:, 2]) > max(5.0, 2 * spread)) | (off[:, 0] > 8) | (off[:, 0] < -30)
    if strange.mean() < 0.05:
        return pixels  # the box lies wholly in the pile
    return np.asarray(pixels[strange])


def _middle_light(pixels: FloatArray) -> FloatArray:
    """Mean linear light without the brightest tenth and the darkest fifth, as beads are measured."""
    order = np.argsort(pixels.mean(axis=1))
    kept = order[round(0.2 * len(order)) : len(order) - round(0.1 * len(order))]
    return np.asarray(pixels[kept].mean(axis=0), float)


def against_stock(
    piece: Piece, role: str, bead: str, lab: npt.ArrayLike, doubt: float = 0.0
) -> AgainstStock | None:
    """A role against its stock colour, with the allowance for woven against piled; None if no such role.

    Parameters
    ----------
    lab : array_like, shape (3,)
        The stock bead's colour.
    doubt : float
        Its uncertainty in CIEDE2000.
    """
    seen = piece.role(role)
    if seen is None:
        return None
    de00 = float(delta_e_2000(seen.lab, lab))
    allowance = float(np.hypot(WOVEN_AGAINST_PILED[1], np.hypot(seen.uncertainty_de00, doubt)))
    return AgainstStock(role, bead, de00, allowance)
