"""Where the piles of beads lie in a tray photo: found by their texture.

A pile is edges in all directions at once, bead beside bead. A table is smooth, a saucer's rim and a card's
side are edges in one direction. The structure tensor [1] tells them apart: its smaller eigenvalue is large
only where edges of different directions meet within a bead or two.

Sources
-------
[1] Foerstner, Guelch (1987), Proc. ISPRS Intercommission Workshop, Interlaken, 281-305: corners by the
    smaller eigenvalue of the averaged gradient products.
"""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass

import cv2
import numpy as np
import numpy.typing as npt

from analyser.arrays import BoolArray
from analyser.imaging.border import border_colours, unlike_border
from analyser.imaging.downscale import downscale
from analyser.imaging.gradients import cube_roots, gradients

F32 = npt.NDArray[np.float32]
Mask = npt.NDArray[np.uint8]

#: Longest sides of the copies searched: small piles show in the first, large beads in the others.
_SEARCHED_PX = (1000, 500, 250)
_AROUND_PX = 4.0  # over which directions are gathered; about a bead where 24 piles fill a frame
# Cube-root steps per pixel. Path-traced tables of paper, linen, wood and felt have 0.001 to 0.005, the
# faintest piles (white on white paper) 0.02.
_BUSY = 0.010
# A coarse cloth's own busyness scatters; a pile stands out by a power of its median over its tenth.
_SCATTERS, _ABOVE_TABLE = 2.5, (1.7, 4.0)  # that power, and times the median at the least and the most
_ABOVE_IN_COLOUR = 1.3  # times the median, where the colours are not those of the frame's border
_FOREIGN = 0.55  # share of such pixels from which a place is of other colours than the table
_OWN_COLOURS, _VERY_BUSY = 0.25, 6.0  # less of them and less busy than that: a print or a stripe of the cloth
_SMALLEST_PX = 14.0  # radius on the copy; a lone corner of a card spreads over 10, whatever the copy
_LEAST_OF_MEDIAN = 0.3  # radius beside the median pile's; strays of a few beads are smaller
_SOLID = 0.75  # of its convex hull; what is left of a rim or a word is far below
_LONGEST = 8.0  # length to width; a tube on its side is 5 to 6
# A neck is where a region is narrower than this share of its widest, between parts about as wide as that; a
# tube has none.
_NECK, _AS_WIDE = (0.25, 0.4, 0.55), 0.75
_FILLED = 0.6  # of it is busy by itself: corners of a card with its plain inside have less


@dataclass(frozen=True, slots=True, eq=False)
class Blob:
    """Roughly where a pile lies.

    Attributes
    ----------
    mask : bool ndarray, shape (h, w)
        Of the picture searched, at the size of the copy.
    centre : tuple of float
        x, y in pixels of the picture searched.
    radius : float
        Of a disc with the same area, in pixels of the picture searched.
    length_to_width : float
        Of the ellipse with the same second moments, at least 1.
    """

    mask: BoolArray
    centre: tuple[float, float]
    radius: float
    length_to_width: float


def busyness(linear: F32, longest_px: int) -> F32:
    """Root of the structure tensor's smaller eigenvalue, in cube-root steps per pixel of the copy."""
    across, down = gradients(cube_roots(downscale(linear, longest_px)), 1.0)
    xx, yy, xy = (
        cv2.GaussianBlur(np.einsum("hwc,hwc->hw", one, two), (0, 0), _AROUND_PX)
        for one, two in ((across, across), (down, down), (across, down))
    )
    half = np.sqrt(((xx - yy) / 2) ** 2 + xy**2)
    return np.asarray(np.sqrt(np.maximum((xx + yy) / 2 - half, 0)), np.float32)


def busy_pixels(linear: F32, box: tuple[int, int, int, int]) -> BoolArray:
    """Which pixels of a picture are as busy as beads are, searched as finely as shows most of a box so.

    Parameters
    ----------
    linear : float32 ndarray, shape (h, w, 3)
        Linear light.
    box : tuple of 4 int
        x, y, width, height in its pixels.

    Returns
    -------
    bool ndarray, shape (h, w)
    """
    x, y, width, height = box
    best, most = np.zeros(linear.shape[:2], bool), 0.0
    for longest in _SEARCHED_PX:
        busy = busyness(linear, longest)
        small = (busy > max(_BUSY, _ABOVE_TABLE[1] * float(np.median(busy)))).astype(np.uint8)
        size = linear.shape[1], linear.shape[0]
        own = cv2.resize(small, size, interpolation=cv2.INTER_NEAREST) > 0
        share = float(own[y : y + height, x : x + width].mean())
        if share > most:
            best, most = own, share
    return best


