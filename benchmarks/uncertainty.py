"""Is the stated uncertainty honest? True errors beside stated ones, on pictures whose colours are known.

    python -m benchmarks.uncertainty [--kind KIND]... [--photos N] [--from SEED] [FOLDER...]

Draws, for each kind of calibration (chart, two cards, one card, paper, none, sheet, tray), photos with that
to calibrate by, under lamps, at several exposures; half through a plain camera and half through one like a
phone's where the generator lets choose (curve, mixed channels or more colour, noise, strong JPEG).
Reads colours that the calibration has not seen, and compares. What a photo turns out to be calibrated by is
what counts; sheets are told apart by what lies on them. A FOLDER adds photos with their truth in
FOLDER/truth/NAME.json: cards beside a chart (``lab``, ``polygon_px``), and beads whose pixels
FOLDER/truth/NAME.ids.png marks by index, by colour (``colours``, ``beads``) or heap (``heaps``), with their
``dome_appearance`` under an even white sky.

Honest is, for each kind of calibration with 100 or more colours: 60 to 80 % of true errors within the stated
uncertainty, and where stated ones differ by half or more, a rank correlation of the two of 0.3 or more. The
same is told for the differences of two colours of one photo. All kinds take some minutes on two cores.
"""

from __future__ import annotations

import argparse
import json
import os
import tempfile
from collections import defaultdict
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, field, replace
from multiprocessing import get_context
from pathlib import Path
from typing import Any

import cv2
import numpy as np

from analyser.colour.difference import delta_e_2000
from analyser.colour.spaces import lab_to_linear, linear_to_lab, srgb_to_linear
from analyser.errors import CalibrationError
from analyser.photo.box import Box
from analyser.photo.calibration import Calibration, Card, calibrate
from analyser.photo.reading import Photo, read
from analyser.tray import measuring
from benchmarks import sheet
from synthetic import charts, flatlays, sheets, trays
from synthetic.charts import inner_mean, photo_of

LIGHTS = ((1.0, 1.0, 1.0), (1.0, 0.93, 0.82), (0.85, 0.95, 1.0), (1.0, 0.75, 0.5), (1.0, 0.48, 0.16))
PHONE = ((0.86, 0.11, 0.03), (0.06, 0.88, 0.06), (0.02, 0.14, 0.84))
TABLES = ("grey", "linen", "wood", "felt")
WHITE, GREY = 0.90, 0.18
PHOTOS = {"chart": 32, "two cards": 64, "one card": 48, "paper": 48, "none": 64, "sheet": 48, "tray": 24}
"""How many of each kind are drawn unless told: 100 colours or more of each that is judged."""
SHRUNK = 0.6  # sides of drawn sheets and charts beside those of their own benchmarks, for time's sake
ON_SHEET = ("paper", "learnt paper", "white card", "two cards")
Pairs = list[tuple[float, float]]
HONEST = (0.60, 0.80)
RANKED = 0.3
DIFFER = 1.5  # 90th over 10th percentile of stated uncertainties from which their order is asked about


@dataclass
class Told:
    """Of a calibrated photo: its kind, its camera, and (true error, stated) of colours and of pairs."""

    kind: str
    camera: str
    pairs: Pairs = field(default_factory=list)
    differences: Pairs = field(default_factory=list)


