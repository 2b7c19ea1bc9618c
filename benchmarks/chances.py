"""Are the chances of beads honest? Drawn photos of colours whose bead is known.

    python -m benchmarks.chances [PHOTOS [PROCESSES [FROM]]]

Draws photos without a reference, with white paper, one card, two cards, a chart, and on the photo sheet (its
paper learnt or not), half of them through a camera like a phone's. Each shows swatches in the colours of
beads, half of them of the demo list, half of invented beads added to it. Prints for each way how often the
true bead is the likeliest and among the three likeliest, then nominal against observed chances in five bins,
and the Brier score. The same is told once more with two of the eight beads taken out of the list: right is
then the nearest bead left where half the observers accept it, else none. FROM is the number of the first
photo: another one draws others.

Honest is: observed within 0.1 of nominal in every bin with 30 answers or more, and four in five of those told
"very likely" right.
"""

from __future__ import annotations

import dataclasses
import os
import sys
import tempfile
from collections import Counter, defaultdict
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from analyser.colour.difference import delta_e_2000
from analyser.colour.spaces import linear_to_lab
from analyser.colourway import chances
from analyser.photo.calibration import Calibration, calibrate
from analyser.stock.list import stock_list
from benchmarks.sheet import learnt_from
from benchmarks.uncertainty import LIGHTS, PHONE, TABLES, swatches
from synthetic import sheets
from synthetic.charts import Scene, inner_mean, photo_of, render

DEMO = Path(__file__).resolve().parents[1] / "palettes" / "demo-stock.csv"
WAYS = ("none", "paper", "white card", "grey card", "two cards", "chart", "sheet", "sheet learnt")
SWATCHES = 8
CARDS = {
    "two cards": ((0.75, 0.4, 0.9), (0.75, 0.75, 0.18)),
    "white card": ((0.75, 0.5, 0.9),),
    "grey card": ((0.75, 0.5, 0.18),),
}
VERY_LIKELY = 0.8


def scene(way: str, number: int, generator: np.random.Generator, labs: np.ndarray) -> Scene:
    """A photo of swatches in those colours, its colours given away by ``way``."""
    phone = number % 2 == 1
    light = LIGHTS[int(generator.integers(3 if phone else len(LIGHTS)))]
    return Scene(
        edition=str(generator.choice(["first", "older", "newer"])) if way == "chart" else None,
        chart_at=(0.4, 0.6),
        turn_deg=float(generator.uniform(-30, 30)),
        table="white-paper" if way == "paper" else str(generator.choice(TABLES)),
        light_linear=light,
        exposure=float(generator.uniform(0.45, 0.95)),
        falloff=(float(generator.uniform(-0.3, 0.3)), float(generator.uniform(-0.2, 0.2))),
        cards=CARDS.get(way, ()),
        swatch_lab=tuple((float(a), float(b), float(c)) for a, b, c in labs),
        camera=PHONE if phone else ((1, 0, 0), (0, 1, 0), (0, 0, 1)),
        contrast=float(generator.uniform(0.3, 0.7)) if phone else 0.0,
        noise=0.008 if phone else 0.003,
        jpeg=80 if phone else 93,
        seed=1000 + number,
    )


@dataclasses.dataclass(frozen=True)
class Trial:
    """A photo: how it was calibrated, what was read, the beads and which of them are true."""

    way: str
    method: str
    labs: np.ndarray
    shared_de00: float
    own_de00: np.ndarray
    beads: np.ndarray
    true: np.ndarray


