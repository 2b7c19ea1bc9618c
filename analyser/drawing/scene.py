"""Solids put together into one picture's surface: what is seen where, how it faces, what light reaches it.

The surface knows no colours. One surface serves any number of colourings, which is what makes a page of
previews cheap: its cost is one stamp a bead.

View axes as in ``solids``; pictures have their first row at the top.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
import numpy.typing as npt

from analyser.arrays import BoolArray, IntArray
from analyser.drawing import solids
from analyser.drawing.solids import F32, Solid

SUPERSAMPLING = 2
"""Each pixel of a finished picture is the mean of this many squared."""

# Where the main light comes from (x, y, z): high, from the upper left, as pictures are read.
KEY_LIGHT = np.array([-0.46, 0.52, 0.72], np.float32) / np.float32(np.linalg.norm([-0.46, 0.52, 0.72]))

# Numbers of light and shade were chosen by eye, with drawn ropes beside photographs of beads.

_SKY_CLOSED = ((0.3, 0.9), (0.8, 1.2), (1.6, 0.9))
"""How far round a point is looked for what rises, in bead sizes, and how strongly it closes the sky: the
crevice beside a bead, the next bead, the one beyond."""

_SHADOW_STEPS = 7
_SHADOW_REACH = 1.5  # bead sizes: what lies farther on the way to the light is too low to shade
_SHADOW_CLOSER = 1.4  # above 1 the steps stand closer near the point, where shadows are sharp
_SHADOW_SOFTEST = 0.05  # bead sizes: a shadow's edge where what casts it touches
_LIGHT_WIDTH = 0.35  # of the way to what casts it a shadow softens: a window's width over its distance
_HALF_SHADED = 0.25  # of the light is gone where the edge of what shades just meets the ray

# The piece's shade on its cloth, ways in heights of the piece.
_CAST_STEPS = 10
_CAST_FIRST, _CAST_REACH, _CAST_CLOSER = 0.06, 1.3, 1.3
_CAST_SOFTEST, _CAST_WIDTH, _CAST_HALF = 0.1, 0.5, 0.3
_CAST_DEPTH = 0.62  # of the light is the main light's; the room lights the rest of the shade
_CONTACT_DEPTH, _CONTACT_WIDTH = 0.45, 0.22  # darker close under the piece
_CAST_BLUR = 0.12
_LEAST_BLUR_PX = 0.6  # below this a Gaussian hardly reaches the next pixel

# Cloth is taken to lie within the piece, in its shade, where beads cover this share round it.
_WITHIN_FROM, _WITHIN_OVER = 0.72, 0.2

HALF_SPHERE = 160
"""Radius of the half sphere of normals in table cells: finer than a highlight's edge."""


@dataclass(frozen=True, slots=True)
class PlacedSolid:
    """A solid in its place.

    Attributes
    ----------
    solid : Solid
    centre_mm : (x, y, z)
    axis : (x, y, z)
        Unit vector.
    role : str
        Whose colour it takes.
    """

    solid: Solid
    centre_mm: tuple[float, float, float]
    axis: tuple[float, float, float]
    role: str


@dataclass(frozen=True, slots=True, eq=False)
class LitSurface:
    """What is seen, at ``SUPERSAMPLING`` times the finished picture's size; n of its pixels show a solid.

    Attributes
    ----------
    height_px, width_px : int
        Of the finished picture.
    px_per_mm : float
        Of the finished picture.
    at : int array (n,)
        Index of each pixel that shows a solid, in the flattened large picture.
    role : int array (n,)
        Index into ``roles``.
    roles : tuple of str
    cell : int32 array (n,)
        Where the normal stands in the tables of ``finishes``.
    core : float32 array (n,)
        As in ``solids.View``.
    open_sky : float32 array (n,)
        Share of the sky that neighbours leave free, 0 to 1.
    lit : float32 array (n,)
        Share of the main light that reaches it, 0 to 1.
    ground_light : float32 array (height_px, width_px)
        Light on the cloth beneath, 1 where nothing shades it.
    cover : float32 array (height_px, width_px)
        Share of each finished pixel that solids cover.
    """

    height_px: int
    width_px: int
    px_per_mm: float
    at: IntArray
    role: npt.NDArray[np.int16]
    roles: tuple[str, ...]
    cell: npt.NDArray[np.int32]
    core: F32
    open_sky: F32
    lit: F32
    ground_light: F32
    cover: F32


