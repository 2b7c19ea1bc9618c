"""Colour chips: a little pile of beads in a colour, to lie on any ground.

As with the rope, the mean over the beads of a pile is the colour given.
"""

from __future__ import annotations

from functools import cache

import cv2
import numpy as np
import numpy.typing as npt

from analyser.arrays import FloatArray
from analyser.drawing import finishes, scene
from analyser.drawing.rope_view import BeadLook, bead_solid
from analyser.drawing.scene import SUPERSAMPLING, LitSurface, PlacedSolid
from analyser.imaging import encoding

U8Array = npt.NDArray[np.uint8]

# Beads in the rings of a heap from the table up: ring radius and height in bead diameters.
_HEAP = (
    (14, 2.3, 0.0),
    (10, 1.55, 0.25),
    (7, 1.1, 0.75),
    (4, 0.6, 1.15),
    (1, 0.0, 1.5),
)
_SHADE = 0.55  # of the shadow round the pile at its darkest


def pile(look: BeadLook, width_px: int = 132, height_px: int = 108) -> U8Array:
    """A pile of about forty beads.

    Parameters
    ----------
    look : BeadLook
        Colours beyond sRGB are drawn as the nearest within it.
    width_px, height_px : int

    Returns
    -------
    uint8 array (height_px, width_px, 4)
        sRGB with alpha: nothing but the beads and their shadow.
    """
    seen = _heap(width_px, height_px)
    big = SUPERSAMPLING
    canvas = np.zeros((height_px * big * width_px * big, 3), np.float32)
    canvas[seen.at] = finishes.coloured(_shaded(width_px, height_px, look.finish), look.linear)
    beads = cv2.resize(
        canvas.reshape(height_px * big, width_px * big, 3),
        (width_px, height_px),
        interpolation=cv2.INTER_AREA,
    )
    alpha = _alpha(width_px, height_px)
    shown = encoding.srgb_u8(beads / np.maximum(alpha, 1e-4)[..., None])
    return np.dstack([shown, np.rint(alpha * 255.0).astype(np.uint8)])


@cache
def _alpha(width_px: int, height_px: int) -> FloatArray:
    """How much beads and their shadow cover of each pixel."""
    seen = _heap(width_px, height_px)
    shade = (1.0 - seen.cover) * _SHADE * np.clip(1.0 - seen.ground_light, 0.0, 1.0)
    return np.asarray(seen.cover + shade * _fading(width_px, height_px))


@cache
def _shaded(width_px: int, height_px: int, finish: str | None) -> finishes.Shaded:
    """The heap in a finish, whatever its colour."""
    seen = _heap(width_px, height_px)
    return finishes.shaded(finishes.Facing(seen.cell, seen.core, seen.open_sky, seen.lit), finish)


def _fading(width_px: int, height_px: int) -> FloatArray:
    """1 in the middle, 0 at the edges, where a shadow must not end in a line."""
    across = 1.0 - np.linspace(-1.0, 1.0, width_px) ** 6
    return np.asarray((1.0 - np.linspace(-1.0, 1.0, height_px) ** 6)[:, None] * across)


@cache
def _heap(width_px: int, height_px: int) -> LitSurface:
    hand = np.random.default_rng(11)
    solid = bead_solid()
    size = solid.diameter_mm
    placed = []
    for number, radius, height in _HEAP:
        start = hand.uniform(0.0, 2.0 * np.pi)
        for k in range(number):
            angle = start + 2.0 * np.pi * (k + hand.uniform(-0.22, 0.22)) / number
            out = size * (radius + hand.uniform(-0.16, 0.16))
            axis = hand.normal(0.0, 1.0, 3)
            axis /= np.linalg.norm(axis)
            place = (1.12 * out * np.cos(angle), 0.9 * out * np.sin(angle), size * (0.5 + height))
            placed.append(
                PlacedSolid(
                    solid,
                    (float(place[0]), float(place[1]), float(place[2])),
                    (float(axis[0]), float(axis[1]), float(axis[2])),
                    "pile",
                )
            )
    across_mm = 2.0 * 1.12 * size * (_HEAP[0][1] + 0.75)
    up_mm = 2.0 * 0.9 * size * (_HEAP[0][1] + 0.75)
    px_per_mm = min(width_px / across_mm, height_px / up_mm)
    return scene.surface(placed, width_px=width_px, height_px=height_px, px_per_mm=px_per_mm, floor_mm=0.0)
