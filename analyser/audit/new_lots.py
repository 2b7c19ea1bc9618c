"""Beads of a new lot beside a rope, or beside the old lot: whether they may go on.

Rope and heaps share light and camera, so the photo's uncertainty falls out of what is compared.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import cv2
import numpy as np

from analyser.arrays import BoolArray, FloatArray, Lab
from analyser.audit.comparing import WOVEN_AGAINST_PILED
from analyser.audit.verdict import Piece
from analyser.colour.difference import delta_e_2000
from analyser.colour.spaces import linear_to_lab
from analyser.errors import OptionError
from analyser.photo.box import Box
from analyser.tray.finding import busy_pixels, find_blobs

NewLotVerdict = Literal["same", "usable if blended", "visible"]

PILED_AGAINST_PILED = (0.8, 5.0)
"""CIEDE2000 up to which two heaps are one lot to the eye (Paravina et al. 2015: half of 175 observers see
0.8), and up to which fading from one into the other hides it (our choice; Sharma et al. 2005: the formula is
for differences up to about 5)."""

_LEAST_BEADS = 0.3
"""Share of a box that beads make busy, bead beside bead, or unlike the table: of drawn tables of paper, linen
felt and wood 0 to 0.15 is busy, of heaps on them 0.64 and more, but for matte black on dark felt."""

_ROPE, _LEAST_PIXELS, _LEAST_TABLE = 0.3, 100, 50

_INSIDE = 0.6
"""Of a heap's radius, the half side of a square that lies within it."""

OLD_LOT = "old lot"


@dataclass(frozen=True, slots=True)
class NewLot:
    """A pile of a new lot against the role it is nearest to, or against a pile of the old lot.

    Attributes
    ----------
    role : str
        ``OLD_LOT`` for a pile.
    lab : tuple of 3 float
        Of the pile: mean linear light of its pixels without the brightest tenth and darkest fifth.
    role_lab : tuple of 3 float
        Of the role, or the old lot, measured alike.
    de00 : float
    verdict : str
        ``same``, ``usable if blended`` or ``visible``.
    """

    role: str
    lab: Lab
    role_lab: Lab
    de00: float
    verdict: NewLotVerdict


def new_lot(piece: Piece, box: Box, old: Box | None = None) -> NewLot:
    """Whether beads of a new lot, piled in the rope's own photo, may go on.

    Against the rope a pile looks otherwise than the same beads woven; against a pile of the old lot it does
    not, which tells more.

    Parameters
    ----------
    piece : Piece
    box : Box
        Round the new lot.
    old : Box, optional
        Round beads of the lot that was woven.

    Raises
    ------
    OptionError
        If a box holds no beads, holds the rope, or lies outside the photo.
    """
    light = _piled(piece, box, "the new lot")
    lab = linear_to_lab(light)
    if old is not None:
        old_lab = linear_to_lab(_piled(piece, old, "the old lot"))
        return _against(OLD_LOT, lab, old_lab, PILED_AGAINST_PILED)
    placed = piece.placed
    known = [
        (seen.role, linear_to_lab(np.median(placed.beads.linear[mine], axis=0)))
        for seen in piece.roles
        if (mine := placed.beads.role == seen.index).any()
    ]
    if not known:
        raise OptionError(
            "the rope's roles could not be told apart, so there is nothing to compare the new lot to"
        )
    role, role_lab = min(known, key=lambda one: float(delta_e_2000(one[1], lab)))
    return _against(role, lab, role_lab, WOVEN_AGAINST_PILED)


def _against(role: str, lab: FloatArray, other: FloatArray, bounds: tuple[float, float]) -> NewLot:
    de00 = float(delta_e_2000(other, lab))
    least, most = bounds
    verdict: NewLotVerdict = "same" if de00 <= least else "usable if blended" if de00 <= most else "visible"
    return NewLot(
        role,
        (float(lab[0]), float(lab[1]), float(lab[2])),
        (float(other[0]), float(other[1]), float(other[2])),
        de00,
        verdict,
    )


