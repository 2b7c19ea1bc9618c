"""How surely the photo sheet is found, and how well it tells millimetres and white.

    python benchmarks/sheet.py [HOW_MANY [OF_THEM_WHITE]]

Draws sheets under tilt to 25 degrees, curl, lamps, a phone's own look and JPEG of quality 60, a third of some
covered. White: the same scene with a white card on the sheet, and without it on a paper learnt from another
photo; chips of known colour tell how well each calibrates, on the first OF_THEM_WHITE.
"""

from __future__ import annotations

import os
import sys
import tempfile
import time
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, field, replace
from pathlib import Path

import cv2
import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from analyser.colour.difference import delta_e_2000
from analyser.colour.spaces import linear_to_lab
from analyser.photo import papers
from analyser.photo.calibration import calibrate, paper_white
from analyser.photo.sheet import Sheet, find_sheet
from analyser.photo.sheet_layout import KINDS, NAMES, PAPERS
from synthetic.sheets import Drawn, Scene, draw

LIGHTS = ((1.0, 1.0, 1.0), (1.0, 0.82, 0.62), (1.0, 0.66, 0.36), (0.82, 0.92, 1.0))
CHIPS = (
    (62, 38, 22), (45, -32, 12), (32, 18, -48), (75, 2, 68), (50, 0, 0), (85, -8, 6), (28, 2, -4),
    (58, 48, -12), (66, -20, -22), (40, 40, 28),
)  # fmt: skip


def any_scene(number: int) -> Scene:
    """One of many; none is easy in all its ways."""
    rng = np.random.default_rng(1000 + number)
    white = rng.uniform(0.78, 0.9) * np.array([rng.uniform(0.95, 1.0), 1.0, rng.uniform(0.92, 1.06)])
    upright = rng.random() < 0.7
    return Scene(
        kind=KINDS[number % 3],
        paper=list(PAPERS)[number % 2],
        name=NAMES[number % len(NAMES)],
        width=1200 if upright else 1600,
        height=1600 if upright else 1200,
        focal_35mm=float(rng.uniform(23, 52)),
        fills=float(rng.uniform(0.6, 0.95)),
        tilt=float(rng.uniform(0, 25)),
        towards=float(rng.uniform(0, 360)),
        turn=float(rng.uniform(-15, 15) + (0 if upright else 90) + rng.choice([0, 180])),
        curl=float(rng.choice([0, 2, 5])),
        crumple=float(rng.choice([0, 0, 0.7])),
        paper_linear=tuple(white.tolist()),
        chips=CHIPS,
        covered=rng.choice(["left", "right", "top", "bottom"]) if number % 3 == 0 else None,
        light_linear=LIGHTS[int(rng.integers(len(LIGHTS)))],
        exposure=float(rng.uniform(0.55, 0.98)),
        falloff=(float(rng.uniform(-0.7, 0.7)), float(rng.uniform(-0.4, 0.4))),
        mixed=float(rng.choice([0, 0, 0.4])),
        contrast=float(rng.choice([0, 0.3, 0.6])),
        sharpened=float(rng.choice([0, 0.5, 1.0])),
        noise=float(rng.uniform(0.002, 0.012)),
        blur=float(rng.uniform(0.5, 1.2)),
        jpeg=60,
        seed=number,
    )


def lengths(drawn: Drawn, sheet: Sheet) -> np.ndarray:
    """Measured over true lengths of 60 mm and more between places in sight."""
    rng = np.random.default_rng(0)
    rows, columns = np.nonzero(np.isfinite(drawn.page_mm).all(axis=-1))
    pick = rng.integers(len(rows), size=(400, 2))
    pixels = np.stack([columns[pick], rows[pick]], axis=-1) + 0.5
    true = np.hypot(*np.moveaxis(np.diff(drawn.page_mm[rows[pick], columns[pick]], axis=1)[:, 0], -1, 0))
    seen = sheet.to_mm(pixels.reshape(-1, 2)).reshape(pixels.shape)
    far = true > 60
    return np.hypot(*np.diff(seen, axis=1)[far, 0].T) / true[far]


