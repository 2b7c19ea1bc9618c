"""Surfaces in a photo that may be grey or white cards, and what speaks for and against each.

A card is an even four-sided surface. So are phones, book covers, envelopes, tiles and printed swatches: what
tells them apart is weighed in ``reference``. Nothing here decides; it finds and measures.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
import numpy.typing as npt

from analyser.arrays import FloatArray
from analyser.colour.spaces import relative_luminance
from analyser.imaging.downscale import SMALLEST_PX, Picture, downscale
from analyser.imaging.gradients import cube_roots, largest_step
from analyser.imaging.regions import connected_regions, polygon_mask
from analyser.photo.light_evidence import log_tint

_SEARCHED_PX = 900  # longest side of the copy searched; a card of 20 mm is then wide enough on any table
# Blur in pixels, and cube-root steps per pixel below which a place counts as even: the faint rim of a white
# card on white paper needs the first, a card in coarse noise the last. Chosen on drawn flat-lays.
_EVEN = ((1.6, (0.0016,)), (1.2, (0.0028, 0.0045, 0.0075, 0.015)))
_SMALLEST, _LARGEST = 0.002, 0.2  # of the frame
_SHORTEST_PX = 12
_LONGEST_RATIO = 3.5  # of its sides; cards are 1 to 1.6
_SAME_PLACE = 0.25  # of its side: centres nearer than this are one surface seen at two limits
_SAME_LIGHT = 0.15  # log distance within which a surface is the one that was pointed out
_BURNT_OUT = 0.1  # share of a surface at the file's top from which it measures nothing


@dataclass(frozen=True, slots=True, eq=False)
class Surface:
    """An even four-sided surface.

    Attributes
    ----------
    corners : ndarray, shape (4, 2)
        In pixels of ``photo.linear``.
    linear : ndarray, shape (3,)
        Mean linear light of its inner part.
    area : float
        Share of the frame.
    mottle : float
        Standard deviation of the log of its luminance about a plane: its own texture and noise.
    ragged : float
        How far the even region is from filling its outline, 0 for a perfect fit.
    longer : float
        Longer side over the shorter, at least 1.
    skewed : float
        Largest difference of a corner from a right angle, in radians.
    stands_out : float
        Largest log step of a channel from it to the middle of what lies round it.
    around : float
        Share of what lies round it that is one surface, 0 to 1.
    inside_another : bool
        It lies within another such surface: a label, a screen.
    """

    corners: FloatArray
    linear: FloatArray
    area: float
    mottle: float
    ragged: float
    longer: float
    skewed: float
    stands_out: float
    around: float
    inside_another: bool

    @property
    def tint(self) -> FloatArray:
        """Log of red and of blue over green, shape (2,)."""
        return log_tint(self.linear)

    @property
    def luminance(self) -> float:
        """Of its light as the file has it, at least 0.0001."""
        return max(float(relative_luminance(self.linear)), 1e-4)


def find_surfaces(linear: Picture, clipped: npt.NDArray[np.bool_]) -> tuple[Surface, ...]:
    """Even four-sided surfaces, largest first.

    Parameters
    ----------
    linear : float32 ndarray, shape (h, w, 3)
        Linear light as the camera gave it.
    clipped : bool ndarray, shape (h, w)
        Where a stored channel is at its top.
    """
    if min(linear.shape[:2]) < SMALLEST_PX:
        return ()
    small = downscale(linear, _SEARCHED_PX)
    to_full = np.divide(linear.shape[1::-1], small.shape[1::-1])
    burnt = downscale(clipped.astype(np.float32), _SEARCHED_PX) > 0.5
    found: list[tuple[FloatArray, float]] = []
    for corners, ragged in sorted(_quadrilaterals(small), key=lambda one: one[1]):
        if not any(_same(known, corners) for known, _ in found):
            found.append((corners, ragged))
    surfaces = []
    for corners, ragged in found:
        others = [other for other, _ in found if other is not corners]
        surface = _measure(small, burnt, corners, ragged, others)
        if surface is not None:
            surfaces.append(surface)
    surfaces.sort(key=lambda one: -one.area)
    return tuple(_scaled(one, to_full) for one in surfaces)


def surface_round(
    linear: Picture, clipped: npt.NDArray[np.bool_], box: FloatArray, seen: FloatArray
) -> FloatArray | None:
    """Corners (4, 2) of the least surface of that linear light (3,) round the middle of a box, if any."""
    x, y = box.mean(axis=0)
    for surface in reversed(find_surfaces(linear, clipped)):
        holds = cv2.pointPolygonTest(surface.corners.astype(np.float32), (float(x), float(y)), False) > 0
        if holds and np.abs(np.log(surface.linear / seen)).max() < _SAME_LIGHT:
            return surface.corners
    return None


def _same(one: FloatArray, other: FloatArray) -> bool:
    """Whether two outlines are one surface, seen at two limits."""
    areas = [float(cv2.contourArea(corners.astype(np.float32))) for corners in (one, other)]
    side = np.sqrt(min(areas))
    return bool(
        np.hypot(*(one.mean(axis=0) - other.mean(axis=0))) < _SAME_PLACE * side
        and max(areas) < 2 * min(areas)
    )


def _scaled(surface: Surface, factor: FloatArray) -> Surface:
    values = {name: getattr(surface, name) for name in Surface.__slots__}
    return Surface(**{**values, "corners": surface.corners * factor})


def _quadrilaterals(light: Picture) -> list[tuple[FloatArray, float]]:
    """Corners (4, 2) of even regions that are quadrilaterals, and how ragged each is."""
    seen = cube_roots(light)
    found = []
    for blur_px, limits in _EVEN:
        step = largest_step(seen, blur_px)
        for limit in limits:
            # a speck of noise must not bore a hole
            even = cv2.medianBlur((step < limit).astype(np.uint8), 3) > 0
            labels, stats = connected_regions(np.asarray(even))
            left, top, width, height, area = stats.T
            fits = (area > _SMALLEST * step.size) & (area < _LARGEST * step.size)
            for index in np.flatnonzero(fits[1:]) + 1:
                low, high = top[index], top[index] + height[index]
                window = np.s_[low:high, left[index] : left[index] + width[index]]
                outline = _four_corners((labels[window] == index).astype(np.uint8))
                if outline is not None:
                    corners, ragged = outline
                    found.append((corners + np.array([left[index], top[index]]), ragged))
    return found


def _four_corners(mask: npt.NDArray[np.uint8]) -> tuple[FloatArray, float] | None:
    """Corners of a region that is a solid convex quadrilateral of card-like shape, and how ragged it is."""
    contours, _ = cv2.findContours(mask, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    hull = cv2.convexHull(max(contours, key=cv2.contourArea))
    corners = cv2.approxPolyDP(hull, 0.04 * cv2.arcLength(hull, True), True).reshape(-1, 2).astype(float)
    if len(corners) != 4:
        return None
    sides = np.hypot(*(corners - np.roll(corners, 1, axis=0)).T)
    if min(sides) < _SHORTEST_PX or max(sides) > _LONGEST_RATIO * min(sides):
        return None
    covered = mask.sum() / max(cv2.contourArea(corners.astype(np.float32)), 1.0)
    return (corners, abs(float(covered) - 1)) if 0.85 < covered < 1.15 else None


def _measure(
    light: Picture, burnt: npt.NDArray[np.bool_], corners: FloatArray, ragged: float, others: list[FloatArray]
) -> Surface | None:
    frame = light.shape
    # Only the part of the picture round it; even steps, so that rounding to whole pixels goes as it did.
    reach = corners.mean(axis=0) + 1.6 * (corners - corners.mean(axis=0))
    left, top = np.maximum(reach.min(axis=0) // 2 * 2 - 2, 0).astype(int)
    right, bottom = reach.max(axis=0).astype(int) + 2
    light, burnt = light[top:bottom, left:right], burnt[top:bottom, left:right]
    whole, corners = corners, corners - [left, top]
    inside = polygon_mask(corners, light.shape, 0.8)
    ring = polygon_mask(corners, light.shape, 1.5) & ~polygon_mask(corners, light.shape, 1.2)
    if inside.sum() < 50 or ring.sum() < 50 or burnt[inside].mean() > _BURNT_OUT:
        return None
    linear = light[inside].mean(axis=0, dtype=np.float64)
    around = np.log(np.maximum(light[ring], 1e-3))
    middle = np.median(around, axis=0)
    centre = whole.mean(axis=0).astype(np.float32)
    own_area = cv2.contourArea(whole.astype(np.float32))
    within = any(
        cv2.pointPolygonTest(other.astype(np.float32), (float(centre[0]), float(centre[1])), False) > 0
        and cv2.contourArea(other.astype(np.float32)) > 1.3 * own_area
        for other in others
    )
    longer, skewed = _shape(whole)
    return Surface(
        whole,
        linear,
        float(own_area / (frame[0] * frame[1])),
        _mottle(light, inside),
        ragged,
        longer,
        skewed,
        float(np.abs(np.log(np.maximum(linear, 1e-3)) - middle).max()),
        float((np.abs(around - middle).max(axis=1) < 0.35).mean()),
        within,
    )


def _shape(corners: FloatArray) -> tuple[float, float]:
    """Longer over shorter side, and the largest difference of a corner from a right angle (radians)."""
    sides = np.roll(corners, -1, axis=0) - corners
    lengths = np.hypot(*sides.T)
    along = lengths[:2] + lengths[2:]
    cosines = (sides * np.roll(sides, 1, axis=0)).sum(axis=1) / (lengths * np.roll(lengths, 1))
    return float(along.max() / along.min()), float(np.abs(np.arcsin(np.clip(cosines, -1, 1))).max())


def _mottle(light: Picture, inside: npt.NDArray[np.bool_]) -> float:
    y, x = np.nonzero(inside)
    level = np.log(np.maximum(relative_luminance(light[inside]), 1e-4))
    plane = np.column_stack([np.ones(len(x)), x - x.mean(), y - y.mean()])
    solved, *_ = np.linalg.lstsq(plane, level, rcond=None)
    return float((level - plane @ solved).std())