def a_scene(kind: str, seed: int) -> tuple[str, charts.Scene]:
    """Camera and scene of a drawn table with what that kind calibrates by."""
    generator = np.random.default_rng([20, seed])
    phone = seed % 4 >= 2
    cards: tuple[tuple[float, float, float], ...] = ()
    if kind == "two cards":
        cards = ((0.75, 0.4, WHITE), (0.75, 0.75, GREY))
    elif kind == "one card":
        cards = ((0.75, 0.5, WHITE if seed % 8 < 4 else GREY),)
    # a phone balances its white, so only a mild cast is left
    light = LIGHTS[int(generator.integers(3 if phone else len(LIGHTS)))]
    scene = charts.Scene(
        width=round(1200 * SHRUNK),
        height=round(800 * SHRUNK),
        edition=str(generator.choice(["first", "older", "newer"])) if kind == "chart" else None,
        chart_at=(0.4, 0.6),
        chart_width=420 * SHRUNK,
        turn_deg=float(generator.uniform(-30, 30)),
        table="white-paper" if kind == "paper" else str(generator.choice(TABLES)),
        light_linear=light,
        exposure=float(generator.uniform(0.45, 0.95)),
        falloff=(float(generator.uniform(-0.4, 0.4)), float(generator.uniform(-0.2, 0.2))),
        cards=cards,
        card_size=(170 * SHRUNK, 110 * SHRUNK),
        swatch_lab=swatches(generator, 8),
        camera=PHONE if phone else ((1, 0, 0), (0, 1, 0), (0, 0, 1)),
        contrast=float(generator.uniform(0.3, 0.7)) if phone else 0.0,
        noise=0.008 if phone else 0.003,
        jpeg=80 if phone else 93,
        seed=seed,
    )
    return ("phone" if phone else "plain"), scene


def swatches(generator: np.random.Generator, count: int) -> tuple[tuple[float, float, float], ...]:
    """Colours inside sRGB, evenly over hue, from near-black to pale."""
    kept: list[tuple[float, float, float]] = []
    while len(kept) < count:
        hue, chroma = generator.uniform(0, 2 * np.pi), generator.uniform(0, 75)
        lab = float(generator.uniform(12, 92)), float(chroma * np.cos(hue)), float(chroma * np.sin(hue))
        linear = lab_to_linear(lab)
        if linear.min() > 0.002 and linear.max() < 0.95:
            kept.append(lab)
    return tuple(kept)


def of_scene(kind: str, seed: int) -> list[Told]:
    """Swatches of a drawn table."""
    camera, scene = a_scene(kind, seed)
    pixels, surfaces = charts.render(scene)
    photo = photo_of(pixels)
    calibration = calibrate(photo)
    corrected = calibration.corrected(photo).linear
    chips = [surface for surface in surfaces if surface.name.startswith("swatch")]
    seen = [linear_to_lab(inner_mean(corrected, chip.polygon)) for chip in chips]
    return [told_of(calibration, camera, seen, [chip.lab for chip in chips])]


