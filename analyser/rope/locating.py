"""Where in a photo the rope lies: its centreline and its width.

A bead-woven rope is the place of the frame that is textured at the scale of beads all over an
elongated, evenly wide region: every bead has a bright and a dark side, a gap beside it and often a
hole. Cards and charts are smooth inside, thread and needle are thinner than any rope, shadow is soft,
paper, felt, wood and linen carry a fainter texture. So the texture is measured, opened by a square of
about a bead so that single edges vanish, cut between the level of the table and that of the rope, and
the longest evenly wide region is kept.

Sources
-------
Otsu (1979), IEEE Trans. SMC 9(1) 62-66, for the cut; Zhang & Suen (1984), Commun. ACM 27(3) 236-239,
for the thinning (scikit-image); the rest is common practice, no source.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np

from analyser.arrays import BoolArray, FloatArray, IntArray
from analyser.errors import PhotoError
from analyser.imaging.border import border_colours, unlike_border
from analyser.imaging.downscale import downscale
from analyser.imaging.gradients import cube_root
from analyser.photo.reading import Photo
from analyser.rope.centreline import from_first_end, length_of, resample, smooth_course

SEARCH_SIDES = (1200, 600, 300)
"""Longer sides, in pixels, at which the rope is searched. Beads of 12 px in a 24 MP photo are 2.4 px at
1200 and still texture; a close-up whose beads are 100 px there is textured at 300."""

MIN_ELONGATION = 4.0
"""Centreline over width below which a textured region is a pile, a chart or a crowd, not a rope."""


FAINTEST = 0.01
"""Least texture of a rope, in the units of ``texture``: noise on a dark card reaches 0.004, black beads on
wood 0.02, others 0.04 and more."""


ABOVE_CLOTH = 1.5
"""Times the frame's median, how much of its texture a rope of the table's colours is not credited with."""


@dataclass(frozen=True, slots=True, eq=False)
class Rope:
    """A rope's place in a photo.

    Attributes
    ----------
    centreline : ndarray, shape (n, 2)
        x, y in pixels of the photo's array (a pixel's centre at +0.5), evenly spaced, from the end with
        the smaller x (or, within 5 % of the width, the smaller y) to the other end.
    width : float
        Across the tube, in pixels of the photo's array.
    scale : float
        Full-size pixels per array pixel.
    """

    centreline: FloatArray
    width: float
    scale: float

    def at_scale(self, scale: float) -> Rope:
        """The same rope in the array of the photo read at another size; full-size pixels per array pixel."""
        times = self.scale / scale
        return Rope(self.centreline * times, self.width * times, scale)

    @property
    def length(self) -> float:
        """Along the centreline, in pixels of the photo's array."""
        return float(np.hypot(*np.diff(self.centreline, axis=0).T).sum())


def texture(linear: FloatArray, *, across: bool = True) -> FloatArray:
    """Gradient strength of the cube-root-compressed channels, shape (h, w); along x alone if not ``across``.

    The cube root makes equal ratios of light about equally strong, so that shade does not hide beads.
    """
    compressed = cube_root(np.maximum(linear, 0) + np.float32(0.002))
    squares = np.zeros(linear.shape[:2], np.float32)
    for channel in cv2.split(compressed):
        calm = cv2.GaussianBlur(channel, (0, 0), 1.0)
        for dx, dy in ((1, 0), (0, 1)) if across else ((1, 0),):
            squares += (cv2.Scharr(calm, cv2.CV_32F, dx, dy) / 32) ** 2
    return np.sqrt(squares)


def locate(photo: Photo) -> Rope:
    """Find the clearest rope of a photo.

    Parameters
    ----------
    photo : Photo
        Read at any size; light need not be corrected.

    Returns
    -------
    Rope
        Its ends and width still coarse, within about half a bead; unrolling trims them.

    Raises
    ------
    PhotoError
        If nothing in the photo is textured, elongated and evenly wide, as a rope is.
    """
    return clearest(candidates(photo), photo.file)


