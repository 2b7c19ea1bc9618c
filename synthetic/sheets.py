"""Draws photos of the photo sheet: under tilt, curl, lamps and a phone's own look, some of it covered.

Each pixel's ray is followed to the paper in linear light, then treated as a camera would.
What the paper reflects and where it lies is known. Seeds are given; light and cameras are invented.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cache

import cv2
import numpy as np

from analyser.colour.spaces import lab_to_linear, linear_to_srgb, relative_luminance, srgb_to_linear
from analyser.drawing.sheet import picture
from analyser.photo.reading import Photo
from analyser.photo.sheet_layout import Kind, Layout, Paper, layout

_DPI = 152.4  # 6 pixels a millimetre
_PX_PER_MM = 6.0
_INK = 0.035  # of the printer's black
DIAGONAL_35MM = 43.27


@dataclass(frozen=True)
class Scene:
    """What is photographed and how; lengths in mm, angles in degrees."""

    kind: Kind = "flat"
    paper: Paper = "a4"
    name: str = "fern"
    width: int = 1200
    height: int = 1600
    focal_35mm: float = 26.0
    fills: float = 0.9  # of the frame's sides, the page at no tilt
    tilt: float = 0.0
    towards: float = 90.0  # the side that leans back
    turn: float = 0.0
    shift: tuple[float, float] = (0.0, 0.0)  # of the page's middle, as shares of the frame
    curl: float = 0.0  # how high the page's left and right edges stand
    crumple: float = 0.0  # height of gentle bumps
    paper_linear: tuple[float, float, float] = (0.84, 0.86, 0.90)
    table_linear: tuple[float, float, float] = (0.35, 0.27, 0.19)
    white_card: float | None = None  # its reflectance, in the sheet's frame
    grey_card: float | None = None
    chips: tuple[tuple[float, float, float], ...] = ()  # Lab of round chips of 22 mm in the free room
    covered: str | None = None  # "left", "right", "top" or "bottom" third under a cloth
    light_linear: tuple[float, float, float] = (1.0, 1.0, 1.0)
    exposure: float = 0.95
    falloff: tuple[float, float] = (0.0, 0.0)  # log light gained across the frame, x and y
    mixed: float = 0.0  # log red-to-blue gained across the frame
    contrast: float = 0.0  # of the camera's S-curve, 0 to 1
    colour: float = 0.0  # how much more chroma the camera gives, 0.2 is a fifth
    sharpened: float = 0.0
    noise: float = 0.004
    blur: float = 0.6
    jpeg: int | None = 92
    seed: int = 1
    exif: bool = True


@dataclass(frozen=True)
class Thing:
    """Something that lies on the page, drawn elsewhere under an even white light.

    Attributes
    ----------
    linear : ndarray, shape (h, w, 3)
    cover : ndarray, shape (h, w)
        1 where it is, 0 where the page is.
    px_per_mm : float
    corner_mm : tuple of float
        Of its picture's upper left, on the page.
    height_mm : float
        At which it is seen: it looks larger than on the page by that.
    """

    linear: np.ndarray
    cover: np.ndarray
    px_per_mm: float
    corner_mm: tuple[float, float]
    height_mm: float = 0.0


@dataclass(frozen=True)
class Drawn:
    """A drawn photo and its truth.

    Attributes
    ----------
    pixels : uint8 ndarray, shape (h, w, 3)
        sRGB.
    layout : Layout
    page_mm : ndarray, shape (h, w, 2)
        The page's millimetres at each pixel, measured along the paper; NaN where another thing is seen.
    chips_mm : ndarray, shape (n, 2)
        Middles of the chips.
    """

    pixels: np.ndarray
    layout: Layout
    page_mm: np.ndarray
    chips_mm: np.ndarray
    scene: Scene

    def photo(self) -> Photo:
        """As read at full size."""
        linear = srgb_to_linear(self.pixels / 255.0).astype(np.float32)
        height, width = self.pixels.shape[:2]
        clipped = np.asarray((self.pixels >= 254).any(axis=2))
        focal = self.scene.focal_35mm if self.scene.exif else None
        return Photo(linear, None, clipped, "drawn.jpg", width, height, "sRGB", 1, "0" * 64, focal_35mm=focal)

    def chip_pixels(self, number: int, radius: float = 8.0) -> np.ndarray:
        """Mask of a chip's middle."""
        away = self.page_mm - self.chips_mm[number]
        return np.asarray(np.hypot(away[..., 0], away[..., 1]) < radius)


