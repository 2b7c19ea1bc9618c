"""Draws photos of a 24-patch chart, cards and swatches whose colours are known.

The patches have published reference values; light, tilt, camera, noise and JPEG are invented. Drawn in
linear light at twice the size, area-averaged, then treated as a camera would. Seeds are given.
"""

from __future__ import annotations

import csv
from collections.abc import Iterator
from dataclasses import dataclass, field
from importlib.resources import files

import cv2
import numpy as np
import numpy.typing as npt

from analyser.arrays import FloatArray
from analyser.colour.spaces import lab_to_linear, linear_to_srgb, srgb_to_linear
from analyser.photo.reading import Photo

PITCH = 1.0  # distance of patch centres, the unit of the chart's plane
PATCH = 0.82  # side of a patch
FRAME = 0.18  # black beyond the outer patches
OVERSAMPLED = 2  # drawn pixels to one of the photo, each way
TABLE_LINEAR = {  # mean reflectance, and how strongly it is mottled
    "white-paper": ((0.88, 0.88, 0.878), 0.004),
    "grey": ((0.32, 0.32, 0.33), 0.03),
    "wood": ((0.52, 0.40, 0.25), 0.16),
    "linen": ((0.52, 0.46, 0.36), 0.22),
    "felt": ((0.035, 0.036, 0.04), 0.25),
}


def reference_lab(edition: str) -> FloatArray:
    """The 24 patches of an edition as Lab D65, shape (24, 3)."""
    with (files("analyser.photo") / "data" / "chart24.csv").open() as table:
        rows = [row for row in csv.DictReader(table) if row["edition"] == edition]
    return np.array([[float(row[f"{axis}_D65"]) for axis in "Lab"] for row in rows])


@dataclass(frozen=True)
class Scene:
    """What is photographed and how; lengths in pixels of the finished photo."""

    width: int = 1200
    height: int = 800
    edition: str | None = "newer"  # None: no chart in the frame
    chart_at: tuple[float, float] = (0.4, 0.55)
    chart_width: float = 420
    turn_deg: float = 3.0
    tilt_deg: float = 0.0
    tilt_towards_deg: float = 90.0
    table: str = "white-paper"
    light_linear: tuple[float, float, float] = (1.0, 1.0, 1.0)
    exposure: float = 0.95
    falloff: tuple[float, float] = (0.0, 0.0)  # log light gained across the frame, x and y
    mixed: float = 0.0  # log red-to-blue gained across the frame
    cards: tuple[tuple[float, float, float], ...] = ()  # (x, y in the frame, reflectance)
    card_size: tuple[float, float] = (170, 110)
    swatch_lab: tuple[tuple[float, float, float], ...] = ()  # along the top edge
    camera: tuple[tuple[float, ...], ...] = ((1, 0, 0), (0, 1, 0), (0, 0, 1))
    contrast: float = 0.0  # 0 none; 1 a strong camera curve
    noise: float = 0.004
    blur: float = 0.6
    jpeg: int | None = 92
    seed: int = 1
    mirrored: bool = False
    occluder: bool = field(default=False)  # a hand-like shade over the first two patches


@dataclass(frozen=True, eq=False)
class Painted:
    """A surface of one colour in the photo: its Lab, and its outline in pixels, shape (n, 2)."""

    name: str
    lab: FloatArray
    polygon: FloatArray
    in_chart: bool


def render(scene: Scene) -> tuple[npt.NDArray[np.uint8], list[Painted]]:
    """The photo (sRGB, (h, w, 3)) and its surfaces: the chart's patches, cards, swatches."""
    generator = np.random.default_rng(scene.seed)
    h, w = scene.height * OVERSAMPLED, scene.width * OVERSAMPLED
    canvas = _table(scene, generator, h, w)
    if scene.edition is not None:
        edge = PATCH / 2 + FRAME
        outline = np.array([[-edge, -edge], [5 + edge, -edge], [5 + edge, 3 + edge], [-edge, 3 + edge]])
        _fill(canvas, _project(chart_homography(scene), outline), np.full(3, 0.025))
    surfaces = [*_patches(scene), *_cards(scene), *_swatches(scene)]
    for surface in surfaces:
        _fill(canvas, surface.polygon, lab_to_linear(surface.lab))
    light = illumination(scene, h, w)
    if scene.occluder and scene.edition is not None:
        light = light * _hand(scene, (h, w))[..., None]
    return _photograph(canvas * light, scene, generator), surfaces


