"""Is a wrong thing ever taken for a card? And are real cards found? On flat-lays that nobody has tuned to.

    python -m benchmarks.references [--seeds 300] [--from 30000]

Draws flat-lays of each case in turn (``synthetic.flatlays``) and counts what ``calibrate`` applies. Without a
card in the frame at most 1 % may be; of cards that are not burnt out 95 % should be found.
"""

from __future__ import annotations

import argparse
from collections import Counter
from concurrent.futures import ProcessPoolExecutor

import cv2
import numpy as np

from analyser.arrays import FloatArray
from analyser.photo.calibration import Calibration, calibrate
from synthetic.charts import photo_of
from synthetic.flatlays import CARDS, HEIGHT, NO_CARDS, WIDTH, FlatLay, Thing, draw

CASES = (*NO_CARDS, *CARDS)
# Cases that lie on something else, whatever the ground is called.
NO_PAPER = ("cream wall", "chequered floor")
WORKERS = 2


def outcome(scene: FlatLay, found: Calibration) -> str:
    """``right``, ``wrong`` or ``nothing``."""
    if found.method == "none":
        return "nothing"
    if found.method == "paper":
        return "right" if scene.ground == "paper" and scene.case not in NO_PAPER else "wrong"
    kinds = ("white", "grey") if len(found.outline) == 2 else (found.method.removesuffix("-card"),)
    seen = found.outline * [WIDTH, HEIGHT]
    right = len(kinds) == len(seen) and all(
        any(lies_on(card, corners) for card in scene.cards if card.name == kind)
        for kind, corners in zip(kinds, seen, strict=True)
    )
    return "right" if right else "wrong"


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
    heads = ("right", "wrong", "nothing", "burnt out")
    print(f"{'':22}" + "".join(f"{head:>14}" for head in heads))
    for case, counts in by_case.items():
        print(f"{case:22}" + "".join(f"{counts[head]:14}" for head in heads))
    cardless = sum((by_case[case] for case in NO_CARDS), Counter())
    carded = sum((by_case[case] for case in CARDS), Counter())
    wrong = (cardless["wrong"] + carded["wrong"]) / max(1, cardless.total() + carded.total())
    found = carded["right"] / max(1, carded.total() - carded["burnt out"])
    print(f"wrong references applied {wrong:.1%} (at most 1 %)")
    print(f"cards found {found:.1%} (95 % or more)")
    return 0 if wrong <= 0.01 and found >= 0.95 else 1


def _outcome(seed: int) -> tuple[str, str]:
    case = CASES[seed % len(CASES)]
    scene = draw(seed, case)
    return case, "burnt out" if burnt_out(scene) else outcome(scene, calibrate(photo_of(scene.pixels)))


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seeds", type=int)
    parser.add_argument("--from", dest="first", type=int)
    options = parser.parse_args()
    raise SystemExit(count(options.first or 30_000, options.seeds or 300))