def learnt_from(scene: Scene) -> None:
    """Learns the scene's paper from a photo in plain light, with a card."""
    plain = Scene(kind=scene.kind, paper=scene.paper, name=scene.name, paper_linear=scene.paper_linear,
                  white_card=0.9, seed=scene.seed + 1, tilt=4, falloff=(0.2, 0.1), exposure=0.85)  # fmt: skip
    name, white = paper_white(draw(plain).photo())
    papers.learn(name, tuple(float(v) for v in white), "drawn")


@dataclass
class Told:
    """What became of one sheet: found or why not, how far lengths are off, errors of chips by reference."""

    missed: str = ""
    seconds: float = 0.0
    off: tuple[float, float] = (0.0, 0.0)  # median and 95 %
    chips: dict[str, list[tuple[float, float]]] = field(default_factory=dict)  # (true error, stated)


def one(number: int, of_white: bool) -> Told:
    """Draw and read one sheet; white and its rivals too where asked."""
    scene = any_scene(number)
    drawn = draw(scene)
    photo = drawn.photo()
    start = time.perf_counter()
    sheet, says = find_sheet(photo)
    told = Told(seconds=time.perf_counter() - start)
    if sheet is None or sheet.layout is not drawn.layout or not sheet.is_ground:
        told.missed = f"{number}: not found; {says}; {scene}"
        return told
    wrong = np.abs(lengths(drawn, sheet) - 1)
    told.off = float(np.median(wrong)), float(np.percentile(wrong, 95))
    if scene.covered or not of_white:
        return told
    with tempfile.TemporaryDirectory() as folder:
        os.environ["XDG_CONFIG_HOME"] = folder  # papers are learnt there
        told.chips["paper"] = chips(drawn)
        told.chips["white card"] = chips(draw(replace(scene, white_card=0.9)))
        told.chips["white and grey card"] = chips(draw(replace(scene, white_card=0.9, grey_card=0.18)))
        learnt_from(scene)
        told.chips["learnt paper"] = chips(drawn)
    return told


def chips(taken: Drawn) -> list[tuple[float, float]]:
    """True error and stated uncertainty of each chip in sight."""
    photo = taken.photo()
    calibration = calibrate(photo)
    if calibration.method != "sheet":
        print(f"  {taken.scene.seed}: calibrated by {calibration.method}: {calibration.notes}")
    linear = calibration.corrected(photo).linear
    pairs = []
    for number, lab in enumerate(taken.scene.chips):
        inside = taken.chip_pixels(number)
        if inside.sum() > 200:
            seen = linear_to_lab(linear[inside].mean(axis=0, dtype=float))
            error = float(delta_e_2000(seen, np.array(lab, float)))
            pairs.append((error, float(calibration.uncertainty_of(seen))))
    return pairs


def main(how_many: int, white: int) -> None:
    with ProcessPoolExecutor(os.cpu_count(), initializer=cv2.setNumThreads, initargs=(1,)) as pool:
        told = list(pool.map(one, range(how_many), [number < white for number in range(how_many)]))
    for missed in (this.missed for this in told if this.missed):
        print(f"  {missed}")
    found = [this for this in told if not this.missed]
    seconds = 1000 * np.median([this.seconds for this in told])
    print(f"found {len(found)}/{how_many}, in {seconds:.0f} ms (2 megapixels)")
    typical, most = np.array([this.off for this in found]).T
    print(
        f"lengths off by {np.median(typical):.2%} (median photo), {typical.max():.2%} (worst photo's median)"
    )
    print(f"  95 % of lengths within {np.median(most):.2%} (median photo), {most.max():.2%} (worst)")
    print(f"  photos with 95 % of lengths within 1 %: {(most < 0.01).mean():.0%}")
    for kind in ("white and grey card", "white card", "learnt paper", "paper"):
        pairs = np.array([pair for this in found for pair in this.chips.get(kind, ())])
        if len(pairs):
            inside = np.mean(pairs[:, 0] <= pairs[:, 1])
            print(
                f"{kind:19} chips de00 mean {pairs[:, 0].mean():.2f}, 95 % "
                f"{np.percentile(pairs[:, 0], 95):.2f}; {inside:.0%} of {len(pairs)} within the doubt stated"
            )


if __name__ == "__main__":
    given = [int(argument) for argument in sys.argv[1:]]
    main(*[*given, *(100, 45)[len(given) :]])
