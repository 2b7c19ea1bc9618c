"""Close-ups of drawn heaps of beads with the mask of their bead pixels: what the network learns from.

Beads are ellipsoids with a hole, thrown in two or three loose layers on a table and lit by one or two lamps
and a sky, in linear light. A heap is a field of heights: shadows are told by marching over it towards the
lamp, the sky's share by the horizon in eight directions, what neighbours send on by a blurred copy of what is
lit. Finishes are drawn by their look, not by their optics: gloss, clear glass, silver lining, metal, films.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.ndimage import gaussian_filter, map_coordinates

from analyser.arrays import BoolArray, FloatArray
from analyser.colour.spaces import lab_to_linear, linear_to_srgb, srgb_to_linear

FINISHES = ("matte", "chalk", "satin", "glossy", "transparent", "lined", "metallic", "film")
TABLES = ("paper", "linen", "wood", "felt", "print", "stripes")
_SUN_SAMPLES = 5
_STEPS_PX = np.unique(np.round(np.geomspace(1, 60, 22))).astype(int)


@dataclass(frozen=True, eq=False)
class HeapPicture:
    """One close-up.

    Attributes
    ----------
    linear : float32 ndarray, shape (n, n, 3)
        Linear light as a photo of it decodes, from 0 to 1.
    beads : bool ndarray, shape (n, n)
        Bead pixels.
    finish : str
        One of ``FINISHES``.
    """

    linear: npt.NDArray[np.float32]
    beads: BoolArray
    finish: str


@dataclass(frozen=True, eq=False)
class _Relief:
    """Of the topmost surface: height in pixels, unit normal, and which bead it is of (-1 is the table)."""

    height: FloatArray
    normal: FloatArray
    bead: npt.NDArray[np.intp]


def draw(rng: np.random.Generator, size: int = 192, radius: float = 62.0) -> HeapPicture:
    """Draw one heap, all of whose choices are left to chance.

    Parameters
    ----------
    rng : numpy.random.Generator
    size : int
        Side of the picture, pixels.
    radius : float
        Of the heap, pixels.
    """
    radius *= rng.uniform(0.75, 1.15)
    finish = str(rng.choice(FINISHES))
    relief = _thrown(rng, size, radius)
    table = _table(rng, size, radius)
    beads = relief.bead >= 0
    body = _body(rng, relief, finish, table)
    linear = _lit(rng, relief, body, table, finish)
    return HeapPicture(_photographed(rng, linear), beads, finish)


def _thrown(rng: np.random.Generator, size: int, radius: float) -> _Relief:
    """Beads thrown on a table, the upper over the lower."""
    across = radius * float(np.exp(rng.uniform(np.log(0.14), np.log(0.45))))
    flat = rng.uniform(0.55, 1.0)  # thickness over diameter; round rocailles 0.6 to 0.8
    hole = rng.uniform(0.2, 0.42)
    height = np.zeros((size, size))
    normal = np.zeros((size, size, 3))
    normal[..., 2] = 1
    which = np.full((size, size), -1, np.intp)
    middle = size / 2 + rng.normal(size=2) * 0.05 * size
    long, turn = rng.uniform(1, 1.35), rng.uniform(0, np.pi)
    lobes = rng.normal(size=4) * [0.08, 0.08, 0.04, 0.04]
    loose = rng.uniform(0.74, 1.1)
    number = 0
    for layer, (share, reach) in enumerate(
        ((rng.uniform(0.75, 1), 1.0), (rng.uniform(0.3, 0.9), 0.85), (rng.uniform(0, 0.7), 0.6))
    ):
        step = across * loose
        grid = np.arange(-radius * 1.3, radius * 1.3, step)
        places = np.stack(np.meshgrid(grid, grid * 0.9), axis=-1)
        places[1::2, :, 0] += step / 2
        places = places.reshape(-1, 2) + rng.uniform(0, step, 2)
        places += rng.normal(size=places.shape) * 0.22 * step
        angle = np.arctan2(places[:, 1], places[:, 0])
        rim = 1 + lobes @ np.stack(
            [np.cos(2 * angle), np.sin(2 * angle), np.cos(3 * angle), np.sin(3 * angle)]
        )
        turned = places @ [[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]]
        out = np.hypot(turned[:, 0] / np.sqrt(long), turned[:, 1] * np.sqrt(long)) / (radius * rim)
        kept = places[(out < reach) & (rng.random(len(places)) < share)]
        for place in rng.permutation(kept):
            lying = rng.random() < 0.55
            tilt = rng.uniform(1.0, np.pi / 2) if lying else abs(rng.normal()) * 0.35
            azimuth = rng.uniform(0, 2 * np.pi)
            axis = np.array([np.sin(tilt) * np.cos(azimuth), np.sin(tilt) * np.sin(azimuth), np.cos(tilt)])
            half = across / 2 * rng.normal(1, 0.05)
            rest = half * (flat * abs(axis[2]) + np.sqrt(max(0, 1 - axis[2] ** 2)))
            lift = layer * across * rng.uniform(0.55, 0.8)
            _put(height, normal, which, middle + place, half, flat, hole, axis, rest + lift, number)
            number += 1
    return _Relief(height, normal, which)


def _put(
    height: FloatArray,
    normal: FloatArray,
    which: npt.NDArray[np.intp],
    place: FloatArray,
    half: float,
    flat: float,
    hole: float,
    axis: FloatArray,
    up: float,
    number: int,
) -> None:
    """One bead into the relief wherever it lies highest."""
    reach = int(np.ceil(half)) + 1
    x0, y0 = (int(np.floor(v)) - reach for v in place)
    size = len(height)
    rows = slice(max(0, y0), min(size, y0 + 2 * reach + 2))
    columns = slice(max(0, x0), min(size, x0 + 2 * reach + 2))
    if rows.start >= rows.stop or columns.start >= columns.stop:
        return
    y, x = np.mgrid[rows, columns] + 0.5
    x, y = x - place[0], y - place[1]
    form = (np.eye(3) - np.outer(axis, axis)) / half**2 + np.outer(axis, axis) / (flat * half) ** 2
    linear = form[0, 2] * x + form[1, 2] * y
    rest = form[0, 0] * x * x + 2 * form[0, 1] * x * y + form[1, 1] * y * y - 1
    under = linear**2 - form[2, 2] * rest
    z = (-linear + np.sqrt(np.maximum(under, 0))) / form[2, 2]
    point = np.stack([x, y, z], axis=-1)
    along = point @ axis
    from_axis = np.linalg.norm(point - along[..., None] * axis, axis=-1)
    in_hole = from_axis < hole * half
    through = in_hole & (axis[2] > 0.93)  # straight down the hole one sees what lies below
    here = (under > 0) & ~through & (up + z > height[rows, columns])
    slope = point @ form
    slope /= np.linalg.norm(slope, axis=-1, keepdims=True) + 1e-9
    # the wall of the hole lies deeper and faces away: dark, as if in a pit
    z = np.where(in_hole, z - 0.5 * half, z)
    slope = np.where(in_hole[..., None], -slope * [1, 1, -0.3], slope)
    slope /= np.linalg.norm(slope, axis=-1, keepdims=True) + 1e-9
    height[rows, columns][here] = (up + z)[here]
    normal[rows, columns][here] = slope[here]
    which[rows, columns][here] = number


def _colour(rng: np.random.Generator) -> FloatArray:
    """A linear reflectance by chance, dull ones and strong ones alike."""
    hue = rng.uniform(0, 2 * np.pi)
    chroma = abs(rng.normal()) * 12 if rng.random() < 0.45 else rng.uniform(5, 75)
    lab = [rng.uniform(6, 95), chroma * np.cos(hue), chroma * np.sin(hue)]
    return np.clip(lab_to_linear(lab), 0.006, 0.93)


def _body(rng: np.random.Generator, relief: _Relief, finish: str, table: FloatArray) -> FloatArray:
    """Reflectance of what is seen at each pixel, shape (n, n, 3)."""
    colour = _colour(rng)
    if rng.random() < 0.15:  # beads of the table's own colour
        colour = np.clip(table.mean(axis=(0, 1)) * np.exp(rng.normal(size=3) * 0.12), 0.006, 0.93)
    each = np.exp(rng.normal(size=(relief.bead.max() + 2, 1)) * rng.uniform(0, 0.06)) * np.ones(3)
    if finish == "film":
        # interference: hue turns with the angle and from bead to bead
        phase = rng.uniform(0, 2 * np.pi, relief.bead.max() + 2)[relief.bead] * rng.uniform(0.3, 1)
        phase = phase + rng.uniform(2, 5) * relief.normal[..., 2]
        wave = np.stack([np.cos(phase + turn) for turn in (0, 2.1, 4.2)], axis=-1)
        film = colour * (1 + rng.uniform(0.4, 0.9) * wave) + 0.04 * (1 + wave)
        return np.where((relief.bead >= 0)[..., None], film * each[relief.bead], table)
    return np.where((relief.bead >= 0)[..., None], colour * each[relief.bead], table)


def _table(rng: np.random.Generator, size: int, radius: float) -> FloatArray:
    """Reflectance of the table, with a dish on it now and then."""
    kind = str(rng.choice(TABLES, p=(0.35, 0.15, 0.15, 0.15, 0.1, 0.1)))
    base = np.full(3, rng.uniform(0.6, 0.93)) * np.exp(rng.normal(size=3) * 0.03)
    if rng.random() < 0.45:
        base = _colour(rng)
        base += rng.uniform(0, 1) * (base.mean() - base)  # cloth and wood are duller than beads
    y, x = np.mgrid[:size, :size] / radius
    turn = rng.uniform(0, np.pi)
    u, v = x * np.cos(turn) + y * np.sin(turn), y * np.cos(turn) - x * np.sin(turn)
    noise = rng.normal(size=(size, size))
    if kind == "paper":
        texture = 0.01 * gaussian_filter(noise, 1.5) * 4
    elif kind == "linen":
        often = rng.uniform(20, 70)
        texture = 0.10 * rng.uniform(0.3, 1) * (
            np.sin(often * u) + np.sin(often * v)
        ) + 0.2 * gaussian_filter(noise, 1)
    elif kind == "wood":
        texture = rng.uniform(0.1, 0.5) * gaussian_filter(noise, (1.2, 25)) * 6
    elif kind == "felt":
        texture = rng.uniform(0.2, 0.6) * gaussian_filter(noise, rng.uniform(0.8, 2.5)) * 2
    elif kind == "print":
        blobs = gaussian_filter(noise, rng.uniform(5, 14))
        texture = np.where(blobs > np.percentile(blobs, rng.uniform(50, 85)), rng.uniform(-1, 0.6), 0)
    else:
        texture = rng.uniform(0.1, 0.6) * np.sign(np.sin(rng.uniform(4, 18) * u))
    table = np.clip(base * np.exp(texture)[..., None], 0.004, 0.95)
    if kind in ("print", "stripes"):
        other = _colour(rng)
        table = np.where(
            (texture > 0.01)[..., None] == (rng.random() < 0.5), table, np.clip(other, 0.004, 0.95)
        )
    if rng.random() < 0.4:
        away = np.hypot(
            x - size / 2 / radius + rng.normal() * 0.1, y - size / 2 / radius + rng.normal() * 0.1
        )
        ring = rng.uniform(1.25, 1.9)
        if rng.random() < 0.5:
            table = np.where(
                (away < ring)[..., None], _colour(rng) if rng.random() < 0.5 else table * 0.93, table
            )
        lip = np.exp(-(((away - ring) / rng.uniform(0.02, 0.06)) ** 2))[..., None]
        table = table * (1 - 0.8 * lip) + lip * rng.uniform(0.2, 0.9)
    return np.asarray(table)


def _lit(
    rng: np.random.Generator, relief: _Relief, body: FloatArray, table: FloatArray, finish: str
) -> FloatArray:
    """Linear light of the scene under one or two lamps and a sky."""
    beads = relief.bead >= 0
    open_sky = _sky(relief.height)
    light = open_sky[..., None] * _lamp_colour(rng) * rng.uniform(0.15, 1.0)
    gloss = np.zeros((*relief.height.shape, 3))
    shiny = {"matte": 0.0, "chalk": 0.0, "satin": 0.15}.get(finish, rng.uniform(0.3, 1.0))
    see_through = {"transparent": rng.uniform(0.35, 0.8), "lined": rng.uniform(0.5, 1.0)}.get(finish, 0.0)
    for _ in range(1 if rng.random() < 0.6 else 2):
        azimuth, up = rng.uniform(0, 2 * np.pi), rng.uniform(0.35, 1.3)
        colour, soft = _lamp_colour(rng) * rng.uniform(0.2, 1.0), rng.uniform(0.02, 0.3)
        sun = np.zeros(relief.height.shape)
        for _ in range(_SUN_SAMPLES):
            sun += _reached(relief.height, azimuth + rng.normal() * soft, up + rng.normal() * soft * 0.6)
        sun /= _SUN_SAMPLES
        sun = 1 - (1 - sun) * np.where(beads, 1, 1 - 0.7 * see_through)  # clear glass casts a thin shadow
        towards = np.array([np.cos(up) * np.cos(azimuth), np.cos(up) * np.sin(azimuth), np.sin(up)])
        facing = np.clip(relief.normal @ towards, 0, 1)
        light = light + (sun * facing)[..., None] * colour
        half = towards + np.array([0, 0, 1])
        half /= np.linalg.norm(half)
        sharp = 12 if finish == "satin" else rng.uniform(40, 300)
        gloss += ((np.clip(relief.normal @ half, 0, 1) ** sharp) * sun * shiny)[..., None] * colour
    # what neighbours send on, strongest where the sky is hidden
    sent = gaussian_filter(body * light, (6, 6, 0))
    light = light + (1 - open_sky)[..., None] * sent * rng.uniform(0.3, 0.9)
    flat = body * light
    if see_through:
        flat = _glass(rng, relief, flat, body, table * light, see_through, finish == "lined")
    if finish == "metallic":
        # a mirror for a world that is bright above and dark beside, in the metal's colour
        world = np.clip(
            relief.normal[..., 2] + 0.4 * relief.normal[..., 0] * rng.normal(), 0, 1
        ) ** rng.uniform(2, 6)
        flat = np.where(
            beads[..., None], 0.35 * flat + world[..., None] * body * light * rng.uniform(0.6, 1.6), flat
        )
    # a glaze mirrors the sky at its rim (Fresnel, after Schlick)
    rim = (0.04 + 0.96 * (1 - np.clip(relief.normal[..., 2], 0, 1)) ** 5) * open_sky * shiny * 0.5
    coated = flat + gloss * 0.6 + rim[..., None] * light.mean(axis=(0, 1))
    return np.asarray(np.where(beads[..., None], coated, flat))


def _glass(
    rng: np.random.Generator,
    relief: _Relief,
    flat: FloatArray,
    body: FloatArray,
    below: FloatArray,
    clear: float,
    lined: bool,
) -> FloatArray:
    """See-through beads: the table through coloured glass, bright where light gathers, dark at the rim."""
    upright = np.clip(relief.normal[..., 2], 0, 1)
    tint = body ** rng.uniform(0.4, 1.0)
    bent = 6 * relief.normal[..., :2]
    rows, columns = np.mgrid[: len(below), : len(below)]
    places = rows - bent[..., 1], columns - bent[..., 0]
    through = np.stack(
        [map_coordinates(below[..., c], places, order=1, mode="nearest") for c in range(3)], axis=-1
    )
    gathered = np.exp(rng.uniform(0.5, 1.5) * (relief.normal[..., :2] @ rng.normal(size=2)))
    glass = tint * through * (0.3 + 0.7 * upright[..., None]) * gathered[..., None]
    if lined:
        # a shell of clear glass round a mirroring tube, whose streak of light follows each bead
        if rng.random() < 0.6:
            glass = glass / np.maximum(tint, 0.05) * rng.uniform(0.5, 0.95)
        turned = rng.uniform(0, 2 * np.pi, relief.bead.max() + 2)[relief.bead]
        aside = relief.normal[..., 0] * np.cos(turned) + relief.normal[..., 1] * np.sin(turned)
        streak = np.exp(-((aside / rng.uniform(0.08, 0.35)) ** 2))
        tube = flat * (rng.uniform(0.15, 0.7) + rng.uniform(0.5, 2.5) * streak[..., None])
        within, soft = rng.uniform(0.4, 0.85), rng.uniform(0.03, 0.15)
        share = rng.uniform(0.7, 1.0) / (1 + np.exp(-(upright - within) / soft))[..., None]
        glass = share * tube + (1 - share) * glass
    mixed = clear * glass + (1 - clear) * flat
    return np.where((relief.bead >= 0)[..., None], mixed, flat)


def _lamp_colour(rng: np.random.Generator) -> FloatArray:
    """Linear colour of a lamp, from warm to cool, mean 1."""
    warm = rng.normal() * 0.3
    colour = np.exp(np.array([warm, 0.0, -warm * rng.uniform(0.8, 1.4)]))
    return np.asarray(colour / colour.mean())


def _shifted(height: FloatArray, dx: int, dy: int) -> FloatArray:
    """The relief seen from each pixel at an offset; the table, height 0, beyond the frame."""
    rows, columns = height.shape
    moved = np.zeros_like(height)
    to_y, from_y = slice(max(0, -dy), min(rows, rows - dy)), slice(max(0, dy), min(rows, rows + dy))
    to_x, from_x = (
        slice(max(0, -dx), min(columns, columns - dx)),
        slice(max(0, dx), min(columns, columns + dx)),
    )
    moved[to_y, to_x] = height[from_y, from_x]
    return moved


def _sky(height: FloatArray) -> FloatArray:
    """Share of the sky each pixel sees: one less the squared sine of the horizon, over eight directions."""
    seen = np.zeros_like(height)
    for azimuth in np.arange(8) * np.pi / 4:
        slope = np.zeros_like(height)
        for step in _STEPS_PX[::3]:
            dx, dy = round(step * np.cos(azimuth)), round(step * np.sin(azimuth))
            slope = np.maximum(slope, (_shifted(height, dx, dy) - height) / step)
        seen += 1 - slope**2 / (1 + slope**2)
    return seen / 8


def _reached(height: FloatArray, azimuth: float, up: float) -> FloatArray:
    """Where a lamp in that direction is not hidden by the relief."""
    rise = np.tan(np.clip(up, 0.15, 1.5))
    dark = np.zeros(height.shape, bool)
    tallest = float(height.max())
    for step in _STEPS_PX:
        if step * rise > tallest:
            break
        dx, dy = round(step * np.cos(azimuth)), round(step * np.sin(azimuth))
        dark |= _shifted(height, dx, dy) > height + np.hypot(dx, dy) * rise + 0.3
    return 1.0 - dark


def _photographed(rng: np.random.Generator, linear: FloatArray) -> npt.NDArray[np.float32]:
    """The scene as a photo of it decodes: exposure, blur, noise, a phone's look, eight bits."""
    top = float(np.percentile(linear, 98))
    blur_px = rng.uniform(0.3, 1.3) if rng.random() < 0.7 else rng.uniform(1.3, 2.5)  # small heaps, enlarged
    seen = gaussian_filter(linear, (blur_px, blur_px, 0)) * rng.uniform(0.35, 1.15) / max(top, 1e-3)
    seen = seen + rng.normal(size=seen.shape) * np.sqrt(rng.uniform(0, 4e-4) * np.maximum(seen, 0) + 1e-6)
    code = linear_to_srgb(np.clip(seen, 0, 1))
    if rng.random() < 0.5:
        code = code + rng.uniform(0.1, 0.8) * (code - gaussian_filter(code, (1.5, 1.5, 0)))
        code = code + rng.uniform(-0.1, 0.15) * np.sin(2 * np.pi * np.clip(code, 0, 1)) * -0.5
    grey = code @ [0.299, 0.587, 0.114]
    colour = gaussian_filter(code - grey[..., None], (0.8, 0.8, 0))
    code = np.round(np.clip(grey[..., None] + colour, 0, 1) * 255) / 255
    return srgb_to_linear(code).astype(np.float32)
