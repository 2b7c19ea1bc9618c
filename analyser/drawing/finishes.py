"""How light comes back from a bead of each finish, as numbers to be multiplied with its colour.

``paint`` gives every pixel of one role its linear light so that **the mean over those pixels is the colour
given**: a stock colour is the mean look of a pile, gloss and inner shadow included, so a picture in that
colour must have that mean, and shading may only redistribute it. Where the lit side of a light bead would
pass white, it is rolled off below it and the rest lifted, as film does.

The viewer is far away and straight above, so what a surface shows of the room depends on its normal alone:
each finish is a table over the half sphere of normals, looked up once a pixel. The shapes of highlights are
drawn after photographs of beads; they are pictures, not radiometry.

Sources
-------
Schlick (1994), Computer Graphics Forum 13(3), 233-246: reflectance of a glossy coat by angle.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import cv2
import numpy as np
import numpy.typing as npt

from analyser.arrays import FloatArray
from analyser.drawing.scene import HALF_SPHERE, KEY_LIGHT
from analyser.drawing.solids import F32

_Light = FloatArray

_GLOSS_SHARE = 0.6  # of a colour's weakest channel, at most, may be highlight: the rest stays the bead's own


def _unit(x: float, y: float, z: float) -> F32:
    return np.array([x, y, z], np.float32) / np.float32(np.sqrt(x * x + y * y + z * z))


_UP, _RIGHT = _unit(0, 0, 1), _unit(1, 0, 0)
_BACK_LIGHT = _unit(0.62, -0.42, 0.66)
_BRIGHT_HALF = _unit(-0.34, 0.66, 0.67)


@dataclass(frozen=True, slots=True, eq=False)
class Facing:
    """How the n pixels of one role face and what light reaches them; fields of ``scene.Surface``."""

    cell: npt.NDArray[np.int32]
    core: F32
    open_sky: F32
    lit: F32


def paint(facing: Facing, linear: FloatArray, finish: str | None) -> F32:
    """Linear light of the pixels of one role.

    Parameters
    ----------
    facing : Facing
        n pixels.
    linear : array, shape (3,)
        The colour their mean is to be, linear sRGB in [0, 1].
    finish : str or None
        One of ``analyser.stock.bead.FINISHES``; None counts as opaque.

    Returns
    -------
    float32 array (n, 3), in [0, 1]
    """
    if len(facing.core) == 0:
        return np.zeros((0, 3), np.float32)
    colour = np.clip(np.asarray(linear, np.float32), 0.0, 1.0)
    own, gloss = returned(facing, finish)
    amount = float(_mean(gloss)[0])
    tint = np.minimum(1.0, _GLOSS_SHARE * colour / amount) if amount > 1e-9 else np.zeros_like(colour)
    base = colour - tint * np.float32(amount)
    own = own[:, None] if own.ndim == 1 else own
    light = np.empty((len(own), 3), np.float32)
    for channel in range(3):
        # By channel: where one nears its top, as red does in a vivid orange, the others keep the modelling.
        top = max(0.97 / max(float(base[channel]), 1e-3), 1.02)
        light[:, channel] = _shouldered(own[:, min(channel, own.shape[1] - 1)], top) * base[channel]
    light += gloss[:, None] * tint
    for _ in range(2):
        # What clipping at white took is given back over the rest.
        np.minimum(light, 1.0, out=light)
        light *= colour / np.maximum(_mean(light), 1e-9)
    return np.minimum(light, 1.0, out=light)


def _shouldered(own: _Light, top: float) -> _Light:
    """Shading (n,) scaled to a mean of 1 and rolled off below ``top``; crevices keep their depth."""
    own = own / _mean(own)
    if float(own.max()) < 0.5 * top:
        return own
    sample = own[:: max(1, len(own) // 8000)]
    low, high = 1.0, 64.0
    for _ in range(20):
        gain = float(np.sqrt(low * high))
        low, high = (gain, high) if float(_rolled(sample, gain, top).mean()) < 1.0 else (low, gain)
    rolled = _rolled(own, low, top)
    return np.asarray(rolled / _mean(rolled), np.float32)


def _rolled(own: _Light, gain: float, top: float) -> F32:
    """A curve of slope ``gain`` at nought that tends to ``top``; its middle is nearly straight."""
    lifted = own * np.float32(gain)
    over = lifted / np.float32(top)
    return np.asarray(lifted / np.cbrt(1.0 + over * over * over), np.float32)


def _mean(values: _Light) -> F32:
    """Mean over the first axis, summed in double precision."""
    parts = 1 if values.ndim == 1 else values.shape[1]
    return np.array(cv2.mean(np.ascontiguousarray(values).reshape(-1, 1, parts))[:parts], np.float32)


def returned(facing: Facing, finish: str | None) -> tuple[_Light, _Light]:
    """Light returned by a finish: in the bead's own colour (n,) or (n, 3), and in the lamp's (n,)."""
    cell, core, sky, lit = facing.cell, facing.core, facing.open_sky, facing.lit
    room = _room()
    # A little light always returns from neighbours: hardly any crevice between beads is black.
    soft = (
        0.03 * sky + 0.42 * room.sky[cell] * sky + 0.58 * room.key[cell] * lit * (0.35 + 0.65 * sky) + 0.006
    )
    clear = (room.window[cell] * lit + room.second[cell]) * sky
    match finish:
        case "matte":
            return soft, 0.03 * room.key[cell] ** 5 * lit * sky
        case "metallic" | "galvanised":
            bright, lamps = _metal(0.24 if finish == "metallic" else 0.15)
            return (bright[cell] + lamps[cell] * (0.2 + 0.8 * lit)) * (0.05 + 0.95 * sky), np.zeros_like(sky)
        case "transparent":
            return _through(room, facing) * (0.1 + 0.9 * sky), 1.15 * clear
        case "silver-lined":
            line = np.exp(-np.square(np.square(core / 0.34))) * (0.8 + 1.8 * room.key[cell] ** 2)
            return (_through(room, facing) + line) * (0.1 + 0.9 * sky), 1.2 * clear
        case "colour-lined":
            vivid = np.clip(1.25 - core, 0.0, 1.0)
            return (0.55 + 0.9 * vivid) * soft, clear + 0.10 * (1.0 - vivid) * sky
        case "lustre":
            return soft, 0.55 * clear + 0.16 * room.sheen[cell] * lit * sky
        case "iridescent":
            return soft[:, None] * room.film[cell], clear + 0.05 * room.sheen[cell] * lit * sky
    return soft, clear


def _through(room: _Room, facing: Facing) -> F32:
    """Clear glass: light gathers on the side away from the lamp, the hole's wall shows as a darker line."""
    bore = np.exp(-np.square((facing.core - 0.42) / 0.10))
    return np.asarray(room.through[facing.cell] - 0.10 * bore, np.float32)


