"""How likely a surface is a grey or white card: evidence weighed by a small fitted model.

Each piece of evidence is a number; a logistic regression weighs them. Its coefficients lie in
``data/card-evidence.json``, fitted by ``benchmarks/references.py`` on drawn flat-lays with cards and with
things that only look like cards; that file says on which and how many.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

import numpy as np

from analyser.arrays import FloatArray
from analyser.colour.spaces import relative_luminance
from analyser.photo.card_finding import Surface
from analyser.photo.illumination import IlluminationField
from analyser.photo.light_evidence import LightEvidence, log_tint

# Lamps run from bluish to reddish along about this line in log red/green and blue/green: a black body from
# 2856 to 6504 K in linear sRGB; what lies off it is pink or green.
_OFF_THE_LAMPS = np.array([0.88, 0.48])
_LIKE_A_CARD = 1.3  # usual ratio of a card's sides (common practice, no source)
_NO_GROUND = 0.3  # stands for a distance in tint where there is no plain ground to compare with
_REFLECTANCE = {"white": 0.90, "grey": 0.18}
_FARTHEST = 4.0  # standard deviations beyond which evidence counts no more, as it was fitted
_ALIKE = 1.6  # two surfaces of areas within that factor are of one size


@dataclass(frozen=True, slots=True, eq=False)
class Weights:
    """One logistic regression: mean and scale of each piece of evidence, its weight, and the offset."""

    mean: FloatArray
    scale: FloatArray
    weight: FloatArray
    offset: float

    def chance(self, evidence: FloatArray) -> float:
        """Of being what was asked, 0 to 1, for evidence of shape (n,)."""
        standard = np.clip((evidence - self.mean) / self.scale, -_FARTHEST, _FARTHEST)
        score = float(standard @ self.weight) + self.offset
        return float(1 / (1 + np.exp(-np.clip(score, -30, 30))))


@cache
def fitted() -> dict[str, Weights]:
    """The models ``white``, ``grey``, ``pair`` and ``paper``."""
    table = json.loads((files("analyser.photo") / "data" / "card-evidence.json").read_text(encoding="utf-8"))
    return {
        name: Weights(
            np.array(model["mean"]),
            np.array(model["scale"]),
            np.array(model["weight"]),
            float(model["offset"]),
        )
        for name, model in table["models"].items()
    }


def of_one(
    surface: Surface, kind: str, others: Sequence[Surface], light: LightEvidence, ground: FloatArray | None
) -> FloatArray:
    """Evidence that a surface is a card of that kind, shape (n,).

    Parameters
    ----------
    surface : Surface
    kind : str
        ``white`` or ``grey``.
    others : sequence of Surface
        The other surfaces of the photo.
    light : LightEvidence
    ground : ndarray, shape (2,), or None
        Tint of a plain ground, if there is one.
    """
    tint = surface.tint
    reflectance = _REFLECTANCE[kind]
    alike = sum(abs(np.log(other.area / surface.area)) < np.log(_ALIKE) for other in others)
    return np.array(
        [
            *_of_tint(tint, light, ground),
            *_of_surface(surface),
            np.log1p(alike),
            np.log(surface.luminance / reflectance),
            abs(np.log(surface.luminance / reflectance)),
            np.log(surface.luminance / light.brightest / reflectance * 0.9),
            abs(np.log(surface.luminance / light.brightest / reflectance * 0.9)),
        ]
    )


def of_pair(
    white: Surface, grey: Surface, others: Sequence[Surface], light: LightEvidence, ground: FloatArray | None
) -> FloatArray:
    """Evidence that two surfaces are a white and a grey card, shape (n,); the rest as ``of_one``."""
    ratio = np.log(white.luminance / grey.luminance / (_REFLECTANCE["white"] / _REFLECTANCE["grey"]))
    size = min(white.area, grey.area)
    alike = sum(abs(np.log(other.area / size)) < np.log(_ALIKE) for other in others)
    apart = float(np.hypot(*(white.tint - grey.tint)))
    first, second = _of_surface(white), _of_surface(grey)
    return np.array(
        [
            *_of_tint(white.tint, light, ground),
            *np.maximum(first, second),
            np.log1p(alike),
            np.log(apart + 0.02),
            apart,
            ratio,
            abs(ratio),
            abs(np.log(white.area / grey.area)),
            abs(np.log(white.longer / grey.longer)),
            np.log(white.luminance / light.brightest),
        ]
    )


def _of_tint(tint: FloatArray, light: LightEvidence, ground: FloatArray | None) -> list[float]:
    to_each = np.hypot(*(light.tints - tint).T)
    to_ground = _NO_GROUND if ground is None else float(np.hypot(*(tint - ground)))
    neutral = float(np.hypot(*tint))
    return [
        neutral,
        float(np.log(neutral + 0.03)),
        abs(float(tint @ _OFF_THE_LAMPS)),
        float(np.hypot(*(tint - light.tint))),
        float(np.log(to_each.min() + 0.03)),
        light.apart,
        to_ground,
        float(np.log(to_ground + 0.03)),
    ]


def _of_surface(surface: Surface) -> FloatArray:
    return np.array(
        [
            np.log(max(surface.mottle, 1e-3)),
            surface.ragged,
            abs(np.log(surface.longer / _LIKE_A_CARD)),
            np.log(surface.longer),
            surface.skewed,
            np.log(surface.area),
            min(surface.stands_out, 2.0),
            surface.around,
            float(surface.inside_another),
        ]
    )


def of_paper(light: LightEvidence, field: IlluminationField) -> FloatArray:
    """Evidence that a plain ground is white paper, shape (n,)."""
    paper = field.background_linear
    tint = log_tint(paper)
    level = float(relative_luminance(paper))
    return np.array(
        [
            float(np.hypot(*tint)),
            float(np.log(np.hypot(*tint) + 0.03)),
            float(tint @ _OFF_THE_LAMPS),
            abs(float(tint @ _OFF_THE_LAMPS)),
            float(tint[1] - tint[0]),
            float(np.hypot(*(tint - light.tint))),
            light.apart,
            float(np.log(max(field.scatter, 1e-3))),
            float(np.log(max(level, 1e-3))),
            float(np.log(max(level, 1e-3) / max(light.brightest, 1e-3))),
            float(np.log(field.ratio)),
            field.cover,
        ]
    )
