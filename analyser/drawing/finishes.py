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
from analyser.imaging.gradients import cube_root

_Light = FloatArray

# All numbers below are shares of white light, or sines of angles where they say so. They were chosen by eye,
# with drawn ropes beside photographs of beads; the mean of each role, which is what a maker judges, does not
# hang on them, because ``paint`` sets it.

_GLOSS_SHARE = 0.6  # of a colour's weakest channel, at most, may be highlight: the rest stays the bead's own
_WHITEST = 0.97  # where shading is rolled off: just below white, so that a highlight still stands out
_LEAST_HEADROOM = 1.02  # a colour at white has this left to its lit side, or the roll-off would have no slope
_MOST_GAIN = 64.0  # upper end of the search for what makes up for the roll-off
_SAMPLE = 8000  # pixels that this gain is looked for on; the mean is then set on all of them

# A bead of plain glass: the room from all sides and the main light, more or less hidden by neighbours.
_SKY, _KEY = 0.42, 0.58
_KEY_IN_CREVICE = 0.35  # of the main light that its own scatter carries into a closed crevice
_NEIGHBOURS, _NEVER_BLACK = 0.03, 0.006  # a little light returns from neighbours: hardly any crevice is black
# A closed crevice keeps this of what mirrors and clear glass would show.
_METAL_IN_CREVICE, _GLASS_IN_CREVICE, _LAMP_IN_SHADOW = 0.05, 0.1, 0.2

_MATTE_LOBE, _MATTE_POWER = 0.03, 5  # etched glass keeps a faint, broad shine
_DULL_SINE = {
    "metallic": 0.24,
    "galvanised": 0.15,
}  # how soft the mirrored room is; galvanised coats are brighter
_CLEAR_COAT, _LINED_COAT = 1.15, 1.2  # gloss stands out more on clear glass, whose body is darker
_LINE_RADIUS = 0.34  # of a silver lining, in bead radii: the bore's wall
_LINE_PLAIN, _LINE_LIT = 0.8, 1.8
_LINED_BODY, _LINED_CORE, _LINED_EDGE = (
    0.55,
    0.9,
    0.10,
)  # colour sits in the bore, clear glass shows at the edge
_LINED_REACH = 1.25  # in bead radii: how far the colour in the bore is seen by refraction
_LUSTRE_COAT, _LUSTRE_SHEEN = 0.55, 0.16  # a pearly coat spreads its highlight
_FILM_SHEEN = 0.05
_BORE_RADIUS, _BORE_WIDTH, _BORE_DEPTH = 0.42, 0.10, 0.10  # the hole's wall in clear glass, in bead radii


def _unit(x: float, y: float, z: float) -> F32:
    return np.array([x, y, z], np.float32) / np.float32(np.sqrt(x * x + y * y + z * z))


# The room: a window at the main light, a smaller one opposite, and the half of the room that they light.
_UP, _RIGHT = _unit(0, 0, 1), _unit(1, 0, 0)
_BACK_LIGHT = _unit(0.62, -0.42, 0.66)
_BRIGHT_HALF = _unit(-0.34, 0.66, 0.67)


@dataclass(frozen=True, slots=True)
class _Window:
    """A lit rectangle: its direction's middle, its half width and height as sines, and how bright it is."""

    middle: F32
    wide: float
    high: float
    bright: float


_IN_GLASS = (_Window(KEY_LIGHT, 0.24, 0.32, 13.0), _Window(_BACK_LIGHT, 0.12, 0.30, 1.6))
_GLASS_EDGES = (0.1, 0.14)  # sines: glass mirrors a window with a nearly sharp edge
_IN_METAL = (_Window(KEY_LIGHT, 0.24, 0.34, 2.6), _Window(_BACK_LIGHT, 0.14, 0.36, 0.9))
_DIM_ROOM = 0.12  # what else a coat mirrors

# Schlick (1994) for glass of index 1.54; at most this, because the room near the horizon is mostly dark.
_MIRRORED_AT_NORMAL, _MIRRORED_AT_MOST = 0.045, 0.3

_SKY_FROM_BELOW = 0.62  # openness to the sky of a facet that is seen edge on
_SHEEN_POWER = 5  # of a pearly coat's lobe
# Clear glass: dim towards the lamp, bright on the side away from it, where it gathers the light.
_GLASS_DIM, _GLASS_FACING, _GLASS_FAR = 0.20, 0.34, 0.95
_FAR_REACHED = 1.1  # the far side is at its brightest a little before the rim
# A thin film: each channel's phase, in turns, moves with the angle of sight.
_FILM_PHASE = np.array([0.0, 0.33, 0.66], np.float32)
_FILM_DEPTH, _FILM_BY_ANGLE, _FILM_BY_SIDE = 0.30, 1.35, 0.35
# Metal mirrors a bright half of the room, a table below, and never quite nothing.
_HALF_BRIGHT, _TABLE_NEAR, _TABLE_FAR, _METAL_LEAST = 0.42, 0.30, 0.06, 0.03


