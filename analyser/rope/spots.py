"""Beads whose colour the roles' Gaussians do not hold: a role of few beads, or another lot of one.

A mixture of Gaussians overlooks what covers little: the accents of a spiral are a tenth of it, a lot of
them at one end a fiftieth. But they are beads: compact spots of one colour, as large as a bead, in the
middle of the tube as at its sides. Gaps are narrower, shade is wider, and the table shows at the sides
alone.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

from analyser.arrays import BoolArray, FloatArray
from analyser.imaging.logs import light_of, log_features
from analyser.imaging.mixtures import gaussian_fit
from analyser.rope.roles import (
    MOST_ROLES,
    NARROW,
    ONE_ROLE_BELOW,
    THIRD_ROLE_FROM,
    RoleModel,
    bhattacharyya_distance,
)
from analyser.rope.unrolling import Strip

AREA = 0.15, 1.1
"""Least and greatest area of a spot in squared bead diameters; a whole round bead has 0.79."""

WIDEST = 1.5
"""Longest side of a spot in bead diameters: beads of one round may touch, shade runs on."""

INWARDS = 0.65
"""Share of the radius within which spots are looked for."""

MIDDLE = 0.45
"""Half of the spots must lie within this share of the radius: what is table lies farther out."""

RIM = 0.6
"""Bead diameters from the table within which nothing is a spot."""

LEAST_SPOTS = 4
"""Spots of one colour from which they are beads of the motif and not strays."""

MIXED = 0.3
"""Distance of the two log ratios to a mixture of two roles within which spots are their beads' edges."""

SECTIONS = 40
"""Of the length, in which a role is looked for; under a loop of a spiral each."""


@dataclass(frozen=True, slots=True, eq=False)
class Spots:
    """Bead-sized spots of no role.

    Attributes
    ----------
    column, row : ndarray, shape (n,)
        Middle of each, in the strip.
    colour : ndarray, shape (n, 3)
        Median log features of each.
    pixels : ndarray, shape (m, 3)
        Log features of all their pixels.
    """

    column: FloatArray
    row: FloatArray
    colour: FloatArray
    pixels: FloatArray


def find_spots(
    level: FloatArray, posterior: FloatArray, table: BoolArray, strip: Strip, bead: float
) -> Spots:
    """Compact spots of no role's colour.

    Parameters
    ----------
    level : ndarray, shape (across, along, 3)
        Log features, slow light divided out.
    posterior : ndarray, shape (k, across, along)
        Probability of each role.
    table : bool ndarray, shape (across, along)
    strip : Strip
    bead : float
        Diameter in strip pixels.
    """
    from scipy import ndimage

    rows = np.abs(np.arange(level.shape[0]) - strip.middle)[:, None]
    columns = np.arange(level.shape[1])[None]
    looked = (rows < INWARDS * strip.radius) & (columns >= strip.start + bead) & (columns < strip.stop - bead)
    # Beside the table its blurred rim and its shadow between loops are spots too.
    reach = round(2 * RIM * bead) | 1
    rim = cv2.dilate(table.astype(np.uint8), cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (reach, reach))) > 0
    strange = (posterior.max(axis=0) < 0.5) & looked & ~table
    size = max(3, round(0.4 * bead)) | 1
    disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (size, size))
    labels, _ = ndimage.label(cv2.morphologyEx(strange.astype(np.uint8), cv2.MORPH_OPEN, disc))
    middles, colours, pixels = [], [], []
    for index, where in enumerate(ndimage.find_objects(labels), 1):
        mine = labels[where] == index
        if (mine & rim[where]).sum() > 0.2 * mine.sum():
            continue
        if not AREA[0] < mine.sum() / bead**2 < AREA[1] or max(mine.shape) > WIDEST * bead:
            continue
        features = level[where][mine]
        row, column = np.argwhere(mine).mean(axis=0)
        middles.append((where[1].start + column, where[0].start + row))
        colours.append(np.median(features, axis=0))
        pixels.append(features)
    return Spots(
        np.array([middle[0] for middle in middles]),
        np.array([middle[1] for middle in middles]),
        np.array(colours).reshape(-1, 3),
        np.vstack([np.zeros((0, 3)), *pixels]),
    )


