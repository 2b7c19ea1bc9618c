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
from collections import Counter
from concurrent.futures import ProcessPoolExecutor
from importlib.resources import files
from itertools import permutations
from pathlib import Path
from typing import Any

import cv2
import numpy as np

from analyser.arrays import FloatArray
from analyser.photo import card_evidence
from analyser.photo.calibration import Calibration, calibrate
from analyser.photo.card_finding import Surface, find_surfaces
from analyser.photo.illumination import illumination_field
from analyser.photo.light_evidence import light_evidence, log_tint
from analyser.photo.reference import may_be_pair
from synthetic.charts import photo_of
from synthetic.flatlays import CARDS, NO_CARDS, FlatLay, Thing, draw

CASES = (*NO_CARDS, *CARDS)
# Cards are drawn more often to learn from than to count: most surfaces are none anyway.
FITTED = (*NO_CARDS, *CARDS, *CARDS, "both")
# Cases that lie on something else, whatever the ground is called.
NO_PAPER = ("cream wall", "chequered floor")
RIDGE = 2.0
WORKERS = 2
MODELS = ("white", "grey", "pair", "paper")


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


def evidence_of(scene: FlatLay) -> dict[str, list[tuple[FloatArray, bool]]]:
    """For each model: pieces of evidence from a flat-lay, and whether they are of the real thing."""
    photo = photo_of(scene.pixels)
    light, field = light_evidence(photo.linear, ~photo.clipped), illumination_field(photo)
    ground = None if field is None else log_tint(field.background_linear)
    surfaces = find_surfaces(photo.linear, photo.clipped)
    found: dict[str, list[tuple[FloatArray, bool]]] = {name: [] for name in MODELS}

    def is_card(surface: Surface, kind: str) -> bool:
        return any(lies_on(card, surface.corners) for card in scene.cards if card.name == kind)

    for surface in surfaces:
        others = [other for other in surfaces if other is not surface]
        for kind in ("white", "grey"):
            row = card_evidence.of_one(surface, kind, others, light, ground)
            found[kind].append((row, is_card(surface, kind)))
    for white, grey in permutations(surfaces, 2):
        if may_be_pair(white, grey):
            rest = [other for other in surfaces if other is not white and other is not grey]
            row = card_evidence.of_pair(white, grey, rest, light, ground)
            found["pair"].append((row, is_card(white, "white") and is_card(grey, "grey")))
    if field is not None:
        is_paper = scene.ground == "paper" and scene.case not in NO_PAPER
        found["paper"].append((card_evidence.of_paper(light, field), is_paper))
    return found


def fitted(rows: list[tuple[FloatArray, bool]]) -> dict[str, Any]:
    """Mean, scale, weight and offset of a logistic regression with a ridge penalty."""
    from scipy.optimize import minimize

    evidence, true = np.array([row for row, _ in rows]), np.array([float(real) for _, real in rows])
    mean, scale = evidence.mean(axis=0), evidence.std(axis=0) + 1e-6
    terms = np.column_stack([np.clip((evidence - mean) / scale, -4, 4), np.ones(len(true))])
    penalty = np.append(np.full(evidence.shape[1], RIDGE), 0.0)

    def loss(weights: FloatArray) -> tuple[float, FloatArray]:
        score = terms @ weights
        chance = 1 / (1 + np.exp(-np.clip(score, -30, 30)))
        cost = np.logaddexp(0, score) - true * score
        return float(cost.sum() + penalty @ weights**2 / 2), terms.T @ (chance - true) + penalty * weights

    start = np.zeros(terms.shape[1])
    solved = minimize(loss, start, jac=True, method="L-BFGS-B", options={"maxiter": 2000}).x
    numbers = {"mean": mean, "scale": scale, "weight": solved[:-1]}
    return {name: [round(float(v), 5) for v in part] for name, part in numbers.items()} | {
        "offset": round(float(solved[-1]), 5)
    }


def fit(first: int, seeds: int) -> int:
    """Draw, fit and write the coefficients."""
    rows: dict[str, list[tuple[FloatArray, bool]]] = {name: [] for name in MODELS}
    with ProcessPoolExecutor(WORKERS, initializer=cv2.setNumThreads, initargs=(1,)) as pool:
        for drawn in pool.map(_evidence, range(first, first + seeds), chunksize=10):
            for name, found in drawn.items():
                rows[name] += found
    write(rows, f"{seeds} flat-lays of synthetic/flatlays.py from seed {first}")
    return 0


def _evidence(seed: int) -> dict[str, list[tuple[FloatArray, bool]]]:
    return evidence_of(draw(seed, FITTED[seed % len(FITTED)]))


def write(rows: dict[str, list[tuple[FloatArray, bool]]], drawn: str) -> None:
    """Fit each model and write them with their source."""
    real = ", ".join(f"{name} {sum(is_real for _, is_real in found)}" for name, found in rows.items())
    table = {
        "source": f"benchmarks/references.py --fit on {drawn}; real ones: {real}",
        "models": {name: fitted(found) for name, found in rows.items()},
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