@dataclass(frozen=True, slots=True, eq=False)
class Facing:
    """How the n pixels of one role face and what light reaches them; fields of ``scene.LitSurface``."""

    cell: npt.NDArray[np.int32]
    core: F32
    open_sky: F32
    lit: F32


@dataclass(frozen=True, slots=True, eq=False)
class Shaded:
    """What a finish returns of n pixels, whatever its colour.

    Attributes
    ----------
    own : float32 array (n, 1) or (n, 3)
        Light in the bead's own colour, scaled to a mean of 1.
    gloss : float32 array (n,)
        Light in the lamp's.
    amount : float
        The mean of ``gloss``.
    """

    own: F32
    gloss: F32
    amount: float


def shaded(facing: Facing, finish: str | None) -> Shaded:
    """What a finish returns of pixels; to be ``coloured`` again and again.

    Parameters
    ----------
    facing : Facing
        n pixels.
    finish : str or None
        One of ``analyser.stock.bead.FINISHES``; None counts as opaque.
    """
    if len(facing.core) == 0:
        return Shaded(np.zeros((0, 1), np.float32), np.zeros(0, np.float32), 0.0)
    own, gloss = returned(facing, finish)
    parts = own[:, None] if own.ndim == 1 else own
    even = [parts[:, part] / _mean(parts[:, part]) for part in range(parts.shape[1])]
    return Shaded(np.stack(even, axis=1), gloss, float(_mean(gloss)[0]))


def coloured(seen: Shaded, linear: FloatArray) -> F32:
    """Linear light of shaded pixels in a colour.

    Parameters
    ----------
    seen : Shaded
        n pixels.
    linear : array, shape (3,)
        The colour their mean is to be, linear sRGB in [0, 1].

    Returns
    -------
    float32 array (n, 3), in [0, 1]
    """
    own, gloss, amount = seen.own, seen.gloss, seen.amount
    if len(own) == 0:
        return np.zeros((0, 3), np.float32)
    colour = np.clip(np.asarray(linear, np.float32), 0.0, 1.0)
    tint = np.minimum(1.0, _GLOSS_SHARE * colour / amount) if amount > 1e-9 else np.zeros_like(colour)
    base = colour - tint * np.float32(amount)
    light = np.empty((len(own), 3), np.float32)
    for channel in range(3):
        # By channel: where one nears its top, as red does in a vivid orange, the others keep the modelling.
        top = max(_WHITEST / max(float(base[channel]), 1e-3), _LEAST_HEADROOM)
        light[:, channel] = _shouldered(own[:, min(channel, own.shape[1] - 1)], top) * base[channel]
    light += gloss[:, None] * tint
    for _ in range(2):
        # What clipping at white took is given back over the rest.
        np.minimum(light, 1.0, out=light)
        light *= colour / np.maximum(_mean(light), 1e-9)
    return np.minimum(light, 1.0, out=light)


