"""Drawn ropes whose truth is known exactly, for measuring the audit.

Beads are ellipsoids set on a tube by the formulas of four stitches, lit by a sun-like key light, a soft
fill that is dimmer towards the tube's inside, and a gloss. Shading is simple, the truth exact: which bead
covers a pixel, its colour, the light, the faults. Nothing here is measured from a photograph.

Geometry
--------
``chenille``: accents of round n at 120 k + 60 (n mod 2) degrees, six body beads half a rise lower.
``rows``: three stitches of body, accent, body a round; accents stand in rows along the rope.
``rings``: eight columns, every third or fourth round accent, level or climbing.
``winding``: eight columns, every third or fourth bead of a round accent, one column on each round.
``spiral``: loops of five beads, the middle one accent, turning round a core.
Millimetres throughout; the bead is 2.1 mm across and 1.5 mm long.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

import cv2
import numpy as np
import numpy.typing as npt

from analyser.arrays import FloatArray, IntArray

DIAMETER, LENGTH = 2.1, 1.5
KINDS = ("chenille", "rows", "rings", "spiral")
LIGHTS = ("even", "window", "falloff", "mixed", "warm")
LAYOUTS = ("straight", "bow", "s", "ring")
BODY, ACCENT, THIRD = 0, 1, 2


@dataclass
class Places:
    """Beads on a straight tube: mm along, radians round, mm from the axis, hole direction, role, round."""

    along: FloatArray
    angle: FloatArray
    out: FloatArray
    axis: FloatArray  # (n, 3) in (around, along, out)
    role: IntArray
    round: IntArray
    part: npt.NDArray[np.str_]
    length: float


@dataclass
class Fault:
    """One fault put into a rope."""

    kind: str
    role: str
    at: float
    bead: int = -1
    pixel: tuple[float, float] = (0.0, 0.0)
    visible: float = 0.0
    de00: float = 0.0


@dataclass
class Rope:
    """A drawn photo and its truth."""

    linear: npt.NDArray[np.float32]
    ids: npt.NDArray[np.int32]
    centreline: FloatArray
    bead_px: float
    faults: list[Fault] = field(default_factory=list)

    def srgb_u8(self) -> npt.NDArray[np.uint8]:
        """The photo, eight bits, sRGB."""
        light = np.clip(self.linear, 0, 1)
        coded = np.where(
            light <= 0.0031308, 12.92 * light, 1.055 * np.maximum(light, 1e-9) ** (1 / 2.4) - 0.055
        )
        return np.asarray(np.round(coded * 255), np.uint8)

    def jpeg(self, quality: int = 90) -> bytes:
        """The photo as a JPEG file."""
        return bytes(cv2.imencode(".jpg", self.srgb_u8()[..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, quality])[1])


Row = tuple[float, float, float, tuple[float, float, float], int, int, str]
"""A bead of a stitch: mm along, radians round, mm from the axis, hole direction, role, round, part."""

CHENILLE_RISE, ROWS_RISE, COLUMN_RISE = 2.05, 2.22, 1.56
"""Millimetres from one round to the next; in rings and spirals beads stand on one another, 0.06 apart."""

AROUND, ALONG = (1.0, 0.0, 0.0), (0.0, 1.0, 0.0)


def places(kind: str, rounds: int, *, every: int = 4, climb: float = 0.0) -> Places:
    """The beads of a stitch on a straight tube.

    Parameters
    ----------
    kind : str
        One of ``KINDS``, or ``winding``.
    rounds : int
    every : int
        Of ``rings``: one round in this many is of accents.
    climb : float
        Of ``rings``: how much of a round's rise a round climbs on its way about the tube, 0 for level.

    Raises
    ------
    ValueError
        If there is no such stitch.
    """
    if kind == "chenille":
        rows = list(_chenille(rounds))
    elif kind == "rows":
        rows = list(_rows(rounds))
    elif kind == "rings":
        rows = list(_rings(rounds, every, climb))
    elif kind == "winding":
        rows = list(_winding(rounds, every))
    elif kind == "spiral":
        rows = list(_spiral(rounds))
    else:
        raise ValueError(f"no stitch {kind!r}; there are {', '.join((*KINDS, 'winding'))}")
    along, angle, out, axes, role, round_, part = zip(*rows, strict=True)
    axis = np.array(axes, float)
    axis /= np.linalg.norm(axis, axis=1)[:, None]
    shift = -min(along)
    return Places(
        np.array(along) + shift,
        np.array(angle),
        np.array(out),
        axis,
        np.array(role, np.intp),
        np.array(round_, np.intp),
        np.array(part),
        float(max(along) + shift if kind != "rows" else rounds * ROWS_RISE),
    )


def _chenille(rounds: int) -> Iterator[Row]:
    for column in range(6):
        for k in range(2):
            yield (k * LENGTH, np.deg2rad(60 * column), 2.1, ALONG, ACCENT, 0, "base")
    start = 2.0
    for n in range(1, rounds + 1):
        s = start + n * CHENILLE_RISE
        for k in range(3):
            yield (s, np.deg2rad(120 * k + 60 * (n % 2)), 2.7, AROUND, ACCENT, n, "pattern")
        for k in range(6):
            lean = 0.75 if (k + n) % 2 else -0.75
            half_lower = s - CHENILLE_RISE / 2
            yield (half_lower, np.deg2rad(30 + 60 * k), 2.25, (lean, 0.66, 0.1), BODY, n, "pattern")
    last = rounds + 1
    for k in range(3):
        turn = np.deg2rad(120 * k + 60 * (last % 2))
        yield (start + last * CHENILLE_RISE, turn, 2.5, AROUND, ACCENT, last, "closing")


def _rows(rounds: int) -> Iterator[Row]:
    for n in range(rounds):
        for turn in (0, 120, 240):
            yield (n * ROWS_RISE + 0.6, np.deg2rad(turn), 2.72, AROUND, ACCENT, n, "pattern")
            for side, lean in ((-38, -0.8), (38, 0.8)):
                yield (n * ROWS_RISE, np.deg2rad(turn + side), 2.3, (lean, 0.5, 0.2), BODY, n, "pattern")


def _rings(rounds: int, every: int, climb: float) -> Iterator[Row]:
    for n in range(rounds):
        role = ACCENT if n % every == every - 1 else BODY
        for k in range(8):
            along = n * COLUMN_RISE + climb * k / 8 * COLUMN_RISE
            yield (along, np.deg2rad(45 * k), 2.76, ALONG, role, n, "pattern")


def _winding(rounds: int, every: int) -> Iterator[Row]:
    for n in range(rounds):
        for k in range(8):
            role = ACCENT if (k + n) % every == 0 else BODY
            yield (n * COLUMN_RISE, np.deg2rad(45 * k), 2.76, ALONG, role, n, "pattern")


def _spiral(rounds: int) -> Iterator[Row]:
    for n in range(rounds):
        yield (n * COLUMN_RISE, 0.0, 0.0, ALONG, BODY, n, "pattern")
        for j, out in enumerate((1.75, 2.35, 2.6, 2.35, 1.75)):
            turn = np.deg2rad(57 * n + 9 * (j - 2))
            role = ACCENT if j == 2 else BODY
            yield (n * COLUMN_RISE + (j - 2) * 1.4, turn, out, ALONG, role, n, "pattern")


def centreline(layout: str, length: float, rng: np.random.Generator) -> FloatArray:
    """x, y in mm along a layout of about that length, shape (400, 2), centred on the origin."""
    t = np.linspace(0, 1, 400)
    if layout == "straight":
        turn = np.deg2rad(rng.uniform(-6, 6)) * np.ones_like(t)
    elif layout == "bow":
        turn = np.deg2rad(rng.uniform(25, 50)) * (0.5 - t) * 2
    elif layout == "s":
        turn = np.deg2rad(rng.uniform(25, 40)) * np.cos(2 * np.pi * t)
    elif layout == "ring":
        turn = np.deg2rad(rng.uniform(0, 360)) + np.deg2rad(rng.uniform(285, 310)) * t
    else:
        raise ValueError(f"no layout {layout!r}; there are {', '.join(LAYOUTS)}")
    step = length / (len(t) - 1)
    line = np.cumsum(np.column_stack([np.cos(turn), np.sin(turn)]) * step, axis=0)
    return np.asarray(line - (line.max(axis=0) + line.min(axis=0)) / 2)


def solid_beads(
    spots: Places,
    line: FloatArray,
    twist_deg: float,
    roll_deg: float,
    rng: np.random.Generator,
    wobble: float = 1.0,
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Centres in mm, unit hole axes and feet on the tube's axis, all (n, 3); z towards the camera."""
    n = len(spots.along)
    along = spots.along + rng.normal(0, 0.04 * wobble, n)
    angle = (
        spots.angle
        + np.deg2rad(twist_deg) * spots.along / 2.0
        + np.deg2rad(roll_deg)
        + rng.normal(0, 0.02 * wobble, n)
    )
    out = spots.out + rng.normal(0, 0.03 * wobble, n)
    steps = np.hypot(*np.diff(line, axis=0).T)
    gone = np.concatenate([[0], np.cumsum(steps)]) * (spots.length / steps.sum())
    x, y = np.interp(along, gone, line[:, 0]), np.interp(along, gone, line[:, 1])
    tangent = np.gradient(line, axis=0)
    tangent /= np.hypot(*tangent.T)[:, None]
    tx, ty = np.interp(along, gone, tangent[:, 0]), np.interp(along, gone, tangent[:, 1])
    norm = np.hypot(tx, ty)
    tx, ty = tx / norm, ty / norm
    beyond = np.maximum(along - gone[-1], 0) + np.minimum(along, 0)
    x, y = x + tx * beyond, y + ty * beyond
    t = np.column_stack([tx, ty, np.zeros(n)])
    side = np.column_stack([-ty, tx, np.zeros(n)])
    up = np.array([0.0, 0.0, 1.0])
    radial = np.cos(angle)[:, None] * up + np.sin(angle)[:, None] * side
    ring = -np.sin(angle)[:, None] * up + np.cos(angle)[:, None] * side
    foot = np.column_stack([x, y, np.zeros(n)])
    centre = foot + radial * out[:, None]
    axis = spots.axis + rng.normal(0, 0.06 * wobble, (n, 3))
    hole = axis[:, :1] * ring + axis[:, 1:2] * t + axis[:, 2:] * radial
    return centre, hole / np.linalg.norm(hole, axis=1)[:, None], foot