def _fill(canvas: FloatArray, polygon: FloatArray, linear: FloatArray) -> None:
    """Paint a polygon, given in pixels of the finished photo, to a sixteenth of a drawn pixel."""
    corners = np.round(polygon * OVERSAMPLED * 16).astype(np.int32)
    cv2.fillPoly(canvas, [corners], tuple(float(v) for v in linear), shift=4)


def _patches(scene: Scene) -> Iterator[Painted]:
    if scene.edition is None:
        return
    to_photo = chart_homography(scene)
    half = PATCH / 2
    square = np.array([[-half, -half], [half, -half], [half, half], [-half, half]])
    for index, lab in enumerate(reference_lab(scene.edition)):
        at = np.array([index % 6, index // 6]) * PITCH
        yield Painted(f"patch {index + 1}", lab, _project(to_photo, square + at), True)


def _cards(scene: Scene) -> Iterator[Painted]:
    for number, (x, y, reflectance) in enumerate(scene.cards):
        lightness = 116 * np.cbrt(reflectance) - 16
        corners = _turned(scene.card_size, (2.5, -3.0, 4.0)[number % 3])
        corners = corners + np.array([x * scene.width, y * scene.height])
        yield Painted(f"card {reflectance:g}", np.array([lightness, 0.0, 0.0]), corners, False)


def _swatches(scene: Scene) -> Iterator[Painted]:
    """Discs along the top edge: round, so that none passes for a card."""
    side = scene.width / max(len(scene.swatch_lab) * 1.5 + 0.5, 12)
    turns = np.linspace(0, 2 * np.pi, 48, endpoint=False)
    disc = side / 2 * np.stack([np.cos(turns), np.sin(turns)], axis=-1)
    for number, lab in enumerate(scene.swatch_lab):
        middle = np.array([side * (1 + 1.5 * number), side])
        yield Painted(f"swatch {number + 1}", np.array(lab, float), disc + middle, False)


def _hand(scene: Scene, shape: tuple[int, int]) -> FloatArray:
    """The shade of a hand over the first two patches, 1 where it does not reach."""
    shade = np.ones(shape, np.float32)
    x, y = _project(chart_homography(scene), np.array([[0.4, -0.4]]))[0] * OVERSAMPLED
    radius = int(scene.chart_width / 6 * OVERSAMPLED)
    cv2.circle(shade, (int(x), int(y)), radius, 0.7, -1)
    return np.asarray(cv2.GaussianBlur(shade, (0, 0), radius / 6), np.float32)


def photo_of(pixels: npt.NDArray[np.uint8]) -> Photo:
    """Drawn pixels as a photo that was read at full size."""
    linear = srgb_to_linear(pixels / 255.0).astype(np.float32)
    height, width = pixels.shape[:2]
    return Photo(
        linear, None, np.asarray((pixels >= 254).any(axis=2)), "drawn.jpg", width, height, "sRGB", 1, ""
    )


def inner_mean(linear: FloatArray, polygon: FloatArray) -> FloatArray:
    """Mean linear light, shape (3,), of the middle of a polygon's box."""
    (x0, y0), (x1, y1) = polygon.min(axis=0), polygon.max(axis=0)
    dx, dy = (x1 - x0) / 4, (y1 - y0) / 4
    rows = slice(int(y0 + dy), max(int(y1 - dy), int(y0 + dy) + 1))
    columns = slice(int(x0 + dx), max(int(x1 - dx), int(x0 + dx) + 1))
    return np.asarray(linear[rows, columns].reshape(-1, 3).mean(axis=0, dtype=float))


def chart_homography(scene: Scene) -> FloatArray:
    """From the chart's plane (patch centres at whole numbers) to pixels of the photo."""
    scale = scene.chart_width / (5 + PATCH + 2 * FRAME)
    centred = np.array([[1, 0, -2.5], [0, 1, -1.5], [0, 0, 1.0]])
    if scene.mirrored:
        centred = np.diag([-1.0, 1, 1]) @ centred
    turn, tilt, towards = np.radians([scene.turn_deg, scene.tilt_deg, scene.tilt_towards_deg])
    rotate = np.array([[np.cos(turn), -np.sin(turn), 0], [np.sin(turn), np.cos(turn), 0], [0, 0, 1]])
    # the plane leans about an axis in itself; seen from 12 patch pitches away
    axis = np.array([np.cos(towards - np.pi / 2), np.sin(towards - np.pi / 2), 0])
    lean, _ = cv2.Rodrigues(axis * tilt)
    away = 12.0
    project = np.array(
        [[lean[0, 0], lean[0, 1], 0], [lean[1, 0], lean[1, 1], 0], [lean[2, 0] / away, lean[2, 1] / away, 1]]
    )
    place = np.array(
        [[scale, 0, scene.chart_at[0] * scene.width], [0, scale, scene.chart_at[1] * scene.height], [0, 0, 1]]
    )
    return np.asarray(place @ project @ rotate @ centred)


def illumination(scene: Scene, height: int, width: int) -> FloatArray:
    """What a perfect white sheet gives at each place, before the camera, shape (h, w, 3)."""
    y, x = np.mgrid[0:height, 0:width].astype(np.float32)
    x, y = (x + 0.5) / width - 0.5, (y + 0.5) / height - 0.5
    level = np.exp(scene.falloff[0] * x + scene.falloff[1] * y - 0.15 * abs(scene.falloff[0]) * x**2)
    tint = np.stack([np.exp(scene.mixed * x / 2), np.ones_like(x), np.exp(-scene.mixed * x / 2)], axis=-1)
    white = np.array(scene.light_linear) / max(scene.light_linear)
    return np.asarray(level[..., None] * tint * white * scene.exposure, np.float32)


def _table(scene: Scene, generator: np.random.Generator, h: int, w: int) -> FloatArray:
    if scene.table == "busy":  # coloured scraps, some of them square
        canvas = np.full((h, w, 3), 0.3, np.float32)
        for _ in range(300):
            lab = generator.uniform([15, -50, -50], [90, 50, 50])
            size = generator.uniform(0.01, 0.06, 2) * w
            corners = _turned(tuple(size), float(generator.uniform(0, 90)))
            corners = corners + generator.uniform(0, [w, h])
            cv2.fillPoly(
                canvas, [corners.astype(np.int32)], tuple(float(v) for v in lab_to_linear(lab).clip(0))
            )
        return canvas
    mean, mottle = TABLE_LINEAR[scene.table]
    stretch = (12.0, 1.2) if scene.table == "wood" else (1.5, 1.5)
    grain = generator.normal(size=(h, w)).astype(np.float32)
    across, down = stretch[0] * OVERSAMPLED, stretch[1] * OVERSAMPLED
    blurred = np.asarray(cv2.GaussianBlur(grain, (0, 0), sigmaX=across, sigmaY=down), np.float32)
    blurred /= blurred.std()
    return np.asarray(np.array(mean, np.float32) * np.exp(mottle * blurred)[..., None], np.float32)


def _photograph(light: FloatArray, scene: Scene, generator: np.random.Generator) -> npt.NDArray[np.uint8]:
    linear = np.asarray(cv2.resize(light, (scene.width, scene.height), interpolation=cv2.INTER_AREA))
    if scene.blur:
        linear = np.asarray(cv2.GaussianBlur(linear, (0, 0), scene.blur))
    grain = generator.normal(size=linear.shape) * np.sqrt(np.maximum(linear, 0) + 0.002)
    linear = linear + scene.noise * grain
    linear = np.clip(linear @ np.array(scene.camera, float).T, 0, 1)
    srgb = linear_to_srgb(linear)
    if scene.contrast:  # an S about the middle, as cameras put on
        curved = srgb**2 * (3 - 2 * srgb)
        srgb = (1 - scene.contrast) * srgb + scene.contrast * curved
    pixels = np.round(np.clip(srgb, 0, 1) * 255).astype(np.uint8)
    if scene.jpeg is None:
        return pixels
    _, data = cv2.imencode(".jpg", pixels[..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, scene.jpeg])
    decoded = np.asarray(cv2.imdecode(data, cv2.IMREAD_COLOR), np.uint8)
    return np.ascontiguousarray(decoded[..., ::-1])


def _turned(size: tuple[float, float], degrees: float) -> FloatArray:
    a, b = size[0] / 2, size[1] / 2
    turn = np.radians(degrees)
    rotate = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    return np.asarray(np.array([[-a, -b], [a, -b], [a, b], [-a, b]]) @ rotate.T)


def _project(homography: FloatArray, points: FloatArray) -> FloatArray:
    return np.asarray(cv2.perspectiveTransform(points[None].astype(np.float64), homography)[0])