def trial(way: str, number: int) -> Trial:
    """One drawn photo."""
    generator = np.random.default_rng([7, number, WAYS.index(way)])
    box = [bead for bead in stock_list.read(DEMO).coloured if bead.size == "11/0" and bead.shape == "round"]
    own = np.array([bead.lab for bead in {bead.id: bead for bead in box}.values()])
    chosen = generator.choice(len(own), SWATCHES // 2, replace=False)
    added = np.array(swatches(generator, SWATCHES // 2))
    beads = np.vstack([own, added])
    true = np.concatenate([chosen, len(own) + np.arange(len(added))])
    read = on_sheet if way.startswith("sheet") else on_table
    calibration, labs = read(way, number, generator, beads[true])
    shared = calibration.light_uncertainty_de00
    stated = calibration.uncertainty_of(labs)
    own_doubt = np.sqrt(np.maximum(stated**2 - shared**2, 0.0))
    return Trial(way, calibration.method, labs, shared, own_doubt, beads, true)


def on_table(
    way: str, number: int, generator: np.random.Generator, labs: np.ndarray
) -> tuple[Calibration, np.ndarray]:
    """A photo of swatches on a table, calibrated, and the colours read from it."""
    pixels, surfaces = render(scene(way, number, generator, labs))
    photo = photo_of(pixels)
    calibration = calibrate(photo)
    corrected = calibration.corrected(photo).linear
    seen = [surface for surface in surfaces if surface.name.startswith("swatch")]
    return calibration, np.array([linear_to_lab(inner_mean(corrected, surface.polygon)) for surface in seen])


def on_sheet(
    way: str, number: int, generator: np.random.Generator, labs: np.ndarray
) -> tuple[Calibration, np.ndarray]:
    """A photo of chips on the photo sheet, calibrated, and the colours read from it."""
    phone = number % 2 == 1
    white = generator.uniform(0.78, 0.9) * np.array(
        [generator.uniform(0.95, 1), 1, generator.uniform(0.92, 1.06)]
    )
    taken = sheets.Scene(
        name=str(generator.choice(["fern", "iris", "elder"])),
        paper_linear=(float(white[0]), float(white[1]), float(white[2])),
        chips=tuple((float(a), float(b), float(c)) for a, b, c in labs),
        tilt=float(generator.uniform(0, 20)),
        turn=float(generator.uniform(-15, 15)),
        light_linear=LIGHTS[int(generator.integers(3 if phone else len(LIGHTS)))],
        exposure=float(generator.uniform(0.45, 0.95)),
        falloff=(float(generator.uniform(-0.3, 0.3)), float(generator.uniform(-0.2, 0.2))),
        contrast=float(generator.uniform(0.3, 0.7)) if phone else 0.0,
        noise=0.008 if phone else 0.003,
        jpeg=80 if phone else 93,
        seed=5000 + number,
    )
    drawn = sheets.draw(taken)
    if way == "sheet learnt":
        learnt_from(taken)
    photo = drawn.photo()
    calibration = calibrate(photo)
    corrected = calibration.corrected(photo).linear
    read = [corrected[drawn.chip_pixels(chip)].mean(axis=0, dtype=float) for chip in range(len(labs))]
    return calibration, linear_to_lab(np.array(read))


def chances_of(one: Trial) -> np.ndarray:
    """Chance of each bead for each colour, shape (m, n)."""
    table = np.zeros((len(one.labs), len(one.beads)))
    beads, chance = chances.chances(one.labs, one.beads, shared_de00=one.shared_de00, own_de00=one.own_de00)
    np.put_along_axis(table, beads, chance, axis=1)
    return table


def not_all_owned(one: Trial, number: int) -> Trial:
    """The same photo with the beads of two of its colours not in the list; -1 where none is right."""
    generator = np.random.default_rng([8, number])
    missing = generator.choice(len(one.true), 2, replace=False)
    kept = np.ones(len(one.beads), dtype=bool)
    kept[one.true[missing]] = False
    beads = one.beads[kept]
    true = (np.cumsum(kept) - 1)[one.true]
    off = delta_e_2000(one.beads[one.true[missing], None], beads[None])
    true[missing] = np.where(off.min(axis=1) <= chances.ACCEPTED_DE00, off.argmin(axis=1), -1)
    return dataclasses.replace(one, beads=beads, true=true)


def report(title: str, trials: list[Trial]) -> None:
    """How often right, and how honest."""
    tables = [chances_of(one) for one in trials]
    first = best = count = 0
    told, right = [], []
    for one, table in zip(trials, tables, strict=True):
        order = np.argsort(-table, axis=1, kind="stable")
        first += int((order[:, 0] == one.true).sum())
        best += int((order[:, :3] == one.true[:, None]).any(axis=1).sum())
        count += len(one.true)
        said = np.zeros(table.shape, dtype=bool)
        known = one.true >= 0
        said[np.flatnonzero(known), one.true[known]] = True
        shown = np.arange(len(one.true))[:, None], order[:, :3]  # what an answer shows: three beads a colour
        told.append(table[shown].ravel())
        right.append(said[shown].ravel())
    chance, hit = np.concatenate(told), np.concatenate(right)
    sure = chance >= VERY_LIKELY
    brier = float(np.mean((chance - hit) ** 2))
    print(f"\n{title}: {len(trials)} photos, {count} colours")
    methods = Counter(one.method for one in trials)
    print("  calibrated by " + ", ".join(f"{method} {times}" for method, times in methods.most_common()))
    print(f"  likeliest right {first / count:.0%}, among the three {best / count:.0%}, Brier {brier:.3f}")
    told_so = hit[sure].mean() if sure.any() else 0.0
    print(f"  'very likely': {sure.sum() / count:.0%} of colours, {told_so:.0%} right")
    for low in np.arange(0, 1, 0.2):
        inside = (chance >= low) & (chance < low + 0.2 + (low > 0.7))
        if inside.any():
            off = chance[inside].mean() - hit[inside].mean()
            print(
                f"  {low:.1f} to {low + 0.2:.1f}: {inside.sum():5d} told {chance[inside].mean():.2f}, "
                f"observed {hit[inside].mean():.2f}, off {off:+.2f}"
            )


def drawn(number: int) -> Trial:
    """A photo by its number; what is learnt of a sheet's paper is kept for it alone."""
    with tempfile.TemporaryDirectory() as folder:
        os.environ["XDG_CONFIG_HOME"] = folder
        return trial(WAYS[number % len(WAYS)], number // len(WAYS))


def main(photos: int, processes: int, first: int) -> None:
    """Draw, ask and compare."""
    groups: dict[str, list[Trial]] = defaultdict(list)
    with ProcessPoolExecutor(processes) as pool:
        for one in pool.map(drawn, range(first, first + photos)):
            groups[one.way].append(one)
    for way, trials in groups.items():
        report(way, trials)
    everything = [one for trials in groups.values() for one in trials]
    report("all", everything)
    report("all, two colours of eight not owned", [not_all_owned(one, k) for k, one in enumerate(everything)])


if __name__ == "__main__":
    given = [int(argument) for argument in sys.argv[1:]]
    main(*[*given, *(240, 2, 0)[len(given) :]])
