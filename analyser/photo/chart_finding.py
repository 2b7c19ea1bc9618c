"""Finds a 24-patch colour-rendition chart in a photo, whatever its turn, tilt and place.

Even patches are looked for at several sizes, joined to a lattice, and the lattice is accepted where its
colours are a chart's up to an exponent and a gain per channel; that also says which way up it lies. The
chart's plane has its patch centres at whole numbers: x = 0 to 5 along a row of six, y = 0 to 3 down.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import cv2
import numpy as np
import numpy.typing as npt

from analyser.photo.reading import Photo

FloatArray = npt.NDArray[np.floating]

COLUMNS, ROWS = 6, 4
PLANE = np.array([[index % COLUMNS, index // COLUMNS] for index in range(COLUMNS * ROWS)], float)
INNER = 0.21  # half the side of the square that is read: the inner half of a patch of 0.82 pitches

_SIZES_PX = (700, 1400, 2100)  # longest sides searched, small first; more shows no more charts
_FLAT = (0.010, 0.020, 0.040, 0.08)  # cube-root steps per pixel below which a place counts as even
_SMALLEST_PX = 5  # a patch's side in the searched copy; smaller ones are all edge
_FEWEST = 9  # patches seen before a lattice is tried; by chance fewer than that line up often
_UNLIKE = 0.3


@dataclass(frozen=True, slots=True, eq=False)
class FoundChart:
    """A chart in a photo.

    Attributes
    ----------
    homography : ndarray, shape (3, 3)
        From the chart's plane to pixels of ``photo.linear`` (centres at +0.5).
    linear : ndarray, shape (24, 3)
        Mean linear light of the inner half of each patch, row by row from dark skin.
    noise : ndarray, shape (24, 3)
        Standard deviation of single pixels in it.
    clipped : bool ndarray, shape (24,)
        Some of its pixels are at the top or bottom of the file's range: not to be used.
    unlikeness : float
        Mean absolute log residual of its colours against a chart's.
    """

    homography: FloatArray
    linear: FloatArray
    noise: FloatArray
    clipped: npt.NDArray[np.bool_]
    unlikeness: float

    def centres(self) -> FloatArray:
        """Patch centres in pixels of ``photo.linear``, shape (24, 2)."""
        return _project(self.homography, PLANE)

    def outline(self, margin: float = 0.6) -> FloatArray:
        """Its four corners in pixels of ``photo.linear``, that far (in pitches) beyond the patch centres."""
        far_x, far_y = COLUMNS - 1 + margin, ROWS - 1 + margin
        return _project(
            self.homography,
            np.array([[-margin, -margin], [far_x, -margin], [far_x, far_y], [-margin, far_y]]),
        )


def find_chart(photo: Photo, reference_linear: FloatArray) -> FoundChart | None:
    """The chart in the photo, or None.

    Parameters
    ----------
    photo : Photo
    reference_linear : array, shape (24, 3)
        Linear sRGB of the patches in any edition; told apart are charts from other things.
    """
    left_over = _left_over(reference_linear)
    height, width = photo.linear.shape[:2]
    best: tuple[float, FloatArray] | None = None
    for longest in _SIZES_PX:
        shrink = min(1.0, longest / max(height, width))
        size = max(1, round(width * shrink)), max(1, round(height * shrink))
        small = cv2.resize(photo.linear, size, interpolation=cv2.INTER_AREA)
        seen = _encoded(small)
        for centres, grid in _lattices(seen):
            found = _placed(seen, centres, grid, left_over)
            if found is not None and (best is None or found[0] < best[0]):
                to_full = np.diag([width / size[0], height / size[1], 1.0])
                best = found[0], to_full @ found[1]
        if best is not None and best[0] < _UNLIKE:
            return _measured(photo, best[1], left_over)
        if shrink == 1.0:
            break
    return None


def _encoded(linear: npt.NDArray[np.float32]) -> npt.NDArray[np.float32]:
    """Cube roots, each channel to about 1 at its bright end: steps are then about equally visible."""
    top = np.percentile(linear[::4, ::4].reshape(-1, 3), 99.5, axis=0)
    return np.cbrt(np.clip(linear / np.maximum(top, 1e-4), 0, 2)).astype(np.float32)


def _even_patches(seen: npt.NDArray[np.float32]) -> FloatArray:
    """Even parallelograms, shape (n, 6): centre x, y, area in pixels, and their second moments xx, xy, yy."""
    smooth = cv2.GaussianBlur(seen, (0, 0), 0.8)
    across = np.abs(cv2.Sobel(smooth, cv2.CV_32F, 1, 0, scale=0.25))
    down = np.abs(cv2.Sobel(smooth, cv2.CV_32F, 0, 1, scale=0.25))
    steps = np.maximum(across, down).max(axis=2)
    largest = steps.size / 16
    spots: list[tuple[float, ...]] = []
    for limit in _FLAT:
        even = (steps < limit).astype(np.uint8)
        _, labels, stats, _ = cv2.connectedComponentsWithStats(even, connectivity=4)
        left, top, width, height, area = stats.T
        # a turned square fills half of its upright box
        compact = (area > 0.35 * width * height) & (np.maximum(width, height) < 3 * np.minimum(width, height))
        compact &= (area >= _SMALLEST_PX**2) & (area < largest)
        for index in np.flatnonzero(compact[1:]) + 1:
            window = np.s_[top[index] : top[index] + height[index], left[index] : left[index] + width[index]]
            m = cv2.moments((labels[window] == index).astype(np.uint8), binaryImage=True)
            xx, xy, yy = m["mu20"] / m["m00"], m["mu11"] / m["m00"], m["mu02"] / m["m00"]
            # 144 det(second moments) = area squared for every parallelogram, more for a ragged shape
            if 0.8 < 144 * (xx * yy - xy * xy) / m["m00"] ** 2 < 1.35:
                x, y = left[index] + m["m10"] / m["m00"] + 0.5, top[index] + m["m01"] / m["m00"] + 0.5
                spots.append((x, y, m["m00"], xx, xy, yy))
    kept: list[tuple[float, ...]] = []
    for spot in sorted(spots, key=lambda spot: -spot[2]):  # one patch at several limits: the largest stays
        reach = 0.3 * spot[2] ** 0.5
        if all(
            abs(spot[0] - o[0]) > reach or abs(spot[1] - o[1]) > reach or o[2] > 4 * spot[2] for o in kept
        ):
            kept.append(spot)
    return np.array(kept).reshape(-1, 6)


def _lattices(seen: npt.NDArray[np.float32]) -> Iterator[tuple[FloatArray, npt.NDArray[np.int_]]]:
    """Sets of patches that lie on a lattice: their centres (n, 2) and whole-number places (n, 2)."""
    spots = _even_patches(seen)
    if len(spots) < _FEWEST:
        return
    centre, area = spots[:, :2], spots[:, 2]
    taken = np.zeros(len(spots), bool)
    for seed in range(len(spots)):
        if taken[seed]:
            continue
        offset = centre - centre[seed]
        alike = (area > 0.35 * area[seed]) & (area < 2.8 * area[seed])
        # in the patch's own measure it is a unit square, whatever the tilt; its blurred rim counts too
        side = area[seed] ** 0.5
        measure = np.linalg.inv(spots[seed][[3, 4, 4, 5]].reshape(2, 2)) / 12 * (side / (side + 3)) ** 2
        distance = np.sqrt(np.einsum("ni,ij,nj->n", offset, measure, offset))
        near = np.flatnonzero(alike & (distance > 0.95) & (distance < 1.9))
        if len(near) < 3:
            continue
        for first, second in _axes(offset[near], measure, distance[near]):
            basis = np.column_stack([offset[near[first]], offset[near[second]]])
            members, places = _grown(centre, alike, seed, basis)
            if len(members) >= _FEWEST:
                taken[members] = True
                yield centre[members], places
                break


def _axes(offset: FloatArray, measure: FloatArray, distance: FloatArray) -> Iterator[tuple[int, int]]:
    """Pairs of neighbours at about a right angle and the same distance, in the patch's own measure."""
    order = np.argsort(distance)[:6]
    for rank, first in enumerate(order):
        for second in order[rank + 1 :]:
            cosine = offset[first] @ measure @ offset[second] / (distance[first] * distance[second])
            if abs(cosine) < 0.3 and distance[second] < 1.3 * distance[first]:
                yield int(first), int(second)


