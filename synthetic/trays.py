"""Drawn tray photos whose answer is known: piles of beads on a plain table, with a card, under a light.

Beads are shaded domes with a hole, a glint and a shade between neighbours, painted from below upwards in
linear light. A pile's true colour is the mean of its bead pixels under an even sky, which lights them a
little better than the lamps of the scene do, measured beside a flat card.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path

import cv2
import numpy as np
import numpy.typing as npt

from analyser.arrays import BoolArray, FloatArray
from analyser.colour.spaces import lab_to_linear, linear_to_lab, linear_to_srgb
from synthetic.rope_scene import table as rope_table

LAMPS_LEAVE = (0.91, 0.99)  # of the even sky's light on beads; four in five path-traced heaps: 0.92 to 0.98

CARDS = ((0.90, (0.90, 0.30)), (0.18, (0.90, 0.70)))


@dataclass(frozen=True)
class Heap:
    """A pile to draw: Lab of its beads, place and radius as fractions of the width, length over width."""

    lab: tuple[float, float, float]
    x: float
    y: float
    radius: float = 0.05
    long: float = 1.0
    gloss: float = 0.5
    rim: float = 0.0


@dataclass(frozen=True, eq=False)
class DrawnTray:
    """The photo as uint8 sRGB, and for each heap: bead mask, centre, radius and true Lab."""

    picture: npt.NDArray[np.uint8]
    masks: tuple[BoolArray, ...] = ()
    centres: tuple[tuple[float, float], ...] = ()
    radii: tuple[float, ...] = ()
    labs: tuple[FloatArray, ...] = field(default=())

    def save(self, path: Path) -> Path:
        """Write the photo as a JPEG; the path again."""
        cv2.imwrite(str(path), self.picture[..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, 92])
        return path


def draw(
    heaps: Sequence[Heap],
    *,
    table: Sequence[float] | str = (0.8, 0.8, 0.79),
    size: tuple[int, int] = (1500, 1000),
    cast: Sequence[float] = (1.0, 1.0, 1.0),
    falloff: float = 1.0,
    cards: Sequence[tuple[float, tuple[float, float]]] = CARDS,
    bead: float = 0.014,
    seed: int = 1,
) -> DrawnTray:
    """Draw a tray.

    Parameters
    ----------
    heaps : sequence of Heap
    table : three float or str
        Linear reflectance of the table, or a kind that ``rope_scene.table`` draws.
    size : (int, int)
        Width and height in pixels.
    cast : three float
        Linear colour of the light.
    falloff : float
        Light at the left over light at the right.
    cards : sequence of (reflectance, (x, y))
        Upright cards, places as fractions of width and height.
    bead : float
        Bead diameter as a fraction of the width.
    seed : int
    """
    rng, lamps = np.random.default_rng(seed), np.random.default_rng([seed, 1])
    width, height = size
    grain = cv2.GaussianBlur(rng.normal(size=(height, width)).astype(np.float32), (0, 0), 2)
    if isinstance(table, str):
        scene = rope_table(table, (height, width), rng)
    else:
        scene = np.asarray(table, float) * (1 + 0.01 * grain / grain.std())[..., None]
    masks, centres, radii, labs = [], [], [], []
    for heap in heaps:
        across, radius_px = bead * width, heap.radius * width
        middle = np.array([heap.x, heap.y]) * width
        if heap.rim:
            cv2.circle(scene, _whole(middle), round(heap.rim * width), (0.55, 0.6, 0.65), 5, cv2.LINE_AA)
        shade = np.zeros((height, width), np.float32)
        for turn in np.linspace(-(heap.long - 1), heap.long - 1, 2 * int(np.ceil(heap.long)) - 1):
            cv2.circle(
                shade,
                _whole(middle + np.array([turn * radius_px + 0.2 * across, 0])),
                round(radius_px),
                1,
                -1,
            )
        scene *= 1 - 0.75 * cv2.GaussianBlur(shade, (0, 0), 0.6 * across)[..., None]
        mask = np.zeros((height, width), bool)
        colour = np.clip(lab_to_linear(heap.lab), 0.004, 1)
        # two loose layers, each on a jittered grid, so that a few gaps are left
        for layer in range(2):
            step = 0.95 * bead / heap.radius
            grid = np.arange(-1, 1 + step, step)
            wide = np.arange(-heap.long, heap.long + step, step)
            places = np.stack(np.meshgrid(wide, grid), axis=-1).reshape(-1, 2) + 0.5 * layer * step
            places = rng.permutation(places + rng.normal(size=places.shape) * 0.15 * step)
            kept = rng.random(len(places)) < (0.9, 0.55)[layer]
            inside = np.hypot(np.maximum(np.abs(places[:, 0]) - (heap.long - 1), 0), places[:, 1]) < 1
            for place in places[inside & kept]:
                _bead(scene, mask, middle + place * radius_px, across, colour, heap.gloss, rng)
        hull = cv2.convexHull(np.argwhere(mask)[:, ::-1].astype(np.float32))
        moments = cv2.moments(hull)
        masks.append(mask)
        centres.append((moments["m10"] / moments["m00"] + 0.5, moments["m01"] / moments["m00"] + 0.5))
        radii.append(float(np.sqrt(cv2.contourArea(hull) / np.pi)))
        labs.append(linear_to_lab(scene[mask].mean(axis=0) / lamps.uniform(*LAMPS_LEAVE)))
    for reflectance, (x, y) in cards:
        half_w, half_h = round(0.06 * width), round(0.11 * height)
        left, top = round(x * width) - half_w, round(y * height) - half_h
        scene[top : top + 2 * half_h, left : left + 2 * half_w] = reflectance
    light = falloff ** (0.5 - np.arange(width) / width)
    photo = scene * (0.93 * light / light.max())[None, :, None] * (np.asarray(cast) / max(cast))
    photo = cv2.GaussianBlur(photo, (0, 0), 0.6) + rng.normal(size=photo.shape) * np.sqrt(2e-5 * photo + 1e-6)
    encoded = linear_to_srgb(np.clip(photo, 0, 1))
    picture = np.round(encoded * 255).astype(np.uint8)
    return DrawnTray(picture, tuple(masks), tuple(centres), tuple(radii), tuple(labs))


def _whole(place: FloatArray) -> tuple[int, int]:
    return round(float(place[0])), round(float(place[1]))


def _bead(
    scene: FloatArray,
    mask: BoolArray,
    middle: FloatArray,
    across: float,
    colour: FloatArray,
    gloss: float,
    rng: np.random.Generator,
) -> None:
    """Paint one bead over what lies there, darkening a thin rim round it first."""
    reach = int(np.ceil(0.7 * across))
    x0, y0 = _whole(middle - reach)
    if x0 < 0 or y0 < 0 or y0 + 2 * reach >= scene.shape[0] or x0 + 2 * reach >= scene.shape[1]:
        return
    y, x = np.mgrid[y0 : y0 + 2 * reach, x0 : x0 + 2 * reach] + 0.5
    turn = rng.uniform(0, np.pi)
    along = ((x - middle[0]) * np.cos(turn) + (y - middle[1]) * np.sin(turn)) / (0.5 * across)
    beside = ((y - middle[1]) * np.cos(turn) - (x - middle[0]) * np.sin(turn)) / (0.42 * across)
    out = np.hypot(along, beside)
    window = scene[y0 : y0 + 2 * reach, x0 : x0 + 2 * reach]
    window *= np.where(out < 1.15, 0.6, 1.0)[..., None]
    dome = 0.35 + 0.65 * np.sqrt(np.clip(1 - out**2, 0, 1))
    if rng.random() < 0.5:
        dome = np.where(out < 0.3, 0.45 * dome, dome)
    lit = np.hypot(along - 0.35, beside + 0.35) < 0.14
    painted = dome[..., None] * colour + 0.025 + np.where(lit, gloss * 0.4, 0.0)[..., None]
    here = out < 1
    window[here] = painted[here]
    mask[y0 : y0 + 2 * reach, x0 : x0 + 2 * reach] |= here
