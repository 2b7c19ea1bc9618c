"""Is a wrong thing ever taken for a card? And are real cards found? On flat-lays that nobody has tuned to.

    python -m benchmarks.references [--seeds 300] [--from 30000]
    python -m benchmarks.references --fit [--seeds 720] [--from 10000]

Draws flat-lays of each case in turn (``synthetic.flatlays``) and counts what ``calibrate`` applies and asks.
Without a card in the frame, at most 1 % may be applied; cards that are not burnt out must be applied or asked
in 95 %. ``--fit`` draws others, fits the evidence for cards and paper by logistic regression (ridge penalty,
maximum likelihood) and writes ``analyser/photo/data/card-evidence.json``.
"""

from __future__ import annotations

import argparse
import json
import os
from collections import Counter
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from importlib.resources import files
from pathlib import Path

import cv2
import numpy as np

from analyser.arrays import FloatArray
from analyser.photo import card_evidence
from analyser.photo.calibration import Calibration, calibrate
from analyser.photo.card_finding import find_surfaces
from analyser.photo.illumination import illumination_field
from analyser.photo.light_evidence import light_evidence, log_tint
from synthetic.charts import photo_of
from synthetic.flatlays import CARDS, NO_CARDS, FlatLay, Thing, draw

CASES = (*NO_CARDS, *CARDS)
# Cards are drawn more often to learn from than to count: most surfaces are none anyway.
FITTED = (*NO_CARDS, *CARDS, *CARDS, "both")
# Cases that lie on something else, whatever the ground is called.
NO_PAPER = ("cream wall", "chequered floor")
RIDGE = 2.0
WORKERS = os.cpu_count() or 2
MODELS = ("white", "grey", "pair")
# How much more often than drawn to learn from a photo shows no card.
CARDLESS = 2.0


def outcome(scene: FlatLay, found: Calibration) -> str:
    """``right``, ``wrong``, ``asked``, ``asked in vain`` or ``nothing``."""
    reference = found.reference
    if reference is None:
        return "nothing"
    if reference.kind == "paper":
        right = scene.ground == "paper" and scene.case not in NO_PAPER
    else:
        kind = "grey" if reference.kind == "grey-card" else "white"
        right = any(lies_on(card, reference.outline) for card in scene.cards if card.name == kind)
        if reference.kind == "cards":
            right = right and scene.case == "both"
    if reference.applied:
        return "right" if right else "wrong"
    return "asked" if right else "asked in vain"


def lies_on(card: Thing, corners: FloatArray) -> bool:
    """Whether an outline is that card's."""
    area = float(cv2.contourArea(card.polygon.astype(np.float32)))
    own = float(cv2.contourArea(corners.astype(np.float32)))
    near = np.hypot(*(corners.mean(axis=0) - card.polygon.mean(axis=0))) < 0.15 * area**0.5
    return bool(near and 0.5 < own / area < 1.6)


def burnt_out(scene: FlatLay) -> bool:
    """Whether a card is so overexposed that nothing can be read from it."""
    top = np.asarray((scene.pixels >= 254).any(axis=2))
    for card in scene.cards:
        inside = np.zeros(top.shape, np.uint8)
        cv2.fillPoly(inside, [card.polygon.round().astype(np.int32)], 1)
        if top[inside > 0].mean() > 0.1:
            return True
    return False


def count(first: int, seeds: int) -> int:
    """Print what became of each case; 0 if the promise holds."""
    by_case: dict[str, Counter[str]] = {case: Counter() for case in CASES}
    with ProcessPoolExecutor(WORKERS, initializer=cv2.setNumThreads, initargs=(1,)) as pool:
        for case, became in pool.map(_outcome, range(first, first + seeds), chunksize=10):
            by_case[case][became] += 1
    heads = ("right", "wrong", "asked", "asked in vain", "nothing", "burnt out")
    print(f"{'':22}" + "".join(f"{head:>14}" for head in heads))
    for case, counts in by_case.items():
        print(f"{case:22}" + "".join(f"{counts[head]:14}" for head in heads))
    cardless = sum((by_case[case] for case in NO_CARDS), Counter())
    carded = sum((by_case[case] for case in CARDS), Counter())
    wrong = (cardless["wrong"] + carded["wrong"]) / max(1, cardless.total() + carded.total())
    found = (carded["right"] + carded["asked"]) / max(1, carded.total() - carded["burnt out"])
    print(f"wrong references applied {wrong:.1%} (at most 1 %)")
    print(f"cards applied or asked {found:.1%} (95 % or more)")
    return 0 if wrong <= 0.01 and found >= 0.95 else 1


def _outcome(seed: int) -> tuple[str, str]:
    case = CASES[seed % len(CASES)]
    scene = draw(seed, case)
    return case, "burnt out" if burnt_out(scene) else outcome(scene, calibrate(photo_of(scene.pixels)))


@dataclass(frozen=True, eq=False)
class Drawn:
    """What a flat-lay may show and what it does: hypotheses, the true one (or None), and its paper."""

    models: list[str]
    evidence: list[FloatArray]
    true: int | None
    paper: tuple[FloatArray, bool] | None

    def of(self, model: str) -> list[FloatArray]:
        """Evidence for the hypotheses of one kind."""
        return [row for row, name in zip(self.evidence, self.models, strict=True) if name == model]


