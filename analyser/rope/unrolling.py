"""The rope straightened: a strip with even steps along its centreline.

The strip's columns run along the rope, its rows across it, one pixel of the photo's array a step. The
centreline found coarsely is corrected until it lies midway between the two edges of the rope's texture;
its ends are where less than half the width is still textured (thread and needle are thinner).
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
import numpy.typing as npt

from analyser.arrays import BoolArray, FloatArray
from analyser.errors import PhotoError
from analyser.imaging.logs import calm, log_features
from analyser.photo.reading import Photo
from analyser.rope.centreline import extend, from_first_end, length_of, resample, smooth_course
from analyser.rope.ground import like_table
from analyser.rope.locating import Rope, texture

MARGIN = 1.5
"""Rows reach this many rope radii to each side, so that table on both sides is in the strip."""


ROUGH_TABLE = 1.6
"""Texture of the rope over its table's below which texture does not tell them apart."""

AT_MOST, AT_MOST_ROUGH = 0.25, 0.5
"""Share of the rope's middle that may have the table's colours for colour to part the two; the second where
texture does not part them."""


@dataclass(frozen=True, slots=True, eq=False)
class Strip:
    """A rope unrolled.

    Attributes
    ----------
    linear : float32 ndarray, shape (across, along, 3)
        Linear light. The middle row lies on the centreline.
    clipped : bool ndarray, shape (across, along)
        A stored channel was at its top there.
    centreline : ndarray, shape (along, 2)
        x, y in pixels of the photo's array of each column's middle.
    normal : ndarray, shape (along, 2)
        Unit vector across the rope, towards higher rows.
    radius : float
        Of the tube, in pixels of the array.
    start, stop : int
        The rope lies in columns start to stop; outside are table, thread and clasp.
    scale : float
        Full-size pixels per array pixel.
    """

    linear: npt.NDArray[np.float32]
    clipped: BoolArray
    centreline: FloatArray
    normal: FloatArray
    radius: float
    start: int
    stop: int
    scale: float

    @property
    def middle(self) -> int:
        """The row on the centreline."""
        return int(self.linear.shape[0]) // 2

    def pixel(self, columns: npt.ArrayLike, rows: npt.ArrayLike) -> FloatArray:
        """x, y in the full-size photo of places in the strip, shape (..., 2)."""
        column = np.asarray(columns, float)
        index = np.arange(len(self.centreline), dtype=float)
        place = np.stack([np.interp(column, index, self.centreline[:, k]) for k in (0, 1)], axis=-1)
        across = np.stack([np.interp(column, index, self.normal[:, k]) for k in (0, 1)], axis=-1)
        out = place + across * (np.asarray(rows, float) - self.middle)[..., None]
        return np.asarray(out * self.scale)

    def fraction(self, columns: npt.ArrayLike) -> FloatArray:
        """Place along the rope, 0 at its first end and 1 at its last."""
        return np.clip((np.asarray(columns, float) - self.start) / max(self.stop - self.start, 1), 0.0, 1.0)


def unroll(photo: Photo, rope: Rope) -> Strip:
    """Straighten a rope that was located in this photo.

    Raises
    ------
    PhotoError
        If too little of the rope is left between its ends to judge (under four widths).
    """
    line, radius = rope.centreline, rope.width / 2
    for _turn in range(3):
        whole, normal = _frame(line, radius)
        strip = _sample(photo.linear, whole, normal, radius)
        shift, half, start, stop = _edges(strip, radius)
        if stop - start < 8 * radius * 0.5:
            break
        whole = whole + normal * shift[:, None]
        line = whole[start:stop]
        radius = float(np.clip(np.median(half[start:stop]), 0.6 * radius, 1.35 * radius))
    if stop - start < 4 * radius:
        raise PhotoError(f"{photo.file}: the rope's ends could not be told from the table")
    line = from_first_end(resample(line, max(2, round(length_of(line)))), photo.linear.shape[1])
    whole, normal = _frame(line, radius)
    reach = round(2 * radius)
    return Strip(
        _sample(photo.linear, whole, normal, radius),
        _sample(photo.clipped.astype(np.float32), whole, normal, radius) > 0.25,
        whole,
        normal,
        radius,
        reach,
        len(whole) - reach,
        photo.scale,
    )


def straightened(linear: FloatArray, line: FloatArray, radius: float) -> FloatArray:
    """The surroundings of a line straightened, ``MARGIN`` radii to each side, shape (across, along, 3)."""
    whole, normal = _frame(line, radius)
    reach = round(2 * radius)
    return _sample(linear, whole, normal, radius)[:, reach:-reach]


def _frame(line: FloatArray, radius: float) -> tuple[FloatArray, FloatArray]:
    """The line at one-pixel steps, straight ends of a width added, and its unit normals."""
    from scipy.ndimage import gaussian_filter1d

    even = resample(line, max(2, round(length_of(line)) + 1))
    whole = extend(even, round(2 * radius))
    calm = gaussian_filter1d(whole, 0.3 * radius, axis=0, mode="nearest")
    tangent = np.gradient(calm, axis=0)
    tangent /= np.maximum(np.hypot(*tangent.T), 1e-9)[:, None]
    return whole, np.column_stack([-tangent[:, 1], tangent[:, 0]])


def _sample(image: FloatArray, line: FloatArray, normal: FloatArray, radius: float) -> FloatArray:
    reach = round(MARGIN * radius)
    offsets = np.arange(-reach, reach + 1)
    places = line[None] + offsets[:, None, None] * normal[None] - 0.5
    return np.asarray(
        cv2.remap(
            image,
            places[..., 0].astype(np.float32),
            places[..., 1].astype(np.float32),
            cv2.INTER_LINEAR,
            borderMode=cv2.BORDER_REPLICATE,
        )
    )


