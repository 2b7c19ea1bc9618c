"""The colour of each role of a placed rope, and which role is which."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
import numpy.typing as npt

from analyser.arrays import BoolArray, FloatArray
from analyser.rope.placing import Placed

SIDE = 0.85
"""Share of the radius looked at for a role's colour. On twelve rendered ropes the median CIEDE2000 to the
look under an even sky was 1.9 so, 2.2 with 0.75, and 2.6 with 0.95 and doubtful pixels given to the
nearest bead."""

GLOSS_BESIDE, GLOSS_AREA = 0.25, 0.4
"""Bead diameters from a role within which gloss is its own, and its largest area in squared ones: half a
bead, so that a stray bead of a lighter colour is none. 0.2 to 0.3 and 0.2 to 0.4 told alike."""


@dataclass(frozen=True, slots=True, eq=False)
class RoleLook:
    """How a role looks in the photo.

    Attributes
    ----------
    index : int
        Role index in ``Placed``.
    name : str
        ``body``, ``accent``, ``third``.
    linear : ndarray, shape (3,)
        Mean linear light of all its visible pixels, gloss and inner shade included.
    share : float
        Of the rope's visible area, 0..1.
    beads : int
        Told apart in the photo.
    """

    index: int
    name: str
    linear: FloatArray
    share: float
    beads: int


def labels(placed: Placed) -> npt.NDArray[np.int8]:
    """The role of every strip pixel on the rope, -1 elsewhere, shape (across, along).

    Highlights, holes and gaps inside a role belong to it; between two roles, and at the outermost sides
    where table shines in, a pixel of no sure colour belongs to none.
    """
    strip, posterior = placed.strip, placed.posterior
    rows = np.abs(np.arange(posterior.shape[1])[:, None] - strip.middle) < SIDE * strip.radius
    columns = np.arange(posterior.shape[2])[None]
    rope = rows & (columns >= strip.start) & (columns < strip.stop)
    size = max(3, round(0.35 * placed.bead)) | 1
    disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (size, size))
    sure = posterior > 0.5
    role = np.full(rope.shape, -1, np.int8)
    for index in range(len(posterior)):
        closed = cv2.morphologyEx(sure[index].astype(np.uint8), cv2.MORPH_CLOSE, disc)
        filled = np.asarray(cv2.morphologyEx(closed, cv2.MORPH_OPEN, np.ones((3, 3)))) > 0
        others = np.delete(sure, index, axis=0).any(axis=0)
        role[rope & filled & ~others & (role < 0)] = index
    return role


def with_gloss(placed: Placed, role: npt.NDArray[np.int8]) -> npt.NDArray[np.int8]:
    """Roles of pixels, as ``labels`` gives them, with the gloss beside each role taken in.

    What shines is of no role's colour and lies off the bead's middle, where other beads begin. It is light
    that the bead sends back all the same: a dark navy without it came out 3.9 too dark in lightness.
    """
    from scipy import ndimage

    beside, (y, x) = ndimage.distance_transform_edt(role < 0, return_indices=True)
    strip = placed.strip
    rows = np.abs(np.arange(role.shape[0])[:, None] - strip.middle) < SIDE * strip.radius
    columns = np.arange(role.shape[1])[None]
    free = (role < 0) & rows & (columns >= strip.start) & (columns < strip.stop) & ~placed.table
    near = np.where(free & (beside < GLOSS_BESIDE * placed.bead), role[y, x], -1)
    light = strip.linear.mean(axis=-1)
    found = role.copy()
    for index in range(len(placed.posterior)):
        if not (role == index).any():
            continue
        spots, _ = ndimage.label((near == index) & (light > light[role == index].mean()))
        small = np.bincount(spots.ravel()) <= GLOSS_AREA * placed.bead**2
        small[0] = False
        found[small[spots]] = index
    return found


def role_looks(placed: Placed, coloured: Placed | None = None) -> list[RoleLook]:
    """The roles of a rope, body first.

    Body is the role with the larger visible area; within 10 %, the one with more beads.

    Parameters
    ----------
    placed : Placed
        Tells which beads and how much are of each role.
    coloured : Placed, optional
        Where its colour is looked at; as ``placed``.
    """
    role = labels(placed)
    shown = with_gloss(placed, role if coloured is None else labels(coloured))
    count = len(placed.posterior)
    areas = np.array([(role == index).sum() for index in range(count)], float)
    beads = np.bincount(placed.beads.role, minlength=count)
    order = sorted(range(count), key=lambda index: -areas[index])
    if count > 1 and areas[order[1]] > 0.9 * areas[order[0]]:
        order = sorted(order, key=lambda index: -int(beads[index]))
    names = ("body", "accent", "third", "fourth")
    total = max(float(areas.sum()), 1.0)
    return [
        RoleLook(
            index, names[place], mean_linear(placed, shown == index), areas[index] / total, int(beads[index])
        )
        for place, index in enumerate(order)
    ]


def mean_linear(placed: Placed, where: BoolArray) -> FloatArray:
    """Mean linear light of strip pixels, shape (3,); black where there are none."""
    if not where.any():
        return np.zeros(3)
    return np.asarray(placed.strip.linear[where].mean(axis=0, dtype=float))