def surface(
    placed: Sequence[PlacedSolid],
    *,
    width_px: int,
    height_px: int,
    px_per_mm: float,
    floor_mm: float | None = None,
) -> LitSurface:
    """See the placed solids from above.

    Parameters
    ----------
    placed : sequence of PlacedSolid
        The origin lies in the middle of the picture.
    width_px, height_px : int
        Of the finished picture.
    px_per_mm : float
        Its scale.
    floor_mm : float, optional
        Height of the cloth; the lowest point of the solids if left out.
    """
    big = SUPERSAMPLING
    shape = (height_px * big, width_px * big)
    scale = px_per_mm * big
    atlas = _Atlas(placed, scale)
    if floor_mm is None:
        floor_mm = min((p.centre_mm[2] - p.solid.diameter_mm / 2.0 for p in placed), default=0.0)
    z = np.full(shape, floor_mm, np.float32)
    texel = np.full(shape, -1, np.int32)
    roles = tuple(dict.fromkeys(p.role for p in placed))
    role_at = np.full(shape, -1, np.int16)
    for one, view, offset in atlas.entries:
        _stamp(z, texel, role_at, one, view, offset, roles.index(one.role), scale)
    at = np.flatnonzero(texel.ravel() >= 0)
    seen = texel.ravel()[at]
    sky, lit = _light(z, scale, _usual_size(placed))
    cover = cv2.resize((texel >= 0).astype(np.float32), (width_px, height_px), interpolation=cv2.INTER_AREA)
    cast = _ground_light(z, floor_mm, px_per_mm, (width_px, height_px))
    return LitSurface(
        height_px,
        width_px,
        px_per_mm,
        at,
        role_at.ravel()[at],
        roles,
        atlas.cell[seen],
        atlas.core[seen],
        sky.ravel()[at],
        lit.ravel()[at],
        cast * _through_gaps(sky, texel < 0, px_per_mm * _usual_size(placed)),
        np.asarray(cover, np.float32),
    )


class _Atlas:
    """The views that a scene needs, each made once; ``cell`` and ``core`` of all their pixels in a row."""

    def __init__(self, placed: Sequence[PlacedSolid], scale: float) -> None:
        keys = [(p.solid, solids.rounded_axis(np.asarray(p.axis, float))) for p in placed]
        wanted: dict[Solid, list[tuple[int, int]]] = {}
        for solid, axis in dict.fromkeys(keys):
            wanted.setdefault(solid, []).append(axis)
        made: dict[tuple[Solid, tuple[int, int]], tuple[solids.View, int]] = {}
        cells, cores, offset = [np.zeros(0, np.int32)], [np.zeros(0, np.float32)], 0
        for solid, axes in wanted.items():
            for axis, view in zip(axes, solids.views(solid, axes, scale), strict=True):
                made[solid, axis] = view, offset
                cells.append(normal_cells(view.normal.reshape(-1, 3)))
                cores.append(view.core.ravel())
                offset += view.hit.size
        self.entries = [(p, *made[key]) for p, key in zip(placed, keys, strict=True)]
        self.cell, self.core = np.concatenate(cells), np.concatenate(cores)


def normal_cells(normal: F32) -> npt.NDArray[np.int32]:
    """Cells of a table over the half sphere, row by row from y = -1, for unit normals (n, 3) facing us."""
    part = np.rint(normal[:, :2] * np.float32(HALF_SPHERE - 1)).astype(np.int32) + HALF_SPHERE
    return np.asarray(part[:, 1] * (2 * HALF_SPHERE + 1) + part[:, 0], np.int32)


def _stamp(
    z: F32,
    texel: npt.NDArray[np.int32],
    role_at: npt.NDArray[np.int16],
    one: PlacedSolid,
    view: solids.View,
    offset: int,
    role: int,
    scale: float,
) -> None:
    """Put one view into the picture wherever it lies above what is there."""
    height, width = z.shape
    middle_x = round(width / 2.0 + one.centre_mm[0] * scale)
    middle_y = round(height / 2.0 - one.centre_mm[1] * scale)
    top, left, side = middle_y - view.half_px, middle_x - view.half_px, 2 * view.half_px + 1
    y0, y1, x0, x1 = max(0, top), min(height, top + side), max(0, left), min(width, left + side)
    if y0 >= y1 or x0 >= x1:
        return
    part = (slice(y0 - top, y1 - top), slice(x0 - left, x1 - left))
    into = (slice(y0, y1), slice(x0, x1))
    height_here = view.z_mm[part] + np.float32(one.centre_mm[2])
    above = view.hit[part] & (height_here > z[into])
    z[into][above] = height_here[above]
    index = offset + (
        np.arange(part[0].start, part[0].stop, dtype=np.int32)[:, None] * side
        + np.arange(part[1].start, part[1].stop, dtype=np.int32)[None, :]
    )
    texel[into][above] = index[above]
    role_at[into][above] = role


def _usual_size(placed: Sequence[PlacedSolid]) -> float:
    return float(np.median([p.solid.diameter_mm for p in placed])) if placed else 1.0