def find_blobs(linear: F32, left_out: BoolArray | None = None) -> tuple[Blob, ...]:
    """Find the piles in a photo.

    Parameters
    ----------
    linear : float32 ndarray, shape (h, w, 3)
        Linear light.
    left_out : bool ndarray, shape (h, w), optional
        True where there can be no pile: a card, a chart, what alpha hides.

    Returns
    -------
    tuple of Blob
        In no order.
    """
    found: list[Blob] = []
    border = border_colours(linear)
    for longest in _SEARCHED_PX:
        busy = busyness(linear, longest)
        foreign = unlike_border(downscale(linear, longest), border)
        own = _stands_out(busy, foreign)
        back = linear.shape[1] / own.shape[1]
        if left_out is not None:
            size = own.shape[1], own.shape[0]
            own &= cv2.resize(left_out.astype(np.uint8), size, interpolation=cv2.INTER_LINEAR) == 0
        for blob in _regions(own):
            if _of_cloth(blob, busy, foreign):
                continue
            blob = dataclasses.replace(
                blob, centre=(blob.centre[0] * back, blob.centre[1] * back), radius=blob.radius * back
            )
            inside = [known for known in found if _within(known, blob)]
            # a smaller copy sees little of bead and gap: it only speaks for what a larger one saw in bits
            largest = max((known.radius for known in inside), default=0.0)
            covered = sum(known.radius**2 for known in inside)
            if largest < 0.5 * blob.radius and covered < 0.3 * blob.radius**2:
                found = [known for known in found if not any(known is other for other in inside)]
                found.append(blob)
    if found:
        usual = float(np.median([blob.radius for blob in found]))
        found = [blob for blob in found if blob.radius >= _LEAST_OF_MEDIAN * usual]
    return tuple(found)


def _stands_out(busy: F32, foreign: BoolArray) -> BoolArray:
    """Places busier than the table, or busy and of other colours."""
    usual, calm = (float(value) for value in np.percentile(busy, (50, 10)))
    above = float(np.clip((usual / max(calm, 1e-6)) ** _SCATTERS, *_ABOVE_TABLE))
    reach = 2 * round(0.75 * _AROUND_PX) + 1
    share = cv2.blur(foreign.astype(np.float32), (reach, reach))
    coloured = (busy > max(_BUSY, _ABOVE_IN_COLOUR * usual)) & (share > _FOREIGN)
    return np.asarray((busy > max(_BUSY, above * usual)) | coloured)


def _of_cloth(blob: Blob, busy: F32, foreign: BoolArray) -> bool:
    """Whether a blob has the colours of the frame's border and is no busier than prints of them are."""
    busier = float(np.median(busy[blob.mask])) / max(float(np.median(busy)), 1e-6)
    return bool(foreign[blob.mask].mean() < _OWN_COLOURS and busier < _VERY_BUSY)


def _within(known: Blob, blob: Blob) -> bool:
    """Whether the two share ground."""
    gap = np.hypot(known.centre[0] - blob.centre[0], known.centre[1] - blob.centre[1])
    return bool(gap < known.radius + blob.radius)


def _regions(own: BoolArray) -> list[Blob]:
    """Solid regions of a busy map, with their holes filled, in its own pixels."""
    closed = cv2.morphologyEx(own.astype(np.uint8), cv2.MORPH_CLOSE, _disc(3))
    contours, _ = cv2.findContours(closed, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    found = []
    for contour in contours:
        mask: Mask = np.zeros(own.shape, np.uint8)
        cv2.drawContours(mask, [contour], -1, 1, cv2.FILLED)
        mask = np.asarray(cv2.morphologyEx(mask, cv2.MORPH_OPEN, _disc(5)), np.uint8)
        if mask.sum() >= np.pi * _SMALLEST_PX**2:
            found += [blob for part in _part(mask) if (blob := _blob(part, own)) is not None]
    return found


def _part(mask: Mask) -> list[Mask]:
    """Piles that lie so near each other that they became one region: cut where it has a neck."""
    depth = cv2.distanceTransform(mask, cv2.DIST_L2, 5)
    deepest = float(depth.max())
    for share in _NECK:
        count, labels = cv2.connectedComponents((depth > share * deepest).astype(np.uint8), connectivity=4)
        wide = [at for at in range(1, count) if depth[labels == at].max() > _AS_WIDE * deepest]
        if len(wide) > 1:
            gaps = [cv2.distanceTransform((labels != at).astype(np.uint8), cv2.DIST_L2, 5) for at in wide]
            nearest = np.argmin(gaps, axis=0)
            return [np.where(nearest == at, mask, 0).astype(np.uint8) for at in range(len(wide))]
    return [mask]


def _blob(mask: Mask, own: BoolArray) -> Blob | None:
    """The region as a blob, if it is solid, busy all over and not too long."""
    area = int(mask.sum())
    if area < np.pi * _SMALLEST_PX**2 or own[mask > 0].mean() < _FILLED:
        return None
    pieces, _ = cv2.findContours(mask, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    outer = max(pieces, key=cv2.contourArea)
    hull_area = float(cv2.contourArea(cv2.convexHull(outer)))
    moments = cv2.moments(mask, binaryImage=True)
    m20, m11, m02 = (moments[name] / moments["m00"] for name in ("mu20", "mu11", "mu02"))
    short, long = np.sqrt(np.maximum(np.linalg.eigvalsh(np.array([[m20, m11], [m11, m02]])), 1e-6))
    if area < _SOLID * hull_area or long > _LONGEST * short:
        return None
    centre = moments["m10"] / moments["m00"] + 0.5, moments["m01"] / moments["m00"] + 0.5
    return Blob(mask > 0, centre, float(np.sqrt(area / np.pi)), float(long / short))


def _disc(radius_px: int) -> npt.NDArray[np.uint8]:
    size = 2 * radius_px + 1
    return np.asarray(cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (size, size)), np.uint8)