def add_spots(model: RoleModel, spots: Spots, strip: Strip, seen: FloatArray) -> RoleModel:
    """The roles with bead-sized spots of one colour taken in.

    Parameters
    ----------
    model : RoleModel
    spots : Spots
    strip : Strip
    seen : ndarray, shape (k, along)
        How much of each role is seen at each column.

    Returns
    -------
    RoleModel
        The same one where the spots are few, of many colours, at the sides alone, near a role already there
        or a mixture of two. With another lot of a role where they lie on one side of some place and the role
        on the other; with a role more where they lie all along.
    """
    if len(spots.column) < LEAST_SPOTS:
        return model
    if np.median(np.abs(spots.row - strip.middle)) > MIDDLE * strip.radius:
        return model
    middle = np.median(spots.colour, axis=0)
    spread = 1.4826 * np.median(np.abs(spots.colour - middle), axis=0)
    if np.hypot(*spread[1:]) > NARROW:
        return model
    # A spot or two of another colour among them must not widen the component.
    off = np.abs(spots.pixels - np.median(spots.pixels, axis=0))
    near = (off < 4 * (1.4826 * np.median(off, axis=0) + 0.02)).all(axis=1)
    mean, covariance = gaussian_fit(spots.pixels[near])
    inside = (np.abs(np.arange(strip.linear.shape[0]) - strip.middle) < INWARDS * strip.radius).sum()
    share = len(spots.pixels) / max(inside * (strip.stop - strip.start), 1)
    apart = [
        bhattacharyya_distance(mean, covariance, m, c)
        for m, c in zip(model.means, model.covariances, strict=True)
    ]
    at = strip.fraction(spots.column)
    gone = [role for role in range(len(model.means)) if _takes_over(at, strip, seen[role])]
    if gone:
        return model.add_lot(min(gone, key=lambda role: apart[role]), mean, covariance, share)
    thirds = np.bincount(np.minimum((at * 3).astype(int), 2), minlength=3)
    least = ONE_ROLE_BELOW if len(model.means) == 1 else THIRD_ROLE_FROM
    along = thirds.min() >= 2 and len(model.means) < MOST_ROLES
    if along and min(apart) >= least and not _mixes(mean, model.means):
        return model.add_role(mean, covariance, share, min(apart))
    return model


def _takes_over(at: FloatArray, strip: Strip, seen: FloatArray) -> bool:
    """Whether the spots lie on one side of some place, where a role seen on the other is missing."""
    place = np.clip(strip.fraction(np.arange(len(seen))) * SECTIONS, 0, SECTIONS - 0.5).astype(int)
    kept = slice(strip.start, strip.stop)
    course = np.bincount(place[kept], seen[kept], SECTIONS)
    for cut in range(1, SECTIONS):
        behind = float((at >= cut / SECTIONS).mean())
        amounts = course[:cut].mean(), course[cut:].mean()
        if (behind < 0.1 and 4 * amounts[0] < amounts[1]) or (behind > 0.9 and 4 * amounts[1] < amounts[0]):
            return True
    return False


def _mixes(features: FloatArray, roles: FloatArray) -> bool:
    """Whether a colour has the hue of two roles' light mixed, as at the edges of their beads."""
    if len(roles) < 2:
        return False
    first, second = light_of(roles[0]), light_of(roles[1])
    part = np.linspace(0.1, 0.9, 17)[:, None]
    mixed = log_features(part * first + (1 - part) * second)[:, 1:]
    return bool((np.hypot(*(mixed - features[1:]).T) < MIXED).any())