def _light(z: F32, scale: float, size_mm: float) -> tuple[F32, F32]:
    """Open sky and main light over a height field, both in [0, 1].

    The sky is closed by what rises around a point, at three scales; the main light by what stands between, in
    steps towards it. Both are pictures' means, chosen by eye against photographs of beads, not radiometry.
    """
    sky = np.ones_like(z)
    for reach, strength in _SKY_CLOSED:
        side = max(3, round(reach * size_mm * scale) | 1)
        over = cv2.blur(cv2.blur(z, (side, side)), (side, side)) - z
        sky *= np.exp(-np.float32(strength / (reach * size_mm)) * np.maximum(over, 0.0))
    steps = [step / _SHADOW_STEPS for step in range(1, _SHADOW_STEPS + 1)]
    ways = [size_mm * _SHADOW_REACH * step**_SHADOW_CLOSER for step in steps]
    return sky, 1.0 - _blocked(z, scale, ways, _SHADOW_SOFTEST * size_mm)


def _blocked(z: F32, scale: float, ways_mm: Sequence[float], softest_mm: float) -> F32:
    """Share of the main light that something at any of the ways towards it takes away."""
    blocked = np.zeros_like(z)
    for way_mm in ways_mm:
        move = np.array(
            [[1, 0, -KEY_LIGHT[0] * way_mm * scale], [0, 1, KEY_LIGHT[1] * way_mm * scale]], np.float32
        )
        there = cv2.warpAffine(
            z, move, (z.shape[1], z.shape[0]), flags=cv2.INTER_NEAREST, borderMode=cv2.BORDER_REPLICATE
        )
        # A light of some width: the shadow's edge softens with the way to what casts it.
        soft = np.float32(softest_mm + _LIGHT_WIDTH * way_mm)
        np.maximum(
            blocked, (there - z - np.float32(KEY_LIGHT[2] * way_mm)) / soft + _HALF_SHADED, out=blocked
        )
    return np.clip(blocked, 0.0, 1.0)


def _through_gaps(sky: F32, bare: BoolArray, bead_px: float) -> F32:
    """Sky over the cloth that shows between beads, at the finished size; 1 outside the piece."""
    size = (sky.shape[1] // SUPERSAMPLING, sky.shape[0] // SUPERSAMPLING)
    light = cv2.resize(np.where(bare, sky, 0.0).astype(np.float32), size, interpolation=cv2.INTER_AREA)
    share = cv2.resize(bare.astype(np.float32), size, interpolation=cv2.INTER_AREA)
    within = cv2.GaussianBlur(1.0 - share, (0, 0), max(0.8, bead_px))
    within = np.clip((within - _WITHIN_FROM) / _WITHIN_OVER, 0.0, 1.0)
    return np.asarray(1.0 - within * (1.0 - light / np.maximum(share, 1e-3)), np.float32)


def _ground_light(z: F32, floor_mm: float, px_per_mm: float, size: tuple[int, int]) -> F32:
    """Light on the cloth, as if the solids hovered over it: worked out small, because it is soft."""
    small = cv2.resize(z, (max(1, size[0] // 2), max(1, size[1] // 2)), interpolation=cv2.INTER_AREA)
    scale = px_per_mm / 2.0
    top = float(small.max()) - floor_mm
    steps = [step / _CAST_STEPS for step in range(_CAST_STEPS + 1)]
    ways = [top * (_CAST_FIRST + _CAST_REACH * step**_CAST_CLOSER) for step in steps]
    blocked = np.zeros_like(small)
    for way in ways:
        move = np.array([[1, 0, -KEY_LIGHT[0] * way * scale], [0, 1, KEY_LIGHT[1] * way * scale]], np.float32)
        there = cv2.warpAffine(
            small,
            move,
            (small.shape[1], small.shape[0]),
            borderMode=cv2.BORDER_CONSTANT,
            borderValue=floor_mm,
        )
        over = there - np.float32(floor_mm + KEY_LIGHT[2] * way)
        np.maximum(
            blocked, over / np.float32(_CAST_SOFTEST * top + _CAST_WIDTH * way) + _CAST_HALF, out=blocked
        )
    light: F32 = 1.0 - _CAST_DEPTH * np.clip(blocked, 0.0, 1.0)
    near = cv2.GaussianBlur(small - floor_mm, (0, 0), max(_LEAST_BLUR_PX, _CONTACT_WIDTH * top * scale))
    near = near / np.float32(max(top, 1e-6))
    soft = cv2.GaussianBlur(light, (0, 0), max(_LEAST_BLUR_PX, _CAST_BLUR * top * scale))
    shaded = soft * (1.0 - _CONTACT_DEPTH * np.clip(near, 0, 1))
    return np.asarray(cv2.resize(shaded, size, interpolation=cv2.INTER_LINEAR), np.float32)
