"""Drawn ropes as makers photograph them: any cloth, lamp and exposure, a phone's look, few pixels or many.

Everything about the rope itself is drawn by ``synthetic.ropes``; here its finishes, table, size in pixels and
light are mixed at random, and the camera is unkind.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import cv2
import numpy as np

from analyser.arrays import FloatArray
from analyser.colour.difference import delta_e_2000
from synthetic.rope_beads import KINDS, LAYOUTS, LIGHTS, Rope
from synthetic.rope_finish import FINISHES
from synthetic.rope_scene import CLOTH_LIGHT
from synthetic.ropes import TABLES, Recipe, draw

STITCHES = (*KINDS, "winding")
CLOTHS = (*TABLES, *CLOTH_LIGHT)
FAULTS = ("lot-change", "lot-change", "stray-bead", "stray-bead", "plain-round")
PX_PER_BEAD = 14.0, 80.0
"""Most photos; the figure is drawn evenly in its log, and ropes of large beads have fewer rounds."""


@dataclass(frozen=True)
class Scene:
    """A rope and how it was photographed.

    Attributes
    ----------
    recipe : Recipe
    cast : tuple of 3 float
        The lamp's colour, its largest channel 1.
    exposure : float
        Times the right one.
    phone : bool
        Noise smoothed away, edges sharpened, a tone curve and more colour than there was.
    blur_px : float
        Standard deviation of the lens's blur.
    """

    recipe: Recipe
    cast: tuple[float, float, float]
    exposure: float
    phone: bool
    blur_px: float


def scene(seed: int, *, faulty: bool) -> Scene:
    """The scene of that seed."""
    rng = np.random.default_rng([seed, int(faulty), 7])
    kind = str(rng.choice(STITCHES))
    body, accent = colours(rng)
    third = None
    if kind == "chenille" and rng.random() < 0.25:
        third = next(c for c in iter(lambda: colour(rng), None) if min(apart(c, body), apart(c, accent)) > 20)
    fault = str(rng.choice(FAULTS)) if faulty else "none"
    if fault == "plain-round":
        kind, third = "rings", None
    bead = float(np.exp(rng.uniform(*np.log(PX_PER_BEAD))))
    rounds = int(np.clip(1500 / bead, 26, 70) * rng.uniform(0.8, 1.2))
    recipe = Recipe(
        kind,
        str(rng.choice(LAYOUTS)) if rounds > 40 else str(rng.choice(("straight", "bow"))),
        str(rng.choice(LIGHTS)),
        str(rng.choice(CLOTHS)),
        body,
        accent,
        rounds=rounds if kind in ("chenille", "rows") else round(1.35 * rounds),
        px_per_mm=bead / 2.1,
        twist_deg=float(rng.uniform(-1.2, 1.2)),
        roll_deg=float(rng.uniform(0, 360)),
        seed=seed * 2 + faulty,
        every=int(rng.integers(3, 5)),
        climb=float(rng.choice([0.0, 0.5])),
        gloss=float(rng.choice([0.03, 0.06])),
        fault=fault,
        size=float(rng.uniform(1.2, 6.5)),
        fault_role=str(rng.choice(["body", "accent"])) if fault != "plain-round" else "accent",
        at=float(rng.uniform(0.2, 0.8)),
        third=third,
        finish_body=str(rng.choice(FINISHES)),
        finish_accent=str(rng.choice(FINISHES)),
        film_nm=float(rng.uniform(150, 420)),
        strays=int(rng.integers(1, 4)),
    )
    if recipe.light in ("mixed", "warm"):
        cast = np.ones(3)  # coloured light already
    else:
        cast = (
            np.array([rng.uniform(0.85, 1.9), 0.9, rng.uniform(0.25, 1.1)])
            if rng.random() < 0.6
            else np.ones(3)
        )
    cast = cast / cast.max()
    exposure = float(np.exp(rng.uniform(-0.9, 0.25)))
    return Scene(
        recipe,
        (float(cast[0]), float(cast[1]), float(cast[2])),
        exposure,
        bool(rng.random() < 0.5),
        float(rng.uniform(0.3, 1.2)),
    )


def photograph(seen: Scene) -> Rope:
    """The scene drawn, as the camera kept it."""
    rope = draw(seen.recipe)
    rng = np.random.default_rng([seen.recipe.seed, 8])
    lit = rope.linear * np.asarray(seen.cast, np.float32) * np.float32(seen.exposure)
    light = np.asarray(cv2.GaussianBlur(lit, (0, 0), seen.blur_px), float)
    light = np.clip(light + rng.normal(0, 1, light.shape) * np.sqrt(np.maximum(light, 0) * 1e-4 + 2e-6), 0, 1)
    return replace(rope, linear=np.asarray(_developed(light) if seen.phone else light, np.float32))


def _developed(light: FloatArray) -> FloatArray:
    """What a phone makes of linear light, shape (h, w, 3): smoothed, sharpened, steeper, more coloured."""
    rooted = np.sqrt(np.clip(light, 0, 1)).astype(np.float32)
    coded = np.asarray(cv2.bilateralFilter(rooted, 5, 0.03, 1.5), float)
    coded = coded + 0.6 * (coded - cv2.GaussianBlur(coded, (0, 0), 1.4))
    grey = coded.mean(axis=-1, keepdims=True)
    coded = np.clip(grey + 1.12 * (coded - grey), 0, 1)
    steep = coded + 0.12 * (coded - 0.5) * 4 * coded * (1 - coded)
    return np.asarray(np.clip(steep, 0, 1) ** 2)


def colours(rng: np.random.Generator) -> tuple[tuple[float, float, float], tuple[float, float, float]]:
    """Body and accent, at times as near as 10 CIEDE2000."""
    least = 10.0 if rng.random() < 0.3 else 20.0
    while True:
        body, accent = colour(rng), colour(rng)
        if apart(body, accent) > least:
            return body, accent


def apart(one: tuple[float, float, float], other: tuple[float, float, float]) -> float:
    """CIEDE2000 of two Lab colours."""
    return float(delta_e_2000(one, other))


def colour(rng: np.random.Generator) -> tuple[float, float, float]:
    """A bead colour: Lab, lightness 12 to 88, chroma as glass has it."""
    lightness = rng.uniform(12, 88)
    chroma = rng.uniform(0, 1) ** 0.8 * 50 * (1 - abs(lightness - 52) / 60)
    hue = rng.uniform(0, 2 * np.pi)
    return float(lightness), float(chroma * np.cos(hue)), float(chroma * np.sin(hue))
