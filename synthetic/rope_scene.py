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


def table(kind: str, shape: tuple[int, int], rng: np.random.Generator) -> FloatArray:
    """The bare table, (h, w, 3), lit by 1."""
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
