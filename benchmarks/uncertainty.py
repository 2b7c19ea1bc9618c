"""Is the stated uncertainty honest? True errors beside stated ones, on pictures whose colours are known.

    python -m benchmarks.uncertainty [FOLDER...]

Draws scenes with a chart, cards, white paper or nothing to calibrate by, under invented lights, half of them
through a camera like a phone's (curve, mixed channels, noise, strong JPEG), and flat-lays with phone look
under seven lamps at four exposures; reads colours that the calibration has not seen, and compares. A FOLDER
adds photos with their truth in FOLDER/truth/NAME.json: cards beside a chart (``lab``, ``polygon_px``), and
beads whose pixels FOLDER/truth/NAME.ids.png marks by index, by colour (``colours``, ``beads``) or heap
(``heaps``), with their ``dome_appearance`` under an even white sky.

Honest is, for each kind of calibration with 100 or more colours: 60 to 80 % of true errors within the stated
uncertainty, and where stated ones differ by half or more, a rank correlation of the two of 0.3 or more. The
same is told for the differences of two colours of one photo.
"""

from __future__ import annotations

import json
import os
import sys
from collections import defaultdict
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

import cv2
import numpy as np

from analyser.colour.difference import delta_e_2000
from analyser.colour.spaces import lab_to_linear, linear_to_lab
from analyser.errors import CalibrationError
from analyser.photo.box import Box
from analyser.photo.calibration import Calibration, Card, calibrate
from analyser.photo.reading import read
from benchmarks import sheet
from synthetic.charts import Scene, inner_mean, photo_of, render
from synthetic.flatlays import CARDS, FlatLay, draw

LIGHTS = ((1.0, 1.0, 1.0), (1.0, 0.93, 0.82), (0.85, 0.95, 1.0), (1.0, 0.75, 0.5), (1.0, 0.48, 0.16))
PHONE = ((0.86, 0.11, 0.03), (0.06, 0.88, 0.06), (0.02, 0.14, 0.84))
TABLES = ("grey", "linen", "wood", "felt")
SCENES = 192
FLAT_LAYS = 320
SHEETS = 12
Pairs = list[tuple[float, float]]
HONEST = (0.60, 0.80)
RANKED = 0.3
DIFFER = 1.5  # 90th over 10th percentile of stated uncertainties from which their order is asked about


def scenes() -> list[tuple[str, Scene]]:
    """What is drawn: six ways to calibrate in turn, with straight and phone-like cameras in turn."""
    generator = np.random.default_rng(20)
    drawn = []
    for number in range(SCENES):
        way = ("chart", "chart", "two cards", "white card", "grey card", "paper", "none", "none")[number % 8]
        phone = number // 8 % 2 == 1
        cards = {
            "two cards": ((0.75, 0.4, 0.9), (0.75, 0.75, 0.18)),
            "white card": ((0.75, 0.5, 0.9),),
            "grey card": ((0.75, 0.5, 0.18),),
        }.get(way, ())
        # a phone balances its white, so only a mild cast is left
        light = LIGHTS[int(generator.integers(3 if phone else len(LIGHTS)))]
        scene = Scene(
            edition=str(generator.choice(["first", "older", "newer"])) if way == "chart" else None,
            chart_at=(0.4, 0.6),
            turn_deg=float(generator.uniform(-30, 30)),
            table="white-paper" if way == "paper" else str(generator.choice(TABLES)),
            light_linear=light,
            exposure=float(generator.uniform(0.45, 0.95)),
            falloff=(float(generator.uniform(-0.4, 0.4)), float(generator.uniform(-0.2, 0.2))),
            cards=cards,
            swatch_lab=tuple(map(tuple, swatches(generator, 8))),
            camera=PHONE if phone else ((1, 0, 0), (0, 1, 0), (0, 0, 1)),
            contrast=float(generator.uniform(0.3, 0.7)) if phone else 0.0,
            noise=0.008 if phone else 0.003,
            jpeg=80 if phone else 93,
            seed=number,
        )
        drawn.append((way, scene))
    return drawn


