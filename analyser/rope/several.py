"""Every rope of a photo: the clearest one as ``locating`` finds it, and what else lies there like a rope.

What is found beside the clearest must prove that it is a rope, for the cloth's stripes, the edge of a chart
and a row of swatches are elongated and evenly wide too. Beads part light and dark as much along a tube as
across it, and the table to both sides of them is calmer.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from analyser.arrays import FloatArray
from analyser.errors import PhotoError
from analyser.imaging.downscale import downscale
from analyser.photo.reading import Photo
from analyser.rope.locating import Rope, candidates, clearest, texture
from analyser.rope.roles import BEAD_OF_RADIUS
from analyser.rope.unrolling import straightened, unroll

LEAST_BEAD_PX = 12
"""Full-size pixels that a bead needs to be judged."""

ABOVE_TABLE = 2.5
"""Least texture along the tube over that of the table on its rougher side."""

AS_ACROSS = 0.4
"""Least texture along the tube over that across it. Stripes and edges run along it (0.2 to 0.3 seen); ropes
of rendered photos had 0.5 (columns) to 1.2."""

AS_THE_CLEAREST = 0.4
"""Least texture along the tube over that of the photo's clearest rope, which shares its light and lens."""

Why = Literal["small", "unclear"]


@dataclass(frozen=True, slots=True)
class Unjudged:
    """Something that may be a rope and was not judged.

    Attributes
    ----------
    box : tuple of 4 float
        x, y, width and height in full-size pixels.
    why : str
        ``small``: its beads have too few pixels; ``unclear``: they could not be told apart.
    """

    box: tuple[float, float, float, float]
    why: Why


def locate_all(photo: Photo) -> tuple[list[Rope], list[Unjudged]]:
    """Find every rope of a photo.

    Parameters
    ----------
    photo : Photo
        Read at any size; light need not be corrected.

    Returns
    -------
    ropes : list of Rope
        In reading order; one alone is what ``locate`` finds.
    unjudged : list of Unjudged
        Ropes whose beads are too small, in reading order.

    Raises
    ------
    PhotoError
        As ``locate``.
    """
    regions = candidates(photo)
    first = clearest(regions, photo.file)
    found, level = [first], None
    for _, rope in sorted(regions, key=lambda one: -one[0]):
        if any(_overlap(rope, other) for other in found):
            continue
        level = level or _textures(photo, first)[0]
        if _is_of_beads(_textures(photo, rope), level):
            found.append(rope)
    small = [rope for rope in found[1:] if _bead_px(photo, rope) < LEAST_BEAD_PX]
    ropes = [rope for rope in found if all(rope is not one for one in small)]
    return in_reading_order(ropes), [Unjudged(box_of(rope), "small") for rope in in_reading_order(small)]


def _bead_px(photo: Photo, rope: Rope) -> float:
    """About how many full-size pixels a bead has; the search makes small ropes wider than they are."""
    try:
        radius = unroll(photo, rope).radius
    except PhotoError:
        radius = rope.width / 2
    return BEAD_OF_RADIUS * radius * rope.scale


def box_of(rope: Rope) -> tuple[float, float, float, float]:
    """x, y, width and height of the box round a rope, in full-size pixels."""
    low = np.maximum(rope.centreline.min(axis=0) - rope.width / 2, 0) * rope.scale
    size = (rope.centreline.max(axis=0) + rope.width / 2) * rope.scale - low
    return float(low[0]), float(low[1]), float(size[0]), float(size[1])


def in_reading_order(ropes: list[Rope]) -> list[Rope]:
    """Rows from the top, each from the left; a row's middles lie within half the height of its first."""
    left = sorted(ropes, key=lambda rope: _middle(rope)[1])
    ordered: list[Rope] = []
    while left:
        height = box_of(left[0])[3]
        row = [rope for rope in left if _middle(rope)[1] <= _middle(left[0])[1] + height / 2]
        ordered += sorted(row, key=lambda rope: _middle(rope)[0])
        left = left[len(row) :]
    return ordered


def _middle(rope: Rope) -> tuple[float, float]:
    x, y, width, height = box_of(rope)
    return x + width / 2, y + height / 2


def _overlap(one: Rope, other: Rope) -> bool:
    """Whether a rope lies on another, part of it at the least."""
    gaps = np.hypot(
        one.centreline[:, None, 0] - other.centreline[None, :, 0],
        one.centreline[:, None, 1] - other.centreline[None, :, 1],
    )
    return bool((gaps.min(axis=1) < 0.5 * (one.width + other.width)).mean() > 0.05)


def _is_of_beads(textures: tuple[float, float, float], level: float) -> bool:
    along, across, table = textures
    return along > ABOVE_TABLE * table and along > AS_ACROSS * across and along > AS_THE_CLEAREST * level


def _textures(photo: Photo, rope: Rope) -> tuple[float, float, float]:
    """Texture of the tube along and across it, and along it on the rougher side of its table."""
    # At a common size, so that a bead's edges are as strong in a small rope as in a large one.
    times = min(1.0, 24.0 / (rope.width / 2))
    small = downscale(photo.linear, max(300, round(times * max(photo.linear.shape[:2]))))
    shrunk = small.shape[1] / photo.linear.shape[1]
    radius = rope.width / 2 * shrunk
    strip = straightened(small, rope.centreline * shrunk, radius)
    middle, rows = strip.shape[0] // 2, np.arange(strip.shape[0]) - strip.shape[0] // 2
    along = texture(strip, across=False)
    whole = texture(strip)
    inner = np.abs(rows) < 0.6 * radius
    # The ends of stripes cross them.
    along, whole = (picture[:, round(radius) : -round(radius)] for picture in (along, whole))
    sides: list[FloatArray] = [
        along[: middle - round(1.25 * radius)],
        along[middle + round(1.25 * radius) + 1 :],
    ]
    across = np.sqrt(np.maximum(whole**2 - along**2, 0))[inner]
    return (
        float(np.mean(along[inner])),
        float(np.mean(across)),
        max(float(np.mean(side)) for side in sides),
    )