def _edges(strip: FloatArray, radius: float) -> tuple[FloatArray, FloatArray, int, int]:
    """Per column the rope's middle, off the strip's, and half width; its first and last column."""
    from scipy.ndimage import median_filter

    table = like_table(strip, log_features(calm(strip, 0.2 * radius)), radius)
    inside = _inside_outline(strip, radius, table)
    some = inside.any(axis=0)
    first = np.where(some, np.argmax(inside, axis=0), 0)
    last = np.where(some, inside.shape[0] - 1 - np.argmax(inside[::-1], axis=0), 0)
    middle = np.where(some, (first + last) / 2 - strip.shape[0] // 2, np.nan)
    half = np.where(some, (last - first + 1) / 2 - 1.0, 0.0)  # the gradient's blur reaches a pixel beyond
    start, stop = _textured_run(strip, np.nan_to_num(middle), radius, table)
    index = np.arange(len(middle))
    good = some & (index >= start) & (index < stop) & np.isfinite(middle)
    half_level = float(np.median(half[good])) if good.sum() >= 4 else 0.0
    good &= np.abs(half - half_level) < 0.3 * half_level
    if good.sum() < 4:
        return np.zeros(len(middle)), np.full(len(middle), radius), 0, 0
    course = median_filter(
        np.interp(index, index[good], middle[good]), size=max(3, round(radius)) | 1, mode="nearest"
    )
    smooth = np.zeros(len(middle))
    smooth[start:stop] = smooth_course(course[start:stop], radius)
    smooth[:start], smooth[stop:] = smooth[start], smooth[stop - 1]
    return smooth, np.where(good, half, half_level), start, stop


def _inside_outline(strip: FloatArray, radius: float, table: BoolArray) -> BoolArray:
    """Pixels between the two edges of the rope, told by texture and colour, shape (across, along)."""
    rows = np.arange(strip.shape[0]) - strip.shape[0] // 2
    window = max(3, round(1.2 * radius)) | 1
    # Along the rope only: a shadow's edge runs with the rope and has next to no gradient that way.
    profile = cv2.blur(texture(strip, across=False), (window, 3))
    outside = np.abs(rows) > 1.3 * radius
    inner = np.abs(rows) < 0.6 * radius
    calmer = np.minimum(np.median(profile[outside], axis=0), np.percentile(profile[outside], 60))
    plateau = np.median(profile[inner], axis=0)
    typical = float(np.median(plateau))
    # Well above the table and what a shadow's soft edge has; the outline itself is a strong edge.
    cut = calmer + 0.25 * (np.maximum(plateau, 0.7 * typical) - calmer)
    inside = profile > cut
    rough = typical < ROUGH_TABLE * float(np.median(calmer))
    if _table_tells(table, rows, radius, AT_MOST_ROUGH if rough else AT_MOST):
        # Where the rope's colours are not the table's: felt is as rough as beads, but its colour tells.
        own = cv2.blur(1 - table.astype(np.float32), (window, 3)) > 0.5
        inside = own if rough else inside & own
    elif rough:
        inside[:] = (np.abs(rows) < radius)[:, None]  # nothing tells better than the search did
    closed = cv2.morphologyEx(
        inside.astype(np.uint8), cv2.MORPH_CLOSE, np.ones((max(3, round(0.35 * radius)), 1))
    )
    return cv2.morphologyEx(closed, cv2.MORPH_OPEN, np.ones((max(3, round(0.5 * radius)), 1))) > 0


def _table_tells(table: BoolArray, rows: FloatArray, radius: float, most: float) -> bool:
    """Whether the table's colours part it from the rope, of which at most a share may look like it."""
    outside, inner = np.abs(rows) > 1.3 * radius, np.abs(rows) < 0.6 * radius
    return bool(table[outside].mean() > 0.75 and table[inner].mean() < most)


def _textured_run(strip: FloatArray, middle: FloatArray, radius: float, table: BoolArray) -> tuple[int, int]:
    """The columns between which more than half the width is textured as beads are."""
    from scipy.ndimage import median_filter

    fine = texture(strip)
    rows = np.arange(strip.shape[0]) - strip.shape[0] // 2
    window, patch = max(3, round(1.2 * radius)) | 1, max(3, round(0.3 * radius)) | 1
    level = cv2.blur(fine, (window, 3))
    full = float(np.median(level[np.abs(rows) < 0.6 * radius]))
    # Linen and felt vary more in a small patch.
    rough = float(np.percentile(level[np.abs(rows) > 1.3 * radius], 80))
    textured = cv2.blur(fine, (patch, patch)) > rough + 0.4 * (full - rough)
    near = np.abs(rows[:, None] - middle[None]) <= radius
    if full < ROUGH_TABLE * rough and _table_tells(table, rows, radius, AT_MOST_ROUGH):
        textured = cv2.blur(1 - table.astype(np.float32), (patch, patch)) > 0.5
    occupied = (textured & near).sum(axis=0) / np.maximum(near.sum(axis=0), 1)
    run = median_filter(occupied, size=max(3, round(0.2 * radius)) | 1) > 0.55
    return _longest_run(run, round(2 * radius))


def _longest_run(flags: BoolArray, bridge: int) -> tuple[int, int]:
    """First and one-past-last index of the longest run of True; gaps under ``bridge`` do not end it."""
    at = np.flatnonzero(flags)
    if not len(at):
        return 0, 0
    breaks = np.flatnonzero(np.diff(at) > bridge)
    starts = np.concatenate([[0], breaks + 1])
    ends = np.concatenate([breaks, [len(at) - 1]])
    best = int(np.argmax(at[ends] - at[starts]))
    return int(at[starts[best]]), int(at[ends[best]]) + 1