def swatches(generator: np.random.Generator, count: int) -> list[list[float]]:
    """Colours inside sRGB, evenly over hue, from near-black to pale."""
    kept: list[list[float]] = []
    while len(kept) < count:
        hue, chroma = generator.uniform(0, 2 * np.pi), generator.uniform(0, 75)
        lab = [float(generator.uniform(12, 92)), float(chroma * np.cos(hue)), float(chroma * np.sin(hue))]
        linear = lab_to_linear(lab)
        if linear.min() > 0.002 and linear.max() < 0.95:
            kept.append(lab)
    return kept


def of_scene(scene: Scene) -> tuple[str, Pairs]:
    """Kind of calibration, and (true error, stated uncertainty) of each swatch."""
    pixels, surfaces = render(scene)
    photo = photo_of(pixels)
    calibration = calibrate(photo)
    corrected = calibration.corrected(photo).linear
    pairs = []
    for surface in surfaces:
        if surface.name.startswith("swatch"):
            lab = linear_to_lab(inner_mean(corrected, surface.polygon))
            error = float(delta_e_2000(lab, surface.lab))
            pairs.append((error, float(calibration.uncertainty_of(lab))))
    return kind_of(calibration), pairs


def of_flat_lay(scene: FlatLay) -> list[tuple[str, Pairs, Pairs]]:
    """For each way to calibrate it: kind, pairs of its colours, and pairs of their differences."""
    photo = photo_of(scene.pixels)
    ways = [calibrate(photo), calibrate(photo, no_card=True)]
    for thing in scene.cards:
        box = Box(*inner_box(thing.polygon))
        try:
            ways.append(calibrate(photo, card=Card(box, "white" if thing.name == "white" else "grey")))
        except CalibrationError:
            continue  # overexposed
    told = []
    for calibration in ways:
        corrected = calibration.corrected(photo).linear
        seen = [linear_to_lab(inner_mean(corrected, thing.polygon)) for thing in scene.colours]
        pairs = [
            (float(delta_e_2000(lab, thing.lab)), float(calibration.uncertainty_of(lab)))
            for lab, thing in zip(seen, scene.colours, strict=True)
        ]
        differences = []
        for one in range(len(seen)):
            for other in range(one):
                moved = scene.colours[one].lab + seen[other] - scene.colours[other].lab
                stated = float(calibration.uncertainty_of_difference(seen[one], seen[other]))
                differences.append((float(delta_e_2000(seen[one], moved)), stated))
        told.append((kind_of(calibration), pairs, differences))
    return told


def kind_of(calibration: Calibration) -> str:
    """The kind of calibration as the table names it."""
    if calibration.method in ("white-card", "grey-card"):
        return "two cards" if len(calibration.outline) == 2 else "one card"
    return calibration.method


def inner_box(polygon: np.ndarray) -> tuple[float, float, float, float]:
    x, y = polygon.mean(axis=0)
    side = 0.45 * float(np.hypot(*(polygon - np.roll(polygon, 1, axis=0)).T).min())
    return float(x - side / 2), float(y - side / 2), side, side


def photos_of(folder: Path) -> list[tuple[Path, Path]]:
    """(folder, truth file) of its photos with truth."""
    return [(folder, path) for path in sorted(folder.glob("truth/*.json")) if '"files"' in path.read_text()]


def of_photo(folder: Path, path: Path) -> tuple[str, str, Pairs]:
    """(photo, kind, pairs) of a photo with truth; what it was calibrated by is left out."""
    truth = json.loads(path.read_text())
    photo = read(folder / truth["files"][0]["file"], about_pixels=2_000_000)
    calibration = calibrate(photo)
    corrected = calibration.corrected(photo).linear
    seen: list[tuple[np.ndarray, list[float]]] = []
    if calibration.method == "chart":
        cards = [card for name, card in truth["cards"].items() if name != "chart"]
        seen += [(inner_mean(corrected, np.array(c["polygon_px"]) / photo.scale), c["lab"]) for c in cards]
    ids_file = path.with_name(f"{path.stem}.ids.png")
    if ids_file.exists():
        size = corrected.shape[1::-1]
        ids = cv2.resize(cv2.imread(str(ids_file), -1), size, interpolation=cv2.INTER_NEAREST)
        seen += [(corrected[np.isin(ids, group)].mean(axis=0), lab) for group, lab in beads_of(truth)]
    pairs = []
    for linear, true_lab in seen:
        lab = linear_to_lab(linear)
        pairs.append((float(delta_e_2000(lab, true_lab)), float(calibration.uncertainty_of(lab))))
    return path.stem, kind_of(calibration), pairs


