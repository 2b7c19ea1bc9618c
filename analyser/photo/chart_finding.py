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

from analyser.arrays import BoolArray, FloatArray
from analyser.imaging.downscale import SMALLEST_PX, Picture, downscale
from analyser.imaging.gradients import cube_roots, largest_step
from analyser.imaging.homography import find_homography, project
from analyser.imaging.regions import connected_regions
from analyser.photo.many_hued import MANY_HUED, hues
from analyser.photo.reading import Photo

COLUMNS, ROWS = 6, 4
PLANE = np.array([[index % COLUMNS, index // COLUMNS] for index in range(COLUMNS * ROWS)], float)
INNER = 0.21  # half the side of the square that is read: the inner half of a patch of 0.82 pitches

_SIZES_PX = (700, 1500)  # longest sides searched, small first; larger ones show no more charts
_REACH_PX = 3.0  # how far a patch's centre may lie from its lattice; 0.1 to 0.5 is usual
_FLAT = (0.005, 0.010, 0.020, 0.04)  # cube-root steps per pixel below which a place counts as even
_SMALLEST_PX = 5  # a patch's side in the searched copy; smaller ones are all edge
_NEIGHBOURS_DIFFER = 0.04  # in cube roots; grain of wood and weave differ less, patches of a chart more
# Scatter of hues from which OpenCV's detector is asked too: an ordinary camera's charts have 0.8 and more. It
# takes as long as all else here, and of 114 charts drawn, half by a camera that mixes 40 % of
# each channel into the others, it found 107 and none that ours had missed.
_ORDINARY_CHART = 0.8
_EVERY = 3  # spots that a lattice is grown from; any of a chart's patches would do, so a third is plenty
_FEWEST = 9  # patches seen before a lattice is tried; by chance fewer than that line up often
_UNLIKE = 0.3  # share of the colours' variance that is not a chart's; charts 0 to 0.1, others above 0.5


@dataclass(frozen=True, slots=True, eq=False)
class FoundChart:
    """A chart in a photo.

    Attributes
    ----------
    homography : ndarray, shape (3, 3)
        From the chart's plane to pixels of ``photo.linear`` (centres at +0.5).
    linear : ndarray, shape (24, 3)
        Mean linear light of the inner half of each patch, row by row from dark skin.
    clipped : bool ndarray, shape (24,)
        Some of its pixels are at the top or bottom of the file's range: not to be used.
    unlikeness : float
        Share of the variance of its colours that is not a chart's, 0 to 1.
    """

    homography: FloatArray
    linear: FloatArray
    clipped: BoolArray
    unlikeness: float

    def centres(self) -> FloatArray:
        """Patch centres in pixels of ``photo.linear``, shape (24, 2)."""
        return project(self.homography, PLANE)

    def outline(self, margin: float = 0.6) -> FloatArray:
        """Its four corners in pixels of ``photo.linear``, that far (in pitches) beyond the patch centres."""
        far_x, far_y = COLUMNS - 1 + margin, ROWS - 1 + margin
        return project(
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
    if min(height, width) < SMALLEST_PX:
        return None
    shown = hues(photo.linear)
    if shown.most < MANY_HUED:
        return None
    coarse, fine = _SIZES_PX
    first = cube_roots(downscale(photo.linear, coarse))
    placed = _by_lattice(first, np.ones(first.shape[:2], bool), left_over)
    if placed is not None:
        return _measured(photo, _enlarged(placed, first, photo), left_over)
    if max(height, width) > coarse and shown.small_chart.any():
        light = downscale(photo.linear, fine)
        seen = cube_roots(light, out=None if light is photo.linear else light)
        del light
        near = cv2.resize(
            shown.small_chart.view(np.uint8), seen.shape[1::-1], interpolation=cv2.INTER_NEAREST
        )
        placed = _by_lattice(seen, np.asarray(near > 0), left_over)
        if placed is not None:
            return _measured(photo, _enlarged(placed, seen, photo), left_over)
    for placed in _by_detector(first) if shown.most >= _ORDINARY_CHART else ():
        at = project(placed, PLANE)
        if at.min() >= 0 and (at < [first.shape[1], first.shape[0]]).all():
            column, row = at.astype(int).T
            if _unlikeness(cv2.blur(first, (3, 3))[row, column], left_over) < _UNLIKE:
                return _measured(photo, _enlarged(placed, first, photo), left_over)
    return None


def _enlarged(placed: FloatArray, seen: Picture, photo: Photo) -> FloatArray:
    """A homography to pixels of a copy, to those of the photo."""
    height, width = photo.linear.shape[:2]
    return np.diag([width / seen.shape[1], height / seen.shape[0], 1.0]) @ placed


def _by_lattice(seen: Picture, near: BoolArray, left_over: FloatArray) -> FloatArray | None:
    """From the chart's plane to a copy, by the likeliest lattice of even patches near places."""
    left, top, width, height = cv2.boundingRect(near.view(np.uint8))
    window = np.s_[top : top + height, left : left + width]
    part = seen[window]
    found = (
        _placed(part, centres, grid, left_over)
        for centres, grid in _lattices(part, near[window], most=seen[..., 0].size / 16)
    )
    best = min((one for one in found if one is not None), key=lambda one: one[0], default=None)
    if best is None or best[0] >= _UNLIKE:
        return None
    moved: FloatArray = np.array([[1.0, 0, left], [0, 1, top], [0, 0, 1]]) @ best[1]
    return moved


def _by_detector(seen: Picture) -> Iterator[FloatArray]:
    """Homographies from the chart's plane that OpenCV's detector proposes; it misses others than ours does.

    Its corners are good to a tenth of a patch or so.
    """
    detector = cv2.mcc.CCheckerDetector.create()
    # OpenCV 5.0 starts with a neural model that is not shipped, and with no kind of chart
    detector.setColorChartType(cv2.mcc.MCC24)
    detector.setUseDnnModel(False)
    if not detector.process(np.round(255 * np.clip(seen[..., ::-1], 0, 1)).astype(np.uint8), 3):
        return
    left, right, top, bottom = -0.545, COLUMNS - 1 + 0.545, -0.545, ROWS - 1 + 0.545  # of its box, in pitches
    box = np.array([[left, top], [right, top], [right, bottom], [left, bottom]])
    for checker in detector.getListColorChecker():
        corners = np.asarray(checker.getBox(), np.float64)
        placed = find_homography(box, corners) if np.ptp(corners) > 0 else None
        if placed is not None:
            for flip_x in (False, True):  # a half turn, or a mirror image
                for flip_y in (False, True):
                    across = [-1, 0, COLUMNS - 1] if flip_x else [1, 0, 0]
                    down = [0, -1, ROWS - 1] if flip_y else [0, 1, 0]
                    yield placed @ np.array([across, down, [0, 0, 1]], float)


def _even_patches(seen: Picture, near: BoolArray, most: float) -> FloatArray:
    """Even parallelograms that lie near places and have so many pixels at most.

    Shape (n, 6): centre x, y, area in pixels, and their second moments xx, xy, yy.
    """
    step = largest_step(seen, 0.8)
    step[~near] = np.inf
    spots: list[tuple[float, ...]] = []
    for limit in _FLAT:
        labels, stats = connected_regions(step < limit)
        left, top, width, height, area = stats.T
        # a turned square fills half of its upright box
        compact = (area > 0.35 * width * height) & (np.maximum(width, height) < 3 * np.minimum(width, height))
        compact &= (area >= _SMALLEST_PX**2) & (area < most)
        for index in np.flatnonzero(compact[1:]) + 1:
            window = np.s_[top[index] : top[index] + height[index], left[index] : left[index] + width[index]]
            m = cv2.moments((labels[window] == index).astype(np.uint8), binaryImage=True)
            xx, xy, yy = m["mu20"] / m["m00"], m["mu11"] / m["m00"], m["mu02"] / m["m00"]
            # 144 det(second moments) = area squared for every parallelogram, more for a ragged shape
            if 0.8 < 144 * (xx * yy - xy * xy) / m["m00"] ** 2 < 1.35:
                x, y = left[index] + m["m10"] / m["m00"] + 0.5, top[index] + m["m01"] / m["m00"] + 0.5
                spots.append((x, y, m["m00"], xx, xy, yy))
    kept: list[tuple[float, ...]] = []
    marks = np.zeros(step.shape, np.float32)  # the area of each kept spot, at its centre
    for spot in sorted(spots, key=lambda spot: -spot[2]):  # one patch at several limits: the largest stays
        x, y, reach = int(spot[0]), int(spot[1]), 1 + int(0.3 * spot[2] ** 0.5)
        round_it = marks[max(0, y - reach) : y + reach + 1, max(0, x - reach) : x + reach + 1]
        if not ((round_it > 0) & (round_it <= 4 * spot[2])).any():
            kept.append(spot)
            marks[y, x] = spot[2]
    return np.array(kept).reshape(-1, 6)


def _lattices(
    seen: Picture, near: BoolArray, most: float
) -> Iterator[tuple[FloatArray, npt.NDArray[np.int_]]]:
    """Sets of patches that lie on a lattice: their centres (n, 2) and whole-number places (n, 2)."""
    spots = _even_patches(seen, near, most)
    if len(spots) < _FEWEST:
        return
    centre, area = spots[:, :2], spots[:, 2]
    column, row = centre.astype(int).T
    colour = _means_round(seen, row, column)
    taken = np.zeros(len(spots), bool)
    for seed in range(0, len(spots), _EVERY):
        if taken[seed]:
            continue
        offset = centre - centre[seed]
        alike = (area > 0.35 * area[seed]) & (area < 2.8 * area[seed])
        # in the patch's own measure it is a unit square, whatever the tilt; its blurred rim counts too
        side = area[seed] ** 0.5
        measure = np.linalg.inv(spots[seed][[3, 4, 4, 5]].reshape(2, 2)) / 12 * (side / (side + 3)) ** 2
        distance = np.sqrt(np.einsum("ni,ij,nj->n", offset, measure, offset))
        differs = np.abs(colour - colour[seed]).max(axis=1) > _NEIGHBOURS_DIFFER
        beside = np.flatnonzero(alike & differs & (distance > 0.95) & (distance < 1.9))
        if len(beside) < 3:
            continue
        for first, second in _axes(offset[beside], measure, distance[beside]):
            basis = np.column_stack([offset[beside[first]], offset[beside[second]]])
            members, places = _grown(centre, alike, seed, basis)
            if len(members) >= _FEWEST:
                taken[members] = True
                yield centre[members], places
                break


def _means_round(seen: Picture, row: npt.NDArray[np.int_], column: npt.NDArray[np.int_]) -> FloatArray:
    """Means of the three by three pixels round places, shape (n, 3)."""
    bottom, right = seen.shape[0] - 1, seen.shape[1] - 1
    nine = np.array(
        [
            seen[np.clip(row + down, 0, bottom), np.clip(column + across, 0, right)]
            for down in (-1, 0, 1)
            for across in (-1, 0, 1)
        ]
    )
    return np.asarray(nine.mean(axis=0))


def _axes(offset: FloatArray, measure: FloatArray, distance: FloatArray) -> Iterator[tuple[int, int]]:
    """Pairs of neighbours at about a right angle and the same distance, in the patch's own measure."""
    order = np.argsort(distance)[:6]
    for rank, first in enumerate(order):
        for second in order[rank + 1 :]:
            cosine = offset[first] @ measure @ offset[second] / (distance[first] * distance[second])
            if abs(cosine) < 0.3 and distance[second] < 1.3 * distance[first]:
                yield int(first), int(second)


def _grown(
    centre: FloatArray, alike: BoolArray, seed: int, basis: FloatArray
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
    seen: Picture, centres: FloatArray, places: npt.NDArray[np.int_], left_over: FloatArray
) -> tuple[float, FloatArray] | None:
    """The best placing of a chart on a lattice: unlikeness, and homography from the chart's plane."""
    at = places.astype(np.float64)
    lattice = find_homography(at, centres, _REACH_PX)
    if lattice is None:
        return None
    places = places[np.hypot(*(project(lattice, at) - centres).T) < _REACH_PX]
    if len(places) < _FEWEST:
        return None
    step = project(lattice, places[0] + np.array([[0, 0], [1, 0], [0, 1.0]]))
    pitch = float(np.hypot(*np.diff(step, axis=0).T).min())
    side = max(1, int(0.35 * pitch))
    blurred = np.asarray(cv2.blur(seen, (side, side)))
    height, width = seen.shape[:2]
    best: tuple[float, FloatArray] | None = None
    low, high = places.min(axis=0), places.max(axis=0)
    for turn in _TURNS:  # eight ways to lay the chart on the lattice
        span = np.abs(turn @ [COLUMNS - 1, ROWS - 1])
        laid = PLANE @ turn.T
        laid = laid - laid.min(axis=0)
        for x in range(high[0] - int(span[0]) - 1, low[0] + 2):
            for y in range(high[1] - int(span[1]) - 1, low[1] + 2):
                centres_px = project(lattice, laid + np.array([x, y]))
                if centres_px.min() < 0 or (centres_px >= [width, height]).any():
                    continue
                column, row = centres_px.astype(int).T
                unlike = _unlikeness(blurred[row, column], left_over)
                if best is None or unlike < best[0]:
                    best = unlike, centres_px
    laid_out = None if best is None else find_homography(PLANE, best[1])
    return None if best is None or laid_out is None else (best[0], laid_out)


_TURNS = tuple(
    np.array(flip) @ np.array(swap)
    for flip in ([[1, 0], [0, 1]], [[-1, 0], [0, 1]], [[1, 0], [0, -1]], [[-1, 0], [0, -1]])
    for swap in ([[1, 0], [0, 1]], [[0, 1], [1, 0]])
)


def _left_over(reference_linear: FloatArray) -> FloatArray:
    """The projection, shape (24, 24), onto what no linear mixing of the reference's channels explains."""
    known = np.column_stack([np.cbrt(np.maximum(reference_linear, 0)), np.ones(len(PLANE))])
    return np.asarray(np.eye(len(PLANE)) - known @ np.linalg.pinv(known))


def _unlikeness(seen: FloatArray, left_over: FloatArray) -> float:
    """Share of the variance of 24 encoded colours that is not a chart's, 0 to 1."""
    varied = seen - seen.mean(axis=0)
    return float(((left_over @ seen) ** 2).sum() / max(float((varied**2).sum()), 1e-6))


def _measured(photo: Photo, to_photo: FloatArray, left_over: FloatArray) -> FoundChart:
    """Reads the inner half of each patch."""
    places = np.linspace(-INNER, INNER, 24)
    inner = np.stack(np.meshgrid(places, places), axis=-1).reshape(-1, 2)
    at = project(to_photo, (PLANE[:, None] + inner).reshape(-1, 2)) - 0.5
    x, y = at.reshape(len(PLANE), -1, 2).astype(np.float32).transpose(2, 0, 1)
    pixels = np.asarray(cv2.remap(photo.linear, x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE))
    clipped = np.asarray(cv2.remap(photo.clipped.astype(np.uint8), x, y, cv2.INTER_NEAREST))
    linear = pixels.mean(axis=1, dtype=np.float64)
    unlike = _unlikeness(np.cbrt(np.maximum(linear, 0)), left_over)
    return FoundChart(to_photo, linear, clipped.mean(axis=1) > 0.02, unlike)
