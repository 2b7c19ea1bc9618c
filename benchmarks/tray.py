"""How near the measured piles of tray photos come to the truth, and how honest their uncertainty is.

    python -m benchmarks.tray [FOLDER ...]

Measures eight drawn trays (fixed seeds) and, of each FOLDER, the photos whose truth lies in
FOLDER/truth/NAME.json: ``{"files": [{"file"}], "heaps": [{"finish", "centre_px", "radius_px",
"dome_appearance": {"mean": {"lab"}}}]}``. Beside the errors stand those of two peers on the same piles in the
same run: the mean of all pixels of the same outline, and that of a disc of two thirds its radius, which is
how one would do it by hand.
"""

from __future__ import annotations

import argparse
import json
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

import cv2
import numpy as np

from analyser.colour.difference import delta_e_2000
from analyser.colour.spaces import linear_to_lab
from analyser.photo import reading
from analyser.photo.calibration import calibrate
from analyser.tray import measuring
from analyser.tray.measuring import Pile, Tray
from synthetic.trays import Heap, draw

SHINY = ("metallic", "transparent")
TABLES = {
    "white paper": (0.85, 0.85, 0.84),
    "grey": (0.35, 0.35, 0.36),
    "linen": (0.52, 0.42, 0.30),
    "brown wood": (0.32, 0.2, 0.12),
    "black felt": (0.03, 0.03, 0.033),
    "green mat": (0.18, 0.3, 0.2),
    "blue cloth": (0.2, 0.28, 0.45),
    "cream": (0.8, 0.76, 0.66),
}
LIGHTS = ((1.0, 1.0, 1.0), (1.8, 0.85, 0.3))
Truth = tuple[str, str, tuple[float, float], float, np.ndarray]


def drawn_trays(folder: Path) -> Iterator[tuple[Path, list[Truth]]]:
    """Eight trays of one to 24 piles: every table, even and warm light, some of it from one side."""
    for seed, (name, table) in enumerate(TABLES.items()):
        rng = np.random.default_rng(seed)
        columns, rows = ((4, 3), (1, 1), (6, 4), (3, 2), (4, 2), (5, 3), (2, 2), (4, 3))[seed]
        step = 0.78 / columns
        heaps = [
            Heap(
                lab=(float(rng.uniform(10, 92)), float(rng.uniform(-40, 50)), float(rng.uniform(-40, 60))),
                x=0.05 + step * (0.5 + at % columns) + float(rng.normal() * 0.003),
                y=0.02 + 0.6 / rows * (0.5 + at // columns) + float(rng.normal() * 0.003),
                radius=min(0.36 * step, 0.2 / rows, 0.1),
                gloss=float(rng.uniform(0, 1)),
                rim=0.48 * step if seed % 3 == 0 else 0.0,
            )
            for at in range(columns * rows)
        ]
        falloff = (1.0, 1.25)[seed // 2 % 2]
        bead = min(0.016, 0.3 * heaps[0].radius)
        tray = draw(heaps, table=table, cast=LIGHTS[seed % 2], falloff=falloff, bead=bead, seed=seed)
        path = tray.save(folder / f"drawn {seed + 1}, {name}.jpg")
        yield (
            path,
            [
                ("opaque", path.stem, c, r, lab)
                for c, r, lab in zip(tray.centres, tray.radii, tray.labs, strict=True)
            ],
        )


def photos_of(folder: Path) -> Iterator[tuple[Path, list[Truth]]]:
    """Photos with truth files in a folder."""
    for path in sorted((folder / "truth").glob("*.json")):
        truth = json.loads(path.read_text(encoding="utf-8"))
        if not isinstance(truth, dict) or "heaps" not in truth:
            continue
        heaps = [
            (
                h["finish"],
                path.stem,
                tuple(h["centre_px"]),
                h["radius_px"],
                np.array(h["dome_appearance"]["mean"]["lab"]),
            )
            for h in truth["heaps"]
        ]
        yield folder / truth["files"][0]["file"], heaps


def naive(tray: Tray, pile: Pile, grown: float) -> np.ndarray:
    """Lab of all pixels in the pile's outline, or in one shrunk about its middle."""
    scale = tray.photo.scale
    outline = (np.array(pile.centre) + grown * (pile.outline - pile.centre)) / scale
    mask = np.zeros(tray.photo.linear.shape[:2], np.uint8)
    cv2.fillPoly(mask, [np.round(outline).astype(np.int32)], 1)
    return linear_to_lab(tray.photo.linear[mask > 0].mean(axis=0, dtype=float))


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("folders", nargs="*", type=Path)
    folders = parser.parse_args().folders
    with tempfile.TemporaryDirectory() as scratch:
        report("drawn trays", drawn_trays(Path(scratch)))
    if folders:
        report("photos with truth", (each for folder in folders for each in photos_of(folder)))


def report(title: str, trays: Iterator[tuple[Path, list[Truth]]]) -> None:
    """Measure, pair with the truth, print."""
    rows, wanted, invented, seconds = [], 0, 0, []
    for path, truth in trays:
        start = time.process_time()
        photo = reading.read(path, about_pixels=measuring.READ_PIXELS)
        tray = measuring.measure(photo, calibrate(photo, on_table=True))
        seconds.append(time.process_time() - start)
        left = list(tray.piles)
        errors = []
        for finish, _, centre, radius, lab in truth:
            near = [pile for pile in left if np.hypot(*np.subtract(pile.centre, centre)) <= 0.6 * radius]
            if not near:
                continue
            left.remove(near[0])
            looks = np.array([near[0].lab, naive(tray, near[0], 1.0), naive(tray, near[0], 0.67)])
            errors.append(delta_e_2000(looks, lab))
            rows.append((finish, *errors[-1], near[0].uncertainty_de00))
        wanted += len(truth)
        invented += len(left)
        middle = f"{np.median(errors, axis=0)[0]:.2f}" if errors else "-"
        print(f"  {path.stem}: {len(errors)}/{len(truth)} found, {len(left)} invented, median {middle}")
    print(f"{title}: {len(rows)}/{wanted} piles found, {invented} invented, {np.median(seconds):.1f} s each")
    for name, group in (
        ("opaque and matte", [row for row in rows if row[0] not in SHINY]),
        ("metallic and transparent", [row for row in rows if row[0] in SHINY]),
    ):
        if not group:
            continue
        own, outline, disc, stated = np.array([row[1:] for row in group], float).T
        print(
            f"  {name}, median / 90 %: {_both(own)}; whole outline {_both(outline)}; inner disc {_both(disc)}"
        )
        print(f"    within the stated {np.median(stated):.1f}: {np.mean(own <= stated):.2f}")


def _both(errors: np.ndarray) -> str:
    return f"{np.median(errors):.2f} / {np.percentile(errors, 90):.2f}"


if __name__ == "__main__":
    main()