@dataclass(frozen=True, slots=True, eq=False)
class _Room:
    """What each normal shows of the room; tables (cells,), ``film`` (cells, 3)."""

    sky: F32  # openness to the sky
    key: F32  # cosine to the main light
    window: F32  # the main light mirrored in a clear coat
    second: F32  # the rest of the room mirrored in it
    sheen: F32  # a soft lobe about the mirror direction
    through: F32  # glass without its hole
    film: F32  # a thin film's colours


@cache
def _sphere() -> tuple[F32, F32]:
    """Normals of all cells and the directions they mirror, (cells, 3) each."""
    across = np.arange(-HALF_SPHERE, HALF_SPHERE + 1, dtype=np.float32) / np.float32(HALF_SPHERE - 1)
    x, y = (v.ravel() for v in np.meshgrid(across, across))
    normal = np.stack([x, y, np.sqrt(np.maximum(1.0 - x * x - y * y, 0.0))], axis=-1)
    normal /= np.maximum(np.linalg.norm(normal, axis=-1, keepdims=True), 1e-6)
    return normal, 2.0 * normal[:, 2:3] * normal - _UP


@cache
def _room() -> _Room:
    normal, ray = _sphere()
    facing = normal[:, 2]
    fresnel = np.minimum(0.045 + 0.955 * (1.0 - facing) ** 5, 0.3)
    away = np.clip(-(normal[:, :2] @ KEY_LIGHT[:2]) * 1.1, 0.0, 1.0)
    # Each channel's phase turns with the angle of sight.
    phase = np.array([0.0, 0.33, 0.66], np.float32) + (1.35 * facing + 0.35 * normal[:, 0])[:, None]
    return _Room(
        sky=0.62 + 0.38 * facing,
        key=np.maximum(normal @ KEY_LIGHT, 0.0),
        window=fresnel * 13.0 * _lamp(ray, KEY_LIGHT, 0.24, 0.32, 0.1),
        second=fresnel * (1.6 * _lamp(ray, _BACK_LIGHT, 0.12, 0.3, 0.14) + 0.12),
        sheen=np.maximum(ray @ KEY_LIGHT, 0.0) ** 5,
        through=np.asarray(0.20 + 0.34 * facing + 0.95 * away**1.5 * np.sqrt(facing), np.float32),
        film=np.asarray(1.0 + 0.30 * np.cos(2.0 * np.pi * phase), np.float32),
    )


@cache
def _metal(dull: float) -> tuple[F32, F32]:
    """The room in a metal: its bright half, the dark line of its edge and the table below; and its lamps."""
    _, ray = _sphere()
    height = ray @ _BRIGHT_HALF
    above = np.clip(height / (2.0 * dull) + 0.5, 0.0, 1.0)
    bright = 0.42 + 0.58 * np.clip(height, 0.0, 1.0)
    table = 0.06 + 0.30 * np.clip(-height, 0.0, 1.0) ** 0.8
    lamps = 2.6 * _lamp(ray, KEY_LIGHT, 0.24, 0.34, dull) + 0.9 * _lamp(ray, _BACK_LIGHT, 0.14, 0.36, dull)
    return np.asarray(above * bright + (1.0 - above) * table + 0.03, np.float32), lamps


def _lamp(ray: F32, middle: F32, wide: float, high: float, edge: float) -> F32:
    """A lit rectangle about a direction; half its width and height, and its soft edge, as sines of angles."""
    side = _RIGHT - (_RIGHT @ middle) * middle
    side /= np.linalg.norm(side)
    upright = np.cross(middle, side).astype(np.float32)
    inside = np.clip((wide - np.abs(ray @ side)) / edge + 0.5, 0.0, 1.0)
    inside *= np.clip((high - np.abs(ray @ upright)) / edge + 0.5, 0.0, 1.0)
    return np.asarray(inside * (ray @ middle > 0.0), np.float32)