def _grown(
    centre: FloatArray, alike: npt.NDArray[np.bool_], seed: int, basis: FloatArray
) -> tuple[npt.NDArray[np.int_], npt.NDArray[np.int_]]:
    """The lattice that grows from a seed: indices of its patches and their places, seed at (0, 0)."""
    candidates = np.flatnonzero(alike)
    members, places = [seed], [(0, 0)]
    affine = np.column_stack([basis, centre[seed]])  # place (x, y, 1) to pixels
    reach = 0.22 * min(np.hypot(*basis[:, 0]), np.hypot(*basis[:, 1]))
    for _ in range(8):  # rounds of growth; six columns from anywhere need at most five
        wanted = {(x + i, y + j) for x, y in places for i in (-1, 0, 1) for j in (-1, 0, 1)} - set(places)
        added = False
        for place in sorted(wanted):
            if max(abs(place[0]), abs(place[1])) >= COLUMNS:
                continue
            near_places = np.abs(np.array(places) - place).max(axis=1) <= 2
            at = affine @ [*place, 1.0]
            if near_places.sum() >= 4:  # follow the perspective: the neighbours tell the local lattice
                local, *_ = np.linalg.lstsq(
                    np.column_stack([np.array(places)[near_places], np.ones(near_places.sum())]),
                    centre[np.array(members)[near_places]],
                    rcond=None,
                )
                if np.linalg.matrix_rank(np.array(places)[near_places] - places[0]) == 2:
                    at = np.array([*place, 1.0]) @ local
            gap = np.hypot(*(centre[candidates] - at).T)
            nearest = int(np.argmin(gap))
            if gap[nearest] < reach and candidates[nearest] not in members:
                members.append(int(candidates[nearest]))
                places.append(place)
                added = True
        if not added:
            break
    return np.array(members), np.array(places)