def _shouldered(own: _Light, top: float) -> _Light:
    """Shading (n,) of mean 1 rolled off below ``top``; crevices keep their depth."""
    if float(own.max()) < 0.5 * top:
        return own
    sample = own[:: max(1, len(own) // _SAMPLE)]
    low, high = 1.0, _MOST_GAIN
    for _ in range(20):
        gain = float(np.sqrt(low * high))
        low, high = (gain, high) if float(_rolled(sample, gain, top).mean()) < 1.0 else (low, gain)
    rolled = _rolled(own, low, top)
    return np.asarray(rolled / _mean(rolled), np.float32)


def _rolled(own: _Light, gain: float, top: float) -> F32:
    """A curve of slope ``gain`` at nought that tends to ``top``; its middle is nearly straight."""
    lifted = own * np.float32(gain)
    over = lifted / np.float32(top)
    return np.asarray(lifted / cube_root(1.0 + over * over * over), np.float32)


def _mean(values: _Light) -> F32:
    """Mean over the first axis, summed in double precision."""
    parts = 1 if values.ndim == 1 else values.shape[1]
    return np.array(cv2.mean(np.ascontiguousarray(values).reshape(-1, 1, parts))[:parts], np.float32)


def returned(facing: Facing, finish: str | None) -> tuple[_Light, _Light]:
    """Light returned by a finish: in the bead's own colour (n,) or (n, 3), and in the lamp's (n,)."""
    cell, core, sky, lit = facing.cell, facing.core, facing.open_sky, facing.lit
    room = _room()
    soft = (
        _NEIGHBOURS * sky
        + _SKY * room.sky[cell] * sky
        + _KEY * room.key[cell] * lit * (_KEY_IN_CREVICE + (1 - _KEY_IN_CREVICE) * sky)
        + _NEVER_BLACK
    )
    clear = (room.window[cell] * lit + room.second[cell]) * sky
    glass = _GLASS_IN_CREVICE + (1 - _GLASS_IN_CREVICE) * sky
    match finish:
        case "matte":
            return soft, _MATTE_LOBE * room.key[cell] ** _MATTE_POWER * lit * sky
        case "metallic" | "galvanised":
            bright, lamps = _metal(_DULL_SINE[finish])
            seen = bright[cell] + lamps[cell] * (_LAMP_IN_SHADOW + (1 - _LAMP_IN_SHADOW) * lit)
            return seen * (_METAL_IN_CREVICE + (1 - _METAL_IN_CREVICE) * sky), np.zeros_like(sky)
        case "transparent":
            return _through(room, facing) * glass, _CLEAR_COAT * clear
        case "silver-lined":
            shape = np.exp(-np.square(np.square(core / _LINE_RADIUS)))
            line = shape * (_LINE_PLAIN + _LINE_LIT * room.key[cell] ** 2)
            return (_through(room, facing) + line) * glass, _LINED_COAT * clear
        case "colour-lined":
            vivid = np.clip(_LINED_REACH - core, 0.0, 1.0)
            return (_LINED_BODY + _LINED_CORE * vivid) * soft, clear + _LINED_EDGE * (1.0 - vivid) * sky
        case "lustre":
            return soft, _LUSTRE_COAT * clear + _LUSTRE_SHEEN * room.sheen[cell] * lit * sky
        case "iridescent":
            return soft[:, None] * room.film[cell], clear + _FILM_SHEEN * room.sheen[cell] * lit * sky
    return soft, clear


def _through(room: _Room, facing: Facing) -> F32:
    """Clear glass: light gathers on the side away from the lamp, the hole's wall shows as a darker line."""
    bore = np.exp(-np.square((facing.core - _BORE_RADIUS) / _BORE_WIDTH))
    return np.asarray(room.through[facing.cell] - _BORE_DEPTH * bore, np.float32)


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
    fresnel = _MIRRORED_AT_NORMAL + (1 - _MIRRORED_AT_NORMAL) * (1.0 - facing) ** 5
    fresnel = np.minimum(fresnel, _MIRRORED_AT_MOST)
    away = np.clip(-(normal[:, :2] @ KEY_LIGHT[:2]) * _FAR_REACHED, 0.0, 1.0)
    phase = _FILM_PHASE + (_FILM_BY_ANGLE * facing + _FILM_BY_SIDE * normal[:, 0])[:, None]
    window, second = (_lamp(ray, one, edge) for one, edge in zip(_IN_GLASS, _GLASS_EDGES, strict=True))
    through = _GLASS_DIM + _GLASS_FACING * facing + _GLASS_FAR * away**1.5 * np.sqrt(facing)
    return _Room(
        sky=_SKY_FROM_BELOW + (1 - _SKY_FROM_BELOW) * facing,
        key=np.maximum(normal @ KEY_LIGHT, 0.0),
        window=fresnel * window,
        second=fresnel * (second + _DIM_ROOM),
        sheen=np.maximum(ray @ KEY_LIGHT, 0.0) ** _SHEEN_POWER,
        through=np.asarray(through, np.float32),
        film=np.asarray(1.0 + _FILM_DEPTH * np.cos(2.0 * np.pi * phase), np.float32),
    )


@cache
def _metal(dull: float) -> tuple[F32, F32]:
    """The room in a metal: its bright half, the dark line of its edge and the table below; and its lamps."""
    _, ray = _sphere()
    height = ray @ _BRIGHT_HALF
    above = np.clip(height / (2.0 * dull) + 0.5, 0.0, 1.0)
    bright = _HALF_BRIGHT + (1 - _HALF_BRIGHT) * np.clip(height, 0.0, 1.0)
    table = _TABLE_FAR + _TABLE_NEAR * np.clip(-height, 0.0, 1.0) ** 0.8
    lamps = sum((_lamp(ray, one, dull) for one in _IN_METAL), np.zeros(len(ray), np.float32))
    return np.asarray(above * bright + (1.0 - above) * table + _METAL_LEAST, np.float32), lamps


def _lamp(ray: F32, window: _Window, edge: float) -> F32:
    """A window as rays (n, 3) meet it, its soft edge as the sine of an angle."""
    side = _RIGHT - (_RIGHT @ window.middle) * window.middle
    side /= np.linalg.norm(side)
    upright = np.cross(window.middle, side).astype(np.float32)
    inside = np.clip((window.wide - np.abs(ray @ side)) / edge + 0.5, 0.0, 1.0)
    inside *= np.clip((window.high - np.abs(ray @ upright)) / edge + 0.5, 0.0, 1.0)
    return np.asarray(window.bright * inside * (ray @ window.middle > 0.0), np.float32)