def beads_of(truth: dict) -> list[tuple[list[int], list[float]]]:
    """Indices of the beads of each colour, and how they look under an even white sky."""
    groups = []
    for heap in truth.get("heaps", []):
        indices = list(range(heap["first_bead"], heap["last_bead"] + 1))
        groups.append((indices, heap["dome_appearance"]["mean"]["lab"]))
    for name, colour in truth.get("colours", {}).items():
        indices = [bead["index"] for bead in truth["beads"] if bead["painted"] == name]
        if len(indices) >= 20:  # a stray bead or two are too few pixels
            groups.append((indices, colour["dome_appearance"]["lab"]))
    return groups


def rank_correlation(pairs: np.ndarray) -> float:
    from scipy.stats import spearmanr

    return float(spearmanr(pairs[:, 0], pairs[:, 1]).statistic)


def report(title: str, pairs: Pairs) -> None:
    table = np.array(pairs)
    within = (table[:, 0] <= table[:, 1]).mean()
    true = f"true median {np.median(table[:, 0]):5.2f}, 68 % {np.percentile(table[:, 0], 68):5.2f}"
    stated = f"stated median {np.median(table[:, 1]):5.2f}"
    print(f"  {title:36} {len(table):5} colours  {true}  {stated}  within {within:.2f}")


def is_honest(title: str, pairs: Pairs) -> bool:
    """Print one row of the table; whether a kind with 100 or more colours is within the bounds."""
    table = np.array(pairs)
    within = float((table[:, 0] <= table[:, 1]).mean())
    low, high = np.percentile(table[:, 1], [10, 90])
    differ = bool(high >= DIFFER * low)
    ranks = rank_correlation(table) if differ else float("nan")
    good = len(table) < 100 or (HONEST[0] <= within <= HONEST[1] and (not differ or ranks >= RANKED))
    says = f"rank correlation {ranks:.2f}" if differ else "stated ones alike"
    print(f"  {title:24} {len(table):6}  within {within:.2f}  {says:24} {'' if good else 'NOT honest'}")
    return good


def of_sheet(number: int) -> list[tuple[str, Pairs, Pairs]]:
    """Colours on a drawn photo sheet: by its paper as it is, learnt, or by cards on it."""
    told = sheet.one(number, True)
    return [("sheet", pairs, []) for pairs in told.chips.values()]


def drawn(job: tuple[str, int]) -> list[tuple[str, Pairs, Pairs]]:
    """What one drawn picture tells: kind of calibration, pairs of its colours and of their differences."""
    what, number = job
    if what == "scene":
        kind, pairs = of_scene(scenes()[number][1])
        return [(kind, pairs, [])]
    if what == "sheet":
        return of_sheet(number)
    return of_flat_lay(draw(50_000 + number, CARDS[number % len(CARDS)] if number % 2 else None))


def main(folders: list[Path]) -> int:
    by_kind: dict[str, Pairs] = defaultdict(list)
    apart: dict[str, Pairs] = defaultdict(list)
    jobs = [("scene", number) for number in range(SCENES)]
    jobs += [("flat-lay", number) for number in range(FLAT_LAYS)]
    jobs += [("sheet", number) for number in range(SHEETS)]
    with ProcessPoolExecutor(os.cpu_count(), initializer=cv2.setNumThreads, initargs=(1,)) as pool:
        told = [one for many in pool.map(drawn, jobs, chunksize=4) for one in many]
        for folder in folders:
            print(folder)
            for name, kind, pairs in pool.map(of_photo, *zip(*photos_of(folder), strict=True)):
                if pairs:
                    report(f"{name[:22]} {kind}", pairs)
                told.append((kind, pairs, []))
    for kind, pairs, differences in told:
        by_kind[kind] += pairs
        apart[kind] += differences
    print("colours, by kind of calibration (0.60 to 0.80 within)")
    honest = [is_honest(kind, by_kind[kind]) for kind in sorted(by_kind)]
    print("differences of two colours of one photo")
    for kind in sorted(apart):
        if apart[kind]:
            is_honest(kind, apart[kind])
    return 0 if all(honest) else 1


if __name__ == "__main__":
    raise SystemExit(main([Path(argument) for argument in sys.argv[1:]]))
