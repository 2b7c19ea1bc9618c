"""Where drawn ropes lie: lamps, the light over the frame, and tables."""

from __future__ import annotations

import cv2
import numpy as np

from analyser.arrays import FloatArray

TABLE_LIGHT = {
    "paper": (0.86, 0.86, 0.85),
    "grey": (0.24, 0.24, 0.24),
    "wood": (0.42, 0.28, 0.16),
    "linen": (0.5, 0.45, 0.37),
    "felt": (0.03, 0.032, 0.036),
}
CLOTH_LIGHT = {
    "weave": (0.42, 0.38, 0.31),
    "printed": (0.45, 0.43, 0.4),
    "striped": (0.48, 0.4, 0.31),
}
"""Cloths rougher and busier than the tables above, for the harder ropes and trays."""

LAMPS = {
    "even": [((0.45, 0.2, 0.87), 0.42), ((-0.45, -0.2, 0.87), 0.42)],
    "window": [((0.15, -0.75, 0.64), 0.75)],
    "falloff": [((0.3, 0.1, 0.95), 0.72)],
    "mixed": [((0.5, 0.1, 0.86), 0.4), ((-0.5, -0.1, 0.86), 0.4)],
    "warm": [((0.2, -0.6, 0.77), 0.72)],
}


def light(kind: str, shape: tuple[int, int], rng: np.random.Generator) -> FloatArray:
    """Light over the frame, (h, w, 3), brightest about 1."""
    y, x = np.mgrid[0 : shape[0], 0 : shape[1]] / max(shape)
    turn = (
        rng.uniform(0, 2 * np.pi) if kind != "falloff" else rng.choice([0.0, np.pi]) + rng.uniform(-0.3, 0.3)
    )
    along = (x - x.mean()) * np.cos(turn) + (y - y.mean()) * np.sin(turn)
    span = max(float(np.ptp(along)), 1e-6)
    t = (along - along.min()) / span
    warm = np.array([1.68, 0.87, 0.33])
    if kind == "falloff":
        field = (1 / (1 + 0.42 * t) ** 2)[..., None] * np.ones(3)
    elif kind == "window":
        field = (1 - 0.14 * t)[..., None] * np.ones(3)
    elif kind == "mixed":
        field = (1 - t)[..., None] * (warm / warm.max()) + t[..., None] * np.array([0.62, 0.62, 0.62])
    elif kind == "warm":
        field = (1 - 0.2 * t)[..., None] * (warm / warm.max())
    else:
        field = (1 - 0.05 * t)[..., None] * np.ones(3)
    return np.asarray(field)


def table_level(kind: str) -> float:
    """Mean light that a table sends back, lit by 1."""
    return float(np.mean({**TABLE_LIGHT, **CLOTH_LIGHT}[kind]))


def table(kind: str, shape: tuple[int, int], rng: np.random.Generator) -> FloatArray:
    """The bare table, (h, w, 3), lit by 1."""
    if kind in CLOTH_LIGHT:
        return _cloth(kind, shape, rng)
    base = TABLE_LIGHT[kind]
    grain = np.zeros(shape, np.float32)
    raw = rng.normal(0, 1, shape).astype(np.float32)
    if kind == "wood":
        grain = cv2.GaussianBlur(raw, (0, 0), sigmaX=40, sigmaY=1.5) * 1.1
    elif kind == "linen":
        grain = 0.7 * (
            cv2.GaussianBlur(raw, (0, 0), sigmaX=18, sigmaY=0.8)
            + cv2.GaussianBlur(rng.normal(0, 1, shape).astype(np.float32), (0, 0), sigmaX=0.8, sigmaY=18)
        )
    elif kind == "felt":
        grain = cv2.GaussianBlur(raw, (0, 0), 1.2) * 1.0
    else:
        grain = cv2.GaussianBlur(raw, (0, 0), 6) * 0.08
    return np.array(base)[None, None] * np.exp(grain)[..., None]


def _cloth(kind: str, shape: tuple[int, int], rng: np.random.Generator) -> FloatArray:
    """A coarse weave; on it leaves of two colours, or stripes, each where it was so asked."""
    threads = [
        cv2.GaussianBlur(rng.normal(0, 1, shape).astype(np.float32), (0, 0), sigmaX=one, sigmaY=other)
        for one, other in ((25, 0.9), (0.9, 25))
    ]
    coarse = 0.16 if kind == "weave" else 0.05
    grain = sum(coarse * thread / thread.std() for thread in threads)
    cloth = np.broadcast_to(np.array(CLOTH_LIGHT[kind]), (*shape, 3)).astype(np.float32)
    colours = rng.uniform(0.05, 0.6, (2, 3))
    if kind == "striped":
        pitch, turn = rng.uniform(90, 220), rng.choice([0, 1])
        y, x = np.mgrid[0 : shape[0], 0 : shape[1]]
        wavy = (x, y)[turn] + 3 * np.sin((y, x)[turn] / 60)
        cloth = np.where(((wavy % pitch) < 0.3 * pitch)[..., None], colours[0], cloth)
    if kind == "printed":
        cloth = np.ascontiguousarray(cloth)
        for _ in range(shape[0] * shape[1] // 16000):
            size = rng.uniform(9, 45) * np.array([1.0, rng.uniform(0.3, 0.7)])
            middle = rng.uniform(0, 1, 2) * shape[::-1]
            colour = colours[rng.integers(2)] * rng.uniform(0.9, 1.1)
            box = middle.tolist(), (2 * size).tolist(), float(rng.uniform(0, 360))
            cv2.ellipse(cloth, box, colour.tolist(), -1, cv2.LINE_AA)
    return np.asarray(cloth * np.exp(grain)[..., None])
