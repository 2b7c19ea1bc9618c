"""Is the stated uncertainty honest? True errors beside stated ones, on pictures whose colours are known.

    python -m benchmarks.uncertainty [FOLDER...]

Draws scenes with a chart, cards, white paper or nothing to calibrate by, under invented lights, half of them
through a camera like a phone's (curve, mixed channels, noise, strong JPEG), reads swatches that the
calibration has not seen, and compares. A FOLDER adds photos with their truth in FOLDER/truth/NAME.json: cards
beside a chart (``lab``, ``polygon_px``), and beads whose pixels FOLDER/truth/NAME.ids.png marks by index, by
colour (``colours``, ``beads``) or heap (``heaps``), with their ``dome_appearance`` under an even white sky.

Honest is: 55 to 85 % of true errors within the stated uncertainty, and rank correlation of the two above 0.3.
"""

from __future__ import annotations

import json
import sys
from collections import defaultdict
from pathlib import Path

import cv2
import numpy as np

from analyser.colour.difference import delta_e_2000
from analyser.colour.spaces import lab_to_linear, linear_to_lab
from analyser.photo.calibration import calibrate
from analyser.photo.reading import read
from synthetic.charts import Scene, inner_mean, photo_of, render

LIGHTS = ((1.0, 1.0, 1.0), (1.0, 0.93, 0.82), (0.85, 0.95, 1.0), (1.0, 0.75, 0.5), (1.0, 0.48, 0.16))
PHONE = ((0.86, 0.11, 0.03), (0.06, 0.88, 0.06), (0.02, 0.14, 0.84))
TABLES = ("grey", "linen", "wood", "felt")
SCENES = 48


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


def of_scene(scene: Scene) -> tuple[str, list[tuple[float, float]]]:
    """Method used, and (true error, stated uncertainty) of each swatch."""
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
    return calibration.method, pairs


def of_folder(folder: Path) -> list[tuple[str, str, list[tuple[float, float]]]]:
    """(photo, method, pairs) of the photos with truth; what they were calibrated by is left out."""
    found = []
    for path in sorted(folder.glob("truth/*.json")):
        truth = json.loads(path.read_text())
        if not isinstance(truth, dict) or "files" not in truth:
            continue
        photo = read(folder / truth["files"][0]["file"], about_pixels=2_000_000)
        calibration = calibrate(photo)
        corrected = calibration.corrected(photo).linear
        seen: list[tuple[np.ndarray, list[float]]] = []
        if calibration.method == "chart":
            cards = [card for name, card in truth["cards"].items() if name != "chart"]
            seen += [
                (inner_mean(corrected, np.array(c["polygon_px"]) / photo.scale), c["lab"]) for c in cards
            ]
        ids_file = path.with_name(f"{path.stem}.ids.png")
        if ids_file.exists():
            size = corrected.shape[1::-1]
            ids = cv2.resize(cv2.imread(str(ids_file), -1), size, interpolation=cv2.INTER_NEAREST)
            seen += [(corrected[np.isin(ids, group)].mean(axis=0), lab) for group, lab in beads_of(truth)]
        pairs = []
        for linear, true_lab in seen:
            lab = linear_to_lab(linear)
            pairs.append((float(delta_e_2000(lab, true_lab)), float(calibration.uncertainty_of(lab))))
        if pairs:
            found.append((path.stem, calibration.method, pairs))
    return found


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


def report(title: str, pairs: list[tuple[float, float]]) -> None:
    table = np.array(pairs)
    within = (table[:, 0] <= table[:, 1]).mean()
    true = f"true median {np.median(table[:, 0]):5.2f}, 68 % {np.percentile(table[:, 0], 68):5.2f}"
    stated = f"stated median {np.median(table[:, 1]):5.2f}"
    print(f"  {title:36} {len(table):4} colours  {true}  {stated}  within {within:.2f}")


def main(folders: list[Path]) -> int:
    by_way: dict[str, list[tuple[float, float]]] = defaultdict(list)
    everything: list[tuple[float, float]] = []
    photos = 0
    for way, scene in scenes():
        method, pairs = of_scene(scene)
        camera = "phone" if scene.contrast else "straight"
        by_way[f"{way}, {camera}, as {method}"] += pairs
        everything += pairs
        photos += 1
    print("drawn scenes")
    for title in sorted(by_way):
        report(title, by_way[title])
    for folder in folders:
        print(folder)
        for name, method, pairs in of_folder(folder):
            report(f"{name[:22]} {method}", pairs)
            everything += pairs
            photos += 1
    table = np.array(everything)
    within = float((table[:, 0] <= table[:, 1]).mean())
    ranks = rank_correlation(table)
    honest = 0.55 <= within <= 0.85 and ranks > 0.3
    print(
        f"{len(table)} colours of {photos} photos: {within:.2f} within the stated uncertainty (0.55 to 0.85),"
    )
    print(
        f"rank correlation of true and stated {ranks:.2f} (above 0.3): {'honest' if honest else 'NOT honest'}"
    )
    return 0 if honest else 1


if __name__ == "__main__":
    raise SystemExit(main([Path(argument) for argument in sys.argv[1:]]))