def clearest(found: Sequence[tuple[float, Rope]], file: str) -> Rope:
    """The best of the candidates; a finer search wins unless clearly worse.

    Raises
    ------
    PhotoError
        If there is none.
    """
    best: tuple[float, Rope] | None = None
    for score, rope in found:
        if best is None or score > best[0] * 1.15:
            best = (score, rope)
    if best is None:
        raise PhotoError(
            f"{file}: no rope found; it must lie in the frame from end to end, at least "
            f"{MIN_ELONGATION:g} times as long as wide, its beads in focus and at least 12 pixels each"
        )
    return best[1]


def candidates(photo: Photo) -> list[tuple[float, Rope]]:
    """Score and place of each rope-like region, from the finest search to the coarsest."""
    width = photo.linear.shape[1]
    found = []
    border = border_colours(photo.linear)
    for side in SEARCH_SIDES:
        small = downscale(photo.linear, side)
        times = width / small.shape[1]
        for line, across, score in _regions(small, border):
            found.append((score, Rope(from_first_end(line * times, width), across * times, photo.scale)))
    return found


def _regions(
    linear: FloatArray, border: tuple[FloatArray, FloatArray]
) -> list[tuple[FloatArray, float, float]]:
    """Centreline, width and score of each rope-like region, in pixels of ``linear``."""
    strength = texture(linear)
    foreign = unlike_border(linear, border)
    opened = cv2.morphologyEx(cv2.boxFilter(strength, -1, (9, 9)), cv2.MORPH_OPEN, np.ones((15, 15)))
    level = np.log(opened + 1e-4)
    table = float(np.median(level))
    rope = float(np.percentile(level, 99))
    # A rope's texture is at least twice that of the roughest linen or felt tried (generator and
    # rendered photos: 2.6 to 60 times); a photo without such a place holds none.
    masks = []
    if rope - table >= np.log(1.9) and rope >= np.log(FAINTEST):
        otsu = _otsu(level)
        cut = max(table + 0.45 * (rope - table), min(otsu, rope - 0.7))
        masks.append(level > min(cut, table + 0.7 * (rope - table)))
    if rope >= np.log(FAINTEST):
        # On a rough or printed cloth colour tells where texture does not; a card is plain inside.
        share = cv2.boxFilter(foreign.astype(np.float32), -1, (7, 7))
        masks.append((share > 0.5) & (opened > FAINTEST))
    # Where the colours are the table's, texture counts only as far as it is more than a rough cloth's.
    evidence = np.where(foreign, strength, np.maximum(strength - ABOVE_CLOTH * float(np.median(strength)), 0))
    found = []
    for mask in masks:
        found += _ropelike(mask, evidence)
    return found


def _otsu(level: FloatArray) -> float:
    """Otsu's cut between the two kinds of pixels of a picture."""
    low, high = float(level.min()), float(level.max())
    coded = np.round((level - low) / max(high - low, 1e-9) * 255).astype(np.uint8)
    cut, _ = cv2.threshold(coded, 0, 255, cv2.THRESH_BINARY + cv2.THRESH_OTSU)
    return low + (float(cut) + 0.5) / 255 * (high - low)


