"""How likely a surface is a grey or white card: evidence weighed by a small fitted model.

Whatever a photo may show (nothing, this surface as white card, that one as grey, these two as a pair) is
one hypothesis; each has a score, a weighed sum of evidence, and their chances sum to 1 (conditional logit
[1]). The weights lie in ``data/card-evidence.json``, fitted by ``benchmarks/references.py`` on drawn
flat-lays with cards and with things that only look like cards; that file says on which and how many.

Sources
-------
[1] McFadden (1974), Conditional logit analysis of qualitative choice behavior, in Frontiers in Econometrics.
[2] Forsyth (1990), Int. J. Comput. Vis. 5(1), 5-36, doi:10.1007/BF00056770: no surface reflects more light
    than falls on it, which bounds the light.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cache
from itertools import permutations
from pathlib import Path

import numpy as np

from analyser.arrays import FloatArray
from analyser.colour.spaces import relative_luminance
from analyser.photo.card_finding import Surface
from analyser.photo.cards import REFLECTANCE, CardKind
from analyser.photo.illumination import IlluminationField
from analyser.photo.light_evidence import OFF_LAMPS, LightEvidence, log_tint

_LIKE_A_CARD = 1.3  # usual ratio of a card's sides (common practice, no source)
_NO_GROUND = 0.3  # stands for a distance in tint where there is no plain ground to compare with
_AGREES = 0.08  # distance in log tint from which two things are of one tint
_FARTHEST = 4.0  # standard deviations beyond which evidence counts no more, as it was fitted
_PAIR_RATIO = (1.8, 16.0)  # of luminance; a white card gives five times a grey one, curves bend that
_PAIR_TINT = 0.3  # log, beyond which two surfaces are no pair whatever else speaks for it
_KINDS: tuple[CardKind, ...] = ("white", "grey")
_ALIKE = 1.6  # two surfaces of areas within that factor are of one size


@dataclass(frozen=True, slots=True, eq=False)
class Weights:
    """Of one kind of hypothesis: mean and scale of each piece of evidence, its weight, and the offset."""

    mean: FloatArray
    scale: FloatArray
    weight: FloatArray
    offset: float

    def score(self, evidence: FloatArray) -> float:
        """Log odds against nothing being there, for evidence of shape (n,)."""
        standard = np.clip((evidence - self.mean) / self.scale, -_FARTHEST, _FARTHEST)
        return float(np.clip(standard @ self.weight + self.offset, -30, 30))


@dataclass(frozen=True, slots=True, eq=False)
class Hypothesis:
    """One or two surfaces taken for cards: white first where there are two; and what speaks for it, (n,)."""

    cards: tuple[tuple[Surface, CardKind], ...]
    evidence: FloatArray

    @property
    def model(self) -> str:
        """``white``, ``grey`` or ``pair``."""
        return "pair" if len(self.cards) == 2 else self.cards[0][1]


@cache
def fitted() -> dict[str, Weights]:
    """The models ``white``, ``grey``, ``pair`` and ``paper``."""
    table = json.loads((Path(__file__).with_name("data") / "card-evidence.json").read_text(encoding="utf-8"))
    return {
        name: Weights(
            np.array(model["mean"]),
            np.array(model["scale"]),
            np.array(model["weight"]),
            float(model["offset"]),
        )
        for name, model in table["models"].items()
    }


def hypotheses(
    surfaces: Sequence[Surface], light: LightEvidence, ground: FloatArray | None
) -> tuple[Hypothesis, ...]:
    """Everything that surfaces of a photo may be, but that none is a card.

    Parameters
    ----------
    surfaces : sequence of Surface
    light : LightEvidence
    ground : ndarray, shape (2,), or None
        Tint of a plain ground, if there is one.
    """
    tints = [_of_tint(surface, light, ground) for surface in surfaces]
    shapes = [_of_shape(surface, light) for surface in surfaces]
    found = []
    for index, surface in enumerate(surfaces):
        alike = _alike(surface.area, (other for other in surfaces if other is not surface))
        for kind in _KINDS:
            level = _of_level(surface, kind, light)
            evidence = np.concatenate([tints[index], shapes[index], [alike], level])
            found.append(Hypothesis(((surface, kind),), evidence))
    for (one, white), (other, grey) in permutations(enumerate(surfaces), 2):
        if _may_be_pair(white, grey):
            rest = (surface for surface in surfaces if surface is not white and surface is not grey)
            alike = _alike(min(white.area, grey.area), rest)
            shape = np.maximum(shapes[one], shapes[other])
            two = _of_two(white, grey, light)
            evidence = np.concatenate([tints[one], shape, [alike], two])
            found.append(Hypothesis(((white, "white"), (grey, "grey")), evidence))
    return tuple(found)


def chances(found: Sequence[Hypothesis]) -> FloatArray:
    """Chance of each hypothesis, shape (n,); what is missing to 1 is the chance that none is true."""
    models = fitted()
    odds = np.exp([models[one.model].score(one.evidence) for one in found])
    return np.asarray(odds / (1 + odds.sum()))


def _may_be_pair(white: Surface, grey: Surface) -> bool:
    """Whether two surfaces may be a white and a grey card at all."""
    ratio = white.luminance / grey.luminance
    apart = float(np.hypot(*(white.tint - grey.tint)))
    return _PAIR_RATIO[0] < ratio < _PAIR_RATIO[1] and apart < _PAIR_TINT


def _alike(area: float, others: Iterable[Surface]) -> float:
    """Log of one more than how many others are of that size."""
    return float(np.log1p(sum(abs(np.log(other.area / area)) < np.log(_ALIKE) for other in others)))


def _of_tint(surface: Surface, light: LightEvidence, ground: FloatArray | None) -> FloatArray:
    """Whether its tint is that of the light, as lamps, estimators, ground and everything else tell it."""
    tint = surface.tint
    to_each = np.hypot(*(light.tints - tint).T)
    to_ground = _NO_GROUND if ground is None else float(np.hypot(*(tint - ground)))
    neutral = float(np.hypot(*tint))
    beside = np.hypot(*(light.sample_tints - tint).T)
    # a card itself is no witness for its tint
    agreeing = max(float((beside < _AGREES).mean()) - surface.area, 0.0)
    return np.array(
        [
            neutral,
            np.log(neutral + 0.03),
            abs(float(tint @ OFF_LAMPS)),
            float(np.hypot(*(tint - light.tint))),
            np.log(to_each.min() + 0.03),
            light.apart,
            to_ground,
            np.log(to_ground + 0.03),
            np.log(agreeing + 0.01),
            float(np.median(beside)),
            np.log(np.percentile(beside, 20) + 0.03),
            *_more_than(light, surface.linear[[0, 2]], (0, 2)),
        ]
    )


def _of_shape(surface: Surface, light: LightEvidence) -> FloatArray:
    """Whether it is as even, as large and as square as cards are, and lies as they lie."""
    return np.array(
        [
            np.log(max(surface.mottle, 1e-3)),
            np.log(max(surface.mottle, 1e-3) / max(light.calm, 1e-3)),
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


def _of_level(surface: Surface, kind: CardKind, light: LightEvidence) -> FloatArray:
    """Whether it is as bright as that card in a file exposed as usual, and beside everything else [2]."""
    level = np.log(surface.luminance / REFLECTANCE[kind])
    beside = level - np.log(light.brightest / REFLECTANCE["white"])
    excess = np.log(REFLECTANCE[kind]) + max(_more_than(light, surface.linear, (0, 1, 2)))
    brighter = float((relative_luminance(light.sample) > 1.1 * surface.luminance).mean())
    return np.array(
        [level, abs(level), beside, abs(beside), excess, max(excess, 0.0), np.log(brighter + 0.01)]
    )


def _of_two(white: Surface, grey: Surface, light: LightEvidence) -> FloatArray:
    """Whether two surfaces differ as a white and a grey card do, and in nothing else."""
    ratio = np.log(white.luminance / grey.luminance / (REFLECTANCE["white"] / REFLECTANCE["grey"]))
    apart = float(np.hypot(*(white.tint - grey.tint)))
    excess = np.log(REFLECTANCE["white"]) + max(_more_than(light, white.linear, (0, 1, 2)))
    return np.array(
        [
            np.log(apart + 0.02),
            apart,
            ratio,
            abs(ratio),
            abs(np.log(white.area / grey.area)),
            abs(np.log(white.longer / grey.longer)),
            np.log(white.luminance / light.brightest),
            excess,
            max(excess, 0.0),
        ]
    )


def _more_than(light: LightEvidence, linear: FloatArray, channels: tuple[int, ...]) -> list[float]:
    """Log of how much more than a surface the picture's most reflecting places give, channel by channel."""
    return [float(value) for value in np.log(light.most[list(channels)] / np.maximum(linear, 1e-4))]


def paper_chance(light: LightEvidence, field: IlluminationField | None) -> float:
    """Chance that a plain ground is white paper, 0 without one."""
    if field is None:
        return 0.0
    return float(1 / (1 + np.exp(-fitted()["paper"].score(of_paper(light, field)))))


def of_paper(light: LightEvidence, field: IlluminationField) -> FloatArray:
    """Evidence that a plain ground is white paper, shape (n,)."""
    paper = field.background_linear
    tint = log_tint(paper)
    level = float(relative_luminance(paper))
    return np.array(
        [
            float(np.hypot(*tint)),
            float(np.log(np.hypot(*tint) + 0.03)),
            float(tint @ OFF_LAMPS),
            abs(float(tint @ OFF_LAMPS)),
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