def of_flat_lay(kind: str, seed: int) -> list[Told]:
    """Cloth of a drawn flat-lay, calibrated as it comes, or by a card that is pointed at, or by nothing."""
    case = {"two cards": "both", "one card": flatlays.CARDS[seed // 2 % 2], "paper": "nothing"}.get(kind)
    scene = flatlays.draw(50_000 + seed, case, "paper" if kind == "paper" else None)
    photo = photo_of(scene.pixels)
    ways = []
    if kind == "one card":
        for thing in scene.cards:
            box = Box(*inner_box(thing.polygon))
            try:
                ways.append(calibrate(photo, card=Card(box, "white" if thing.name == "white" else "grey")))
            except CalibrationError:
                continue  # overexposed
    else:
        ways.append(calibrate(photo, no_card=kind == "none"))
    told = []
    for calibration in ways:
        corrected = calibration.corrected(photo).linear
        seen = [linear_to_lab(inner_mean(corrected, thing.polygon)) for thing in scene.colours]
        told.append(told_of(calibration, "phone", seen, [thing.lab for thing in scene.colours]))
    return told


def of_sheet(seed: int) -> list[Told]:
    """Chips on a drawn photo sheet: by its paper as it is, learnt, or by cards on it."""
    on_it = ON_SHEET[seed % len(ON_SHEET)]
    plain = sheet.any_scene(100_000 + seed)
    generator = np.random.default_rng([21, seed])
    scene = replace(
        plain,
        width=round(plain.width * SHRUNK),
        height=round(plain.height * SHRUNK),
        chips=swatches(generator, 10),
        white_card=WHITE if "card" in on_it else None,
        grey_card=GREY if on_it == "two cards" else None,
        covered=None,
        # a phone that bends its curve gives more colour too, as flat-lays have it
        colour=float(generator.uniform(0.05, 0.22)) if plain.contrast else 0.0,
    )
    drawn = sheets.draw(scene)
    photo = drawn.photo()
    with tempfile.TemporaryDirectory() as folder:
        os.environ["XDG_CONFIG_HOME"] = folder  # papers are learnt there
        if on_it == "learnt paper":
            sheet.learnt_from(scene)
        calibration = calibrate(photo)
    corrected = calibration.corrected(photo).linear
    seen, true = [], []
    for number, lab in enumerate(scene.chips):
        inside = drawn.chip_pixels(number)
        if inside.sum() > 100:
            seen.append(linear_to_lab(corrected[inside].mean(axis=0, dtype=float)))
            true.append(np.array(lab))
    told = told_of(calibration, "phone" if scene.contrast else "plain", seen, true)
    if calibration.method == "sheet":
        told.kind = f"sheet, {on_it}"
    return [told]


def of_tray(seed: int) -> list[Told]:
    """Piles of a drawn tray, with cards, one card or none; every other through a phone."""
    generator = np.random.default_rng([22, seed])
    columns, rows = ((4, 3), (3, 2), (4, 2), (5, 3))[seed % 4]
    step = 0.78 / columns
    heaps = [
        trays.Heap(
            lab=lab,
            x=0.05 + step * (0.5 + at % columns),
            y=0.02 + 0.6 / rows * (0.5 + at // columns),
            radius=min(0.36 * step, 0.2 / rows, 0.1),
            gloss=float(generator.uniform(0, 1)),
        )
        for at, lab in enumerate(swatches(generator, columns * rows))
    ]
    tables = (
        (0.85, 0.85, 0.84),
        (0.35, 0.35, 0.36),
        (0.52, 0.42, 0.30),
        (0.03, 0.03, 0.033),
        (0.2, 0.28, 0.45),
    )
    tray = trays.draw(
        heaps,
        table=tables[int(generator.integers(len(tables)))],
        size=(1050, 700),
        cast=LIGHTS[int(generator.integers(len(LIGHTS)))],
        falloff=float(generator.uniform(0.8, 1.25)),
        cards=trays.CARDS[: (2, 1, 2, 0)[seed // 4 % 4]],
        bead=min(0.016, 0.3 * heaps[0].radius),
        seed=seed,
    )
    phone = seed % 2 == 1
    pixels = flatlays.phone(generator, srgb_to_linear(tray.picture / 255.0)) if phone else tray.picture
    photo = photo_of(pixels)
    found = measuring.measure(photo, calibrate(photo, on_table=True))
    told = Told("tray", "phone" if phone else "plain")
    for centre, radius, lab in zip(tray.centres, tray.radii, tray.labs, strict=True):
        near = [pile for pile in found.piles if np.hypot(*np.subtract(pile.centre, centre)) <= 0.6 * radius]
        if near:
            told.pairs.append((float(delta_e_2000(near[0].lab, lab)), near[0].uncertainty_de00))
    return [told]


def told_of(calibration: Calibration, camera: str, seen: list[np.ndarray], true: list[np.ndarray]) -> Told:
    """Errors of colours, and of the differences of any two of them, beside the stated ones."""
    told = Told(kind_of(calibration), camera)
    for one, lab in enumerate(seen):
        told.pairs.append((float(delta_e_2000(lab, true[one])), float(calibration.uncertainty_of(lab))))
        for other in range(one):
            moved = true[one] + seen[other] - true[other]
            stated = float(calibration.uncertainty_of_difference(lab, seen[other]))
            told.differences.append((float(delta_e_2000(lab, moved)), stated))
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


def of_photo(folder: Path, path: Path) -> tuple[str, Told]:
    """A photo with truth; what it was calibrated by is left out."""
    truth = json.loads(path.read_text())
    photo: Photo = read(folder / truth["files"][0]["file"], about_pixels=2_000_000)
    calibration = calibrate(photo)
    corrected = calibration.corrected(photo).linear
    seen: list[tuple[np.ndarray, list[float]]] = []
    if calibration.method == "chart":
        cards = [card for name, card in truth["cards"].items() if name != "chart"]
        seen += [(inner_mean(corrected, np.array(c["polygon_px"]) / photo.scale), c["lab"]) for c in cards]
    ids_file = path.with_name(f"{path.stem}.ids.png")
    if ids_file.exists():
        size = corrected.shape[1::-1]
        ids = cv2.resize(np.asarray(cv2.imread(str(ids_file), -1)), size, interpolation=cv2.INTER_NEAREST)
        seen += [(corrected[np.isin(ids, group)].mean(axis=0), lab) for group, lab in beads_of(truth)]
    labs = [linear_to_lab(linear) for linear, _ in seen]
    told = told_of(calibration, "given", labs, [np.array(lab) for _, lab in seen])
    told.differences.clear()  # beads of one rope are shaded alike: no measure of a camera
    return path.stem, told


def beads_of(truth: dict[str, Any]) -> list[tuple[list[int], list[float]]]:
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


def is_honest(title: str, pairs: Pairs, *, judged: bool = True) -> bool:
    """Print one row of the table; whether a kind with 100 or more colours is within the bounds."""
    table = np.array(pairs).reshape(-1, 2)
    if not len(table):
        return True
    within = float((table[:, 0] <= table[:, 1]).mean())
    low, high = np.percentile(table[:, 1], [10, 90])
    differ = bool(high >= DIFFER * low)
    ranks = rank_correlation(table) if differ else float("nan")
    good = len(table) < 100 or (HONEST[0] <= within <= HONEST[1] and (not differ or ranks >= RANKED))
    middle = "{:5.2f} / {:5.2f}".format(*np.median(table, axis=0))
    says = f"rank correlation {ranks:.2f}" if differ else "stated ones alike"
    verdict = "" if good or not judged else "NOT honest"
    print(f"  {title:20} {len(table):6}  true / stated {middle}  within {within:.2f}  {says:24} {verdict}")
    return good


def drawn(job: tuple[str, int]) -> list[Told]:
    """What one drawn picture tells."""
    kind, seed = job
    if kind == "sheet":
        return of_sheet(seed)
    if kind == "tray":
        return of_tray(seed)
    return of_scene(kind, seed) if kind == "chart" or seed % 2 else of_flat_lay(kind, seed)


def one_thread() -> None:
    """Each process its own core."""
    cv2.setNumThreads(1)


def main(options: argparse.Namespace) -> int:
    by_kind: dict[str, list[Told]] = defaultdict(list)
    kinds = options.kind or list(PHOTOS)
    jobs = [(kind, options.first + n) for kind in kinds for n in range(options.photos or PHOTOS[kind])]
    # children read it when they load their linear algebra
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    with ProcessPoolExecutor(options.processes, get_context("spawn"), one_thread) as pool:
        every = [told for many in pool.map(drawn, jobs, chunksize=2) for told in many]
        for folder in options.folders:
            print(folder)
            for name, told in pool.map(of_photo, *zip(*photos_of(folder), strict=True)):
                if told.pairs:
                    report(f"{name[:22]} {told.kind}", told.pairs)
                every.append(told)
    for told in every:
        by_kind[told.kind].append(told)
    print("colours, by kind of calibration (0.60 to 0.80 within)")
    honest = []
    for kind in sorted(by_kind):
        honest.append(is_honest(kind, [pair for told in by_kind[kind] for pair in told.pairs]))
        for camera in sorted({told.camera for told in by_kind[kind]}):
            part = [pair for told in by_kind[kind] for pair in told.pairs if told.camera == camera]
            if 20 <= len(part) < sum(len(told.pairs) for told in by_kind[kind]):
                is_honest(f"  {camera}", part, judged=False)
    print("differences of two colours of one photo")
    for kind in sorted(by_kind):
        apart = [pair for told in by_kind[kind] for pair in told.differences]
        if apart:
            is_honest(kind, apart, judged=False)
    return 0 if all(honest) else 1


if __name__ == "__main__":
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--kind", action="append", choices=list(PHOTOS))
    parser.add_argument("--photos", type=int, help="of each kind")
    parser.add_argument("--from", dest="first", type=int, default=0, metavar="SEED")
    parser.add_argument("--processes", type=int, default=os.cpu_count())
    parser.add_argument("folders", nargs="*", type=Path, metavar="FOLDER")
    raise SystemExit(main(parser.parse_args()))