def draw(scene: Scene, things: Sequence[Thing] = ()) -> Drawn:
    """Draw the photo of a scene, things lying on its page."""
    rng = np.random.default_rng(scene.seed)
    sheet = layout(scene.kind, scene.paper, scene.name)
    page, chips = _page(scene, sheet)
    for thing in things:
        _put(page, thing, scene, sheet)
    at, distance = _page_at(scene, sheet, rng)
    maps = (at * _PX_PER_MM - 0.5).astype(np.float32)
    reduce = max(1.0, distance * _PX_PER_MM)
    if reduce > 1.3:
        page = cv2.GaussianBlur(page, (0, 0), 0.4 * reduce)
    surface = cv2.remap(page, maps[..., 0], maps[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    off = np.asarray(((at < 0) | (at > [sheet.width, sheet.height])).any(axis=-1))
    grain = cv2.GaussianBlur(rng.normal(size=off.shape).astype(np.float32), (0, 0), 6.0, sigmaY=1.5)
    table = np.array(scene.table_linear, np.float32) * np.exp(0.5 * grain)[..., None]
    surface = np.where(off[..., None], table, surface)
    if scene.covered:
        surface, hidden = _covered(surface, at, scene.covered, sheet, rng)
        off |= hidden
    pixels = photographed(surface * light_over(scene), scene, rng)
    return Drawn(pixels, sheet, np.where(off[..., None], np.nan, at), chips, scene)


@cache
def _printed(kind: Kind, paper: Paper, name: str) -> np.ndarray:
    """Share of white of the printed page, linear."""
    grey = picture(layout(kind, paper, name), _DPI)
    share: np.ndarray = srgb_to_linear(np.repeat(grey[..., None], 3, axis=2) / 255.0).astype(np.float32)
    return share


def printed(scene: Scene) -> np.ndarray:
    """What the printed page reflects, six pixels a millimetre, linear."""
    white = np.array(scene.paper_linear, np.float32)
    return np.asarray(white * (_INK + (1 - _INK) * _printed(scene.kind, scene.paper, scene.name)))


def _page(scene: Scene, sheet: Layout) -> tuple[np.ndarray, np.ndarray]:
    page = printed(scene).astype(np.float32)
    for frame, reflectance in zip(sheet.frames, (scene.white_card, scene.grey_card), strict=True):
        if reflectance is not None:
            corners = np.round(frame.grown(1.0).corners * _PX_PER_MM).astype(np.int32)
            cv2.fillPoly(page, [corners], (float(reflectance),) * 3)
    left, top = np.concatenate(sheet.free).min(axis=0)
    right = np.concatenate(sheet.free).max(axis=0)[0]
    columns = max(1, int((right - left) // 26))
    middles = [
        (left + 13 + 26 * (number % columns), top + 13 + 26 * (number // columns))
        for number in range(len(scene.chips))
    ]
    for (x, y), lab in zip(middles, scene.chips, strict=True):
        centre = round(x * _PX_PER_MM), round(y * _PX_PER_MM)
        colour = tuple(float(v) for v in np.clip(lab_to_linear(lab), 0, None))
        cv2.circle(page, centre, round(11 * _PX_PER_MM), colour, -1, cv2.LINE_AA)
    return page, np.array(middles).reshape(-1, 2)


def _camera(scene: Scene, sheet: Layout) -> tuple[float, float, np.ndarray, np.ndarray]:
    """Focal length in pixels, distance to the page, the camera's axes, and the lens in the page's own."""
    width, height = scene.width, scene.height
    focal = scene.focal_35mm / DIAGONAL_35MM * float(np.hypot(width, height))
    away = focal * max(sheet.width / width, sheet.height / height) / scene.fills
    turn, tilt, towards = np.radians([scene.turn, scene.tilt, scene.towards])
    spun, _ = cv2.Rodrigues(np.array([0, 0, turn]))
    leant, _ = cv2.Rodrigues(tilt * np.array([np.cos(towards), np.sin(towards), 0]))
    page_to_camera = np.asarray(leant @ spun)
    origin = np.array([scene.shift[0] * width, scene.shift[1] * height, 0]) * away / focal + [0, 0, away]
    return focal, away, page_to_camera, -page_to_camera.T @ origin


def _put(page: np.ndarray, thing: Thing, scene: Scene, sheet: Layout) -> None:
    """Paint a thing where the camera sees it against the page."""
    *_, eye = _camera(scene, sheet)
    larger = 1 / (1 - thing.height_mm / abs(float(eye[2])))
    foot = eye[:2] + np.array([sheet.width, sheet.height]) / 2
    corner = (foot + (np.array(thing.corner_mm) - foot) * larger) * _PX_PER_MM
    scale = larger * _PX_PER_MM / thing.px_per_mm
    to_page = np.array([[scale, 0, corner[0] + 0.5 * scale - 0.5], [0, scale, corner[1] + 0.5 * scale - 0.5]])
    size = page.shape[1::-1]
    smooth = 0.35 / scale if scale < 1 else 0.0
    layers = [np.asarray(layer, np.float32) for layer in (thing.linear, thing.cover)]
    if smooth:
        layers = [np.asarray(cv2.GaussianBlur(layer, (0, 0), smooth), np.float32) for layer in layers]
    light, cover = (cv2.warpAffine(layer, to_page, size, flags=cv2.INTER_LINEAR) for layer in layers)
    page += cover[..., None] * (light - page)


def _page_at(scene: Scene, sheet: Layout, rng: np.random.Generator) -> tuple[np.ndarray, float]:
    """The page's mm at each pixel, shape (h, w, 2), and mm a pixel in the middle."""
    width, height = scene.width, scene.height
    focal, away, page_to_camera, eye = _camera(scene, sheet)
    y, x = np.mgrid[0:height, 0:width]
    rays = np.stack([x + 0.5 - width / 2, y + 0.5 - height / 2, np.full(x.shape, focal)], axis=-1)
    rays = rays @ page_to_camera  # in the page's own axes; z is away from the camera
    bumps = _bumps(scene, sheet, rng)
    raised = np.zeros(x.shape)
    for _ in range(6 if scene.curl or scene.crumple else 1):
        reach = (-raised - eye[2]) / rays[..., 2]
        flat = eye[:2] + reach[..., None] * rays[..., :2]
        raised = bumps(flat)
    # a raised flap is seen from above; along the paper it is a little longer than across
    along = flat.copy()
    if scene.curl:
        along[..., 0] = _arc(flat[..., 0], scene.curl, sheet.width)
    return along + np.array([sheet.width, sheet.height]) / 2, away / focal


def _bumps(scene: Scene, sheet: Layout, rng: np.random.Generator) -> Callable[[np.ndarray], np.ndarray]:
    waves = rng.uniform(-1, 1, (5, 2)) * 2 * np.pi / 90
    phase = rng.uniform(0, 2 * np.pi, 5)

    def height(at: np.ndarray) -> np.ndarray:
        curl: np.ndarray = scene.curl * (2 * at[..., 0] / sheet.width) ** 2
        if not scene.crumple:
            return curl
        return np.asarray(curl + scene.crumple * np.sin(at @ waves.T + phase).mean(axis=-1))

    return height


def _arc(x: np.ndarray, curl: float, width: float) -> np.ndarray:
    """Length along the parabola z = curl (2x / width)^2 from its middle."""
    slope = 8 * curl * x / width**2
    return np.where(np.abs(slope) < 1e-9, x, x * (1 + slope**2 / 6))


def _covered(
    surface: np.ndarray, at: np.ndarray, side: str, sheet: Layout, rng: np.random.Generator
) -> tuple[np.ndarray, np.ndarray]:
    x, y = at[..., 0] / sheet.width, at[..., 1] / sheet.height
    edge = 1 / 3 + 0.02 * np.sin(9 * (y if side in ("left", "right") else x))
    hidden = {"left": x < edge, "right": x > 1 - edge, "top": y < edge, "bottom": y > 1 - edge}[side]
    cloth = rng.uniform(0.03, 0.6, 3) * (1 + 0.25 * np.sin(at.sum(axis=-1) * 2.1))[..., None]
    return np.where(hidden[..., None], cloth, surface).astype(np.float32), hidden


def light_over(scene: Scene) -> np.ndarray:
    """What a perfect white sheet gives at each place, before the camera, shape (h, w, 3)."""
    y, x = np.mgrid[0 : scene.height, 0 : scene.width].astype(np.float32)
    x, y = (x + 0.5) / scene.width - 0.5, (y + 0.5) / scene.height - 0.5
    level = np.exp(scene.falloff[0] * x + scene.falloff[1] * y - 0.2 * (x**2 + y**2))
    tint = np.stack([np.exp(scene.mixed * x / 2), np.ones_like(x), np.exp(-scene.mixed * x / 2)], axis=-1)
    white = np.array(scene.light_linear) / max(scene.light_linear)
    light = level[..., None] * tint * white
    return np.asarray(scene.exposure * light / light.max(), np.float32)


def photographed(light: np.ndarray, scene: Scene, rng: np.random.Generator) -> np.ndarray:
    """Lens, noise, the camera's curve and sharpening, and JPEG; uint8 sRGB."""
    linear = cv2.GaussianBlur(light.astype(np.float32), (0, 0), scene.blur) if scene.blur else light
    grain = rng.normal(size=linear.shape) * np.sqrt(np.maximum(linear, 0) + 0.002)
    linear = linear + scene.noise * grain
    if scene.colour:
        grey = relative_luminance(np.clip(linear, 0, None))[..., None]
        linear = grey + (1 + scene.colour) * (linear - grey)
    srgb = linear_to_srgb(np.clip(linear, 0, 1))
    if scene.contrast:  # an S about the middle, as cameras put on
        srgb = (1 - scene.contrast) * srgb + scene.contrast * srgb**2 * (3 - 2 * srgb)
    if scene.sharpened:
        srgb = srgb + scene.sharpened * (srgb - cv2.GaussianBlur(srgb, (0, 0), 1.5))
    pixels = np.round(np.clip(srgb, 0, 1) * 255).astype(np.uint8)
    if scene.jpeg is None:
        return pixels
    _, data = cv2.imencode(".jpg", pixels[..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, scene.jpeg])
    return np.asarray(cv2.imdecode(data, cv2.IMREAD_COLOR_RGB))