def evidence_of(scene: FlatLay) -> Drawn:
    """Evidence from one flat-lay."""
    photo = photo_of(scene.pixels)
    light, field = light_evidence(photo.linear, ~photo.clipped), illumination_field(photo)
    ground = None if field is None else log_tint(field.background_linear)
    found = card_evidence.hypotheses(find_surfaces(photo.linear, photo.clipped), light, ground)
    true, most = None, 0
    for index, hypothesis in enumerate(found):
        real = all(
            any(lies_on(card, surface.corners) for card in scene.cards if card.name == kind)
            for surface, kind in hypothesis.cards
        )
        if real and len(hypothesis.cards) > most:
            true, most = index, len(hypothesis.cards)
    paper = None
    if field is not None:
        is_paper = scene.ground == "paper" and scene.case not in NO_PAPER
        paper = card_evidence.of_paper(light, field), is_paper
    return Drawn([one.model for one in found], [one.evidence for one in found], true, paper)


def fitted(drawn: list[Drawn], names: tuple[str, ...] = MODELS) -> dict[str, dict[str, FloatArray]]:
    """The models named: a conditional logit over each photo's hypotheses, with a ridge penalty."""
    from scipy.optimize import minimize

    models, blocks, start = {}, {}, 0
    for name in names:
        rows = np.array([row for one in drawn for row in one.of(name)])
        models[name] = {"mean": rows.mean(axis=0), "scale": rows.std(axis=0) + 1e-6}
        blocks[name] = slice(start, start + rows.shape[1] + 1)
        start += rows.shape[1] + 1
    terms, photo, true = [], [], []
    for number, one in enumerate(drawn):
        for index, (name, row) in enumerate(zip(one.models, one.evidence, strict=True)):
            term = np.zeros(start)
            standard = np.clip((row - models[name]["mean"]) / models[name]["scale"], -4, 4)
            term[blocks[name]] = np.append(standard, 1.0)
            terms.append(term)
            photo.append(number)
            true.append(index == one.true)
    matrix, belongs, real = np.array(terms), np.array(photo), np.array(true)
    # cards are drawn more often than they are met
    weight = np.where([one.true is None for one in drawn], CARDLESS, 1.0)
    penalty = np.full(start, RIDGE)
    penalty[[block.stop - 1 for block in blocks.values()]] = 0

    def loss(weights: FloatArray) -> tuple[float, FloatArray]:
        odds = np.exp(np.clip(matrix @ weights, -30, 30))
        total = 1 + np.bincount(belongs, odds, minlength=len(drawn))
        cost = weight @ np.log(total) - weight[belongs[real]] @ np.log(odds[real])
        slope = weight[belongs] * (odds / total[belongs] - real)
        return float(cost + penalty @ weights**2 / 2), slope @ matrix + penalty * weights

    solved = minimize(loss, np.zeros(start), jac=True, method="L-BFGS-B", options={"maxiter": 3000}).x
    for name, block in blocks.items():
        models[name] |= {"weight": solved[block][:-1], "offset": solved[block][-1]}
    return models


def fitted_paper(rows: list[tuple[FloatArray, bool]]) -> dict[str, FloatArray]:
    """The model of paper: the same with one hypothesis a photo."""
    drawn = [Drawn(["paper"], [row], 0 if real else None, None) for row, real in rows]
    return fitted(drawn, ("paper",))["paper"]


def fit(first: int, seeds: int) -> int:
    """Draw, fit and write the coefficients."""
    with ProcessPoolExecutor(WORKERS, initializer=cv2.setNumThreads, initargs=(1,)) as pool:
        drawn = list(pool.map(_evidence, range(first, first + seeds), chunksize=10))
    write(drawn, f"{seeds} flat-lays of synthetic/flatlays.py from seed {first}")
    return 0


def _evidence(seed: int) -> Drawn:
    return evidence_of(draw(seed, FITTED[seed % len(FITTED)]))


def write(drawn: list[Drawn], source: str) -> None:
    """Fit each model and write them with their source."""
    papers = [one.paper for one in drawn if one.paper is not None]
    real = Counter(one.models[one.true] for one in drawn if one.true is not None)
    counted = ", ".join(f"{name} {real[name]}" for name in MODELS)
    models = fitted(drawn) | {"paper": fitted_paper(papers)}
    table = {
        "source": f"benchmarks/references.py --fit on {source}; real ones: {counted}, "
        f"paper {sum(is_real for _, is_real in papers)}",
        "models": {
            name: {key: np.round(value, 5).tolist() for key, value in one.items()}
            for name, one in models.items()
        },
    }
    path = Path(str(files("analyser.photo") / "data" / "card-evidence.json"))
    path.write_text(json.dumps(table, indent=1) + "\n", encoding="utf-8")


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--fit", action="store_true")
    parser.add_argument("--seeds", type=int)
    parser.add_argument("--from", dest="first", type=int)
    options = parser.parse_args()
    if options.fit:
        raise SystemExit(fit(options.first or 10_000, options.seeds or 720))
    raise SystemExit(count(options.first or 30_000, options.seeds or 300))