def _ropelike(mask: BoolArray, evidence: FloatArray) -> list[tuple[FloatArray, float, float]]:
    """Centreline, width and score of each rope-like part of a mask."""
    from scipy import ndimage

    closed = cv2.morphologyEx(mask.astype(np.uint8), cv2.MORPH_CLOSE, np.ones((9, 9)))
    labels, count = ndimage.label(closed, np.ones((3, 3)))
    sizes = np.bincount(labels.ravel(), minlength=count + 1)
    found = []
    windows = ndimage.find_objects(labels)
    for label in np.argsort(sizes[1:])[::-1][:6] + 1:
        if sizes[label] < 0.0015 * labels.size:
            break
        window = windows[label - 1]
        region = ndimage.binary_fill_holes(labels[window] == label)
        holes = region & (labels[window] != label)
        # Filling must not close a ring's inside: only holes smaller than a fifth of the region go.
        hole_labels, hole_count = ndimage.label(holes)
        hole_sizes = np.bincount(hole_labels.ravel(), minlength=hole_count + 1)
        keep_open = (hole_sizes > 0.05 * sizes[label]) & (np.arange(hole_count + 1) > 0)
        region &= ~keep_open[hole_labels]
        measured = _measure(region, evidence[window])
        if measured is not None:
            line, across, score = measured
            corner = np.array([window[1].start, window[0].start], float)
            found.append((line + corner, across, score))
    return found


def _measure(region: BoolArray, strength: FloatArray) -> tuple[FloatArray, float, float] | None:
    """Centreline, width and score of one region, or None if it is not rope-like."""
    padded = np.pad(region, 2)
    distance = cv2.distanceTransform(padded.astype(np.uint8), cv2.DIST_L2, 5)
    path = _longest_path(padded)
    if path is None or len(path) < 8:
        return None
    half = distance[path[:, 0], path[:, 1]]
    radius = float(np.median(half[len(half) // 5 : -(len(half) // 5) or None]))
    length = float(np.hypot(*np.diff(path, axis=0).T).sum()) + radius
    middle = half[len(half) // 8 : -(len(half) // 8) or None]
    unevenness = float(np.std(middle) / max(radius, 1e-6))
    elongation = length / (2 * radius)
    area = float(region.sum())
    filled = min(length * 2 * radius, area) / max(length * 2 * radius, area)
    if elongation < MIN_ELONGATION or unevenness > 0.35 or filled < 0.6 or radius < 5:
        return None
    line = _smooth(path[:, ::-1].astype(float) + 0.5 - 2, radius)
    score = float(np.mean(strength[region])) * np.sqrt(length * radius) * filled / (1 + 2 * unevenness)
    return line, 2 * radius, score


def _longest_path(mask: BoolArray) -> IntArray | None:
    """Row, column of the longest shortest path through the mask's skeleton, shape (n, 2)."""
    from scipy.sparse import coo_matrix
    from scipy.sparse.csgraph import dijkstra
    from skimage.morphology import skeletonize

    thin = skeletonize(mask)  # type: ignore[no-untyped-call]  # untyped library
    rows, columns = np.nonzero(thin)
    if len(rows) < 8:
        return None
    number = np.full(mask.shape, -1)
    number[rows, columns] = np.arange(len(rows))
    starts, ends, weights = [], [], []
    for dr, dc in ((0, 1), (1, 0), (1, 1), (1, -1)):
        other = number[rows + dr, columns + dc]  # the mask is padded
        there = other >= 0
        starts.append(np.flatnonzero(there))
        ends.append(other[there])
        weights.append(np.full(int(there.sum()), np.hypot(dr, dc)))
    shape = (len(rows), len(rows))
    graph = coo_matrix(
        (np.concatenate(weights), (np.concatenate(starts), np.concatenate(ends))), shape
    ).tocsr()
    reach = dijkstra(graph, directed=False, indices=0)
    first = int(np.argmax(np.where(np.isfinite(reach), reach, -1)))
    reach, before = dijkstra(graph, directed=False, indices=first, return_predecessors=True)
    at = int(np.argmax(np.where(np.isfinite(reach), reach, -1)))
    path = [at]
    while at != first:
        at = int(before[at])
        path.append(at)
    return np.column_stack([rows[path], columns[path]])


def _smooth(line: FloatArray, radius: float) -> FloatArray:
    """Even steps of about a fifth of the radius, wiggles of the strands smoothed away."""
    even = resample(line, max(2, round(length_of(line) / 1.0)))
    calm = smooth_course(even, radius)
    return resample(calm, max(8, round(length_of(calm) / (0.2 * radius))))