def _placed(
    seen: npt.NDArray[np.float32], centres: FloatArray, places: npt.NDArray[np.int_], left_over: FloatArray
) -> tuple[float, FloatArray] | None:
    """The best placing of a chart on a lattice: unlikeness, and homography from the chart's plane."""
    lattice, inlier = cv2.findHomography(places.astype(np.float64), centres, cv2.RANSAC, 3.0)
    if lattice is None or inlier.sum() < _FEWEST:
        return None
    places = places[inlier.ravel() > 0]
    pitch = np.sqrt(
        np.abs(
            np.linalg.det(
                np.diff(_project(lattice, places[0] + np.array([[0, 0], [1, 0], [0, 1.0]])), axis=0)
            )
        )
    )
    blurred = cv2.blur(seen, (max(1, int(0.35 * pitch)),) * 2)
    height, width = seen.shape[:2]
    best: tuple[float, FloatArray] | None = None
    low, high = places.min(axis=0), places.max(axis=0)
    for turn in _TURNS:  # eight ways to lay the chart on the lattice
        span = np.abs(turn @ [COLUMNS - 1, ROWS - 1])
        laid = PLANE @ turn.T
        laid = laid - laid.min(axis=0)
        for x in range(high[0] - int(span[0]) - 1, low[0] + 2):
            for y in range(high[1] - int(span[1]) - 1, low[1] + 2):
                cells = laid + [x, y]
                at = _project(lattice, cells)
                if at.min() < 0 or (at[:, 0] >= width).any() or (at[:, 1] >= height).any():
                    continue
                column, row = at.astype(int).T
                unlike = _unlikeness(blurred[row, column], left_over)
                if best is None or unlike < best[0]:
                    homography, _ = cv2.findHomography(PLANE, at)
                    best = unlike, homography
    return best


_TURNS = tuple(
    np.array(flip) @ np.array(swap)
    for flip in ([[1, 0], [0, 1]], [[-1, 0], [0, 1]], [[1, 0], [0, -1]], [[-1, 0], [0, -1]])
    for swap in ([[1, 0], [0, 1]], [[0, 1], [1, 0]])
)


def _left_over(reference_linear: FloatArray) -> FloatArray:
    """The projection, shape (24, 24), onto what no linear mixing of the reference's channels explains."""
    known = np.column_stack([np.cbrt(np.maximum(reference_linear, 0)), np.ones(len(PLANE))])
    return np.eye(len(PLANE)) - known @ np.linalg.pinv(known)


def _unlikeness(seen: FloatArray, left_over: FloatArray) -> float:
    """Share of the variance of 24 encoded colours that is not a chart's, 0 to 1."""
    varied = seen - seen.mean(axis=0)
    return float(((left_over @ seen) ** 2).sum() / max((varied**2).sum(), 1e-6))


def _measured(photo: Photo, homography: FloatArray, left_over: FloatArray) -> FoundChart:
    """Reads the inner half of each patch."""
    steps = np.linspace(-INNER, INNER, 24)
    inner = np.stack(np.meshgrid(steps, steps), axis=-1).reshape(-1, 2)
    at = _project(homography, (PLANE[:, None] + inner).reshape(-1, 2)) - 0.5
    where = at.astype(np.float32).reshape(len(PLANE), -1, 2)
    pixels = cv2.remap(photo.linear, where, None, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    clipped = cv2.remap(photo.clipped.astype(np.uint8), where, None, cv2.INTER_NEAREST)
    linear = pixels.mean(axis=1, dtype=np.float64)
    return FoundChart(
        homography,
        linear,
        pixels.std(axis=1, dtype=np.float64),
        clipped.mean(axis=1) > 0.02,
        _unlikeness(np.cbrt(np.maximum(linear, 0)), left_over),
    )


def _project(homography: FloatArray, points: FloatArray) -> FloatArray:
    at: FloatArray = cv2.perspectiveTransform(points[None].astype(np.float64), homography)[0]
    return at