def heap_at(piece: Piece, x: float, y: float) -> Box:
    """A box within the heap that was touched.

    Parameters
    ----------
    piece : Piece
    x, y : float
        Pixels of the upright, full-size photo.

    Raises
    ------
    OptionError
        If no heap of beads lies there.
    """
    photo = piece.photo
    at = np.array([x, y]) / photo.scale
    left_out = piece.calibration.reference_mask(photo.linear.shape) | _rope(piece)
    for blob in find_blobs(photo.linear, left_out):
        if np.hypot(*(at - blob.centre)) <= blob.radius:
            half = _INSIDE * blob.radius * photo.scale
            middle = np.array(blob.centre) * photo.scale
            return Box(float(middle[0] - half), float(middle[1] - half), float(2 * half), float(2 * half))
    raise OptionError(
        f"no heap of beads lies at {x:.0f}, {y:.0f}; touch the middle of one, clear of the rope"
    )


def _rope(piece: Piece) -> BoolArray:
    """Where the rope lies in the photo's array."""
    shape = piece.photo.linear.shape[:2]
    drawn = np.zeros(shape, np.uint8)
    line = np.round(piece.centreline / piece.photo.scale).astype(np.int32)
    cv2.polylines(drawn, [line], False, 1, max(1, round(piece.width_px / piece.photo.scale)))
    return np.asarray(drawn > 0)


def _piled(piece: Piece, box: Box, what: str) -> FloatArray:
    """Linear light of the beads in a box."""
    photo = piece.photo
    x, y, width, height = (round(v / photo.scale) for v in box.in_pixels(photo.width, photo.height))
    here = np.s_[y : y + height, x : x + width]
    rope = _rope(piece)
    if rope[here].mean() > _ROPE:
        raise OptionError(f"the box of {what} holds the rope itself; frame beads that lie beside it")
    if width * height < _LEAST_PIXELS:
        raise OptionError(f"the box of {what} holds under a hundred pixels; frame the pile more generously")
    busy = busy_pixels(photo.linear, (x, y, width, height))
    reach = max(width, height)
    round_it = np.s_[max(0, y - reach) : y + height + reach, max(0, x - reach) : x + width + reach]
    table = photo.linear[round_it][~busy[round_it] & ~rope[round_it]]
    inside = photo.linear[here].astype(np.float32)
    strange = _off_the_table(inside, table)
    # Matte black beads on black felt are not busy, but they are not the table either.
    if max(strange.mean(), busy[here].mean()) < _LEAST_BEADS:
        raise OptionError(f"no beads lie in the box of {what}: it holds the table; frame the heap")
    # Beads of the table's own colour are told from it by their edges alone.
    beads = strange if strange.mean() >= _LEAST_BEADS else busy[here]
    return _middle_light(inside[beads])


def _off_the_table(inside: FloatArray, table: FloatArray) -> BoolArray:
    """Which of a box's pixels, shape (h, w, 3), are unlike the table's, shape (n, 3)."""
    if len(table) < _LEAST_TABLE:
        return np.ones(inside.shape[:2], bool)
    labs = linear_to_lab(cv2.GaussianBlur(inside, (0, 0), 1.0))
    middle = linear_to_lab(np.median(table, axis=0))
    spread = np.percentile(np.hypot(*(linear_to_lab(table) - middle)[:, 1:].T), 75)
    off = labs - middle
    # Shadow on the table is darker than the table, not of another hue.
    return np.asarray(
        (np.hypot(off[..., 1], off[..., 2]) > max(5.0, 2 * spread)) | (off[..., 0] > 8) | (off[..., 0] < -30)
    )


def _middle_light(pixels: FloatArray) -> FloatArray:
    """Mean linear light without the brightest tenth and the darkest fifth, as beads are measured."""
    order = np.argsort(pixels.mean(axis=1))
    kept = order[round(0.2 * len(order)) : len(order) - round(0.1 * len(order))]
    return np.asarray(pixels[kept].mean(axis=0), float)
