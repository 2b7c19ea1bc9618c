"""How well charts and cards are found and photos corrected, beside OpenCV's own detector and fit.

    python -m benchmarks.calibration [FOLDER...]

Draws charts at any turn, tilt and size on six tables under invented lights and cameras. A FOLDER adds
photos whose truth lies in FOLDER/truth/NAME.json: ``cards`` with ``lab`` and ``polygon_px`` for each card and
each of the chart's 24 patches, and perhaps ``light.white_table_linear_rgb``, a grid of what a white sheet
would give.
Ratios are to OpenCV in the same run; above 1 is better than it.
"""

from __future__ import annotations

import json
import sys
import time
from pathlib import Path

import cv2
import numpy as np

from analyser.colour.difference import delta_e_2000
from analyser.colour.spaces import lab_to_linear, linear_to_lab
from analyser.photo import chart
from analyser.photo.calibration import calibrate
from analyser.photo.chart_finding import find_chart
from analyser.photo.illumination import illumination_field
from analyser.photo.reading import read
from synthetic.charts import Scene, illumination, inner_mean, photo_of, render

REFERENCE = lab_to_linear(chart.editions()["older"])
DRAWN = 60


def any_scene(generator: np.random.Generator, seed: int) -> Scene:
    width, height = ((1200, 800), (800, 1200), (1600, 1200))[int(generator.integers(3))]
    mixed_channels = generator.random() < 0.5
    camera = ((0.75, 0.2, 0.05), (0.1, 0.8, 0.1), (0.02, 0.2, 0.78)) if mixed_channels else np.eye(3)
    lights = ((1.0, 1.0, 1.0), (1.0, 0.47, 0.15), (1.0, 0.75, 0.5), (0.8, 0.95, 1.2))
    return Scene(
        width,
        height,
        edition=str(generator.choice(["first", "older", "newer"])),
        chart_at=(float(generator.uniform(0.3, 0.7)), float(generator.uniform(0.35, 0.65))),
        chart_width=float(generator.uniform(150, 0.6 * min(width, height))),
        turn_deg=float(generator.uniform(0, 360)),
        tilt_deg=float(generator.choice([0, 15, 30, 40, 50])),
        tilt_towards_deg=float(generator.uniform(0, 360)),
        table=str(generator.choice(["white-paper", "grey", "wood", "linen", "felt", "busy"])),
        light_linear=lights[int(generator.integers(4))],
        exposure=float(generator.uniform(0.25, 1.0)),
        falloff=(float(generator.uniform(-0.6, 0.6)), float(generator.uniform(-0.3, 0.3))),
        camera=tuple(map(tuple, camera)),
        contrast=float(generator.choice([0, 0.5, 0.9])),
        noise=float(generator.choice([0.003, 0.008, 0.02])),
        blur=float(generator.choice([0.5, 1, 1.6])),
        jpeg=int(generator.choice([95, 85, 60])),
        seed=seed,
        mirrored=bool(generator.random() < 0.05),
        occluder=bool(generator.random() < 0.1),
    )


def opencv_finds(pixels: np.ndarray, centre: np.ndarray, reach: float) -> bool:
    detector = cv2.mcc.CCheckerDetector.create()
    detector.setColorChartType(cv2.mcc.MCC24)
    detector.setUseDnnModel(False)
    if not detector.process(np.ascontiguousarray(pixels[..., ::-1]), 3):
        return False
    return any(np.hypot(*(c.getBox().mean(axis=0) - centre)) < reach for c in detector.getListColorChecker())


def drawn_charts() -> None:
    generator = np.random.default_rng(7)
    ours = theirs = 0
    centre_errors, errors, our_s, their_s = [], [], [], []
    for seed in range(DRAWN):
        scene = any_scene(generator, seed)
        pixels, surfaces = render(scene)
        polygons = np.array([s.polygon for s in surfaces if s.in_chart])
        start = time.perf_counter()
        found = find_chart(photo_of(pixels), REFERENCE)
        our_s.append(time.perf_counter() - start)
        side = np.sqrt(cv2.contourArea(polygons[8].astype(np.float32)))
        if found is not None:
            gap = np.hypot(*(found.centres() - polygons.mean(axis=1)).T).max() / side
            if gap < 0.25:
                ours += 1
                centre_errors.append(gap)
        start = time.perf_counter()
        theirs += opencv_finds(pixels, polygons.mean(axis=(0, 1)), 0.08 * scene.chart_width)
        their_s.append(time.perf_counter() - start)
        if found is not None and gap < 0.25:
            corrected = calibrate(photo_of(pixels), "chart").corrected(photo_of(pixels)).linear
            for surface in surfaces:
                lab = linear_to_lab(inner_mean(corrected, surface.polygon))
                errors.append(float(delta_e_2000(lab, surface.lab)))
    print(f"drawn charts found {ours}/{DRAWN}; OpenCV's detector {theirs}/{DRAWN}")
    middle, worst = np.median(centre_errors), max(centre_errors)
    print(f"  patch centres off by {middle:.3f} of a patch (median), {worst:.3f} at most")
    print(f"  time, ratio to OpenCV at the same size {np.median(their_s) / np.median(our_s):.2f}")
    print(f"  patches de00 mean {np.mean(errors):.2f}, 95 % {np.percentile(errors, 95):.2f}")


def drawn_fields() -> None:
    print("drawn uneven light: scatter of log light left over, beside what was there")
    for table in ("white-paper", "grey", "wood", "linen", "felt"):
        for falloff, mixed in (((0.7, 0.1), 0.0), ((0.3, -0.3), 0.6)):
            scene = Scene(edition=None, table=table, falloff=falloff, mixed=mixed, exposure=0.8)
            pixels, _ = render(scene)
            field = illumination_field(photo_of(pixels))
            truth = np.log(illumination(scene, 60, 90))
            left = truth if field is None else truth - np.log(field.at(60, 90))
            print(f"  {table:12} mixed {mixed:.1f}: {spread(truth):.4f} -> {spread(left):.4f}")


def spread(logs: np.ndarray) -> float:
    return float((logs - logs.mean(axis=(0, 1))).std())


def opencv_fit(linear: np.ndarray, lab: np.ndarray, train: np.ndarray) -> np.ndarray:
    """OpenCV's 3 x 3 on linear light, fitted on some patches, as Lab of all."""
    colours = np.clip(linear[train], 0, 1)[:, None]
    model = cv2.ccm.ColorCorrectionModel(
        colours, np.ascontiguousarray(lab[train])[:, None], cv2.ccm.COLOR_SPACE_LAB_D65_2
    )
    model.setColorSpace(cv2.ccm.COLOR_SPACE_SRGB)
    model.setCcmType(cv2.ccm.CCM_LINEAR)
    model.setLinearization(cv2.ccm.LINEARIZATION_IDENTITY)
    model.setDistance(cv2.ccm.DISTANCE_CIE2000)
    matrix = model.compute()
    return linear_to_lab(np.clip(linear @ np.asarray(matrix)[:3], 0, None))


def held_out(linear: np.ndarray, used: np.ndarray) -> tuple[float, float]:
    """Mean CIEDE2000 of patches the fit has not seen, two halves in turn: ours and OpenCV's."""
    ours, theirs = [], []
    for half in (0, 1):
        train = used & (np.arange(24) % 2 == half)
        fitted = chart.fit(linear, train, fewest=8)
        lab = chart.editions()[fitted.edition]
        test = used & ~train
        ours += list(delta_e_2000(linear_to_lab(fitted.correction.apply(linear))[test], lab[test]))
        theirs += list(delta_e_2000(opencv_fit(linear, lab, train)[test], lab[test]))
    return float(np.mean(ours)), float(np.mean(theirs))


def of_folder(folder: Path) -> None:
    print(folder.name)
    for path in sorted(folder.glob("truth/*.json")):
        truth = json.loads(path.read_text())
        if not isinstance(truth, dict) or not truth.get("cards"):
            continue
        photo = read(folder / truth["files"][0]["file"], about_pixels=4_000_000)
        start = time.perf_counter()
        calibration = calibrate(photo)
        took = time.perf_counter() - start
        corrected = calibration.corrected(photo).linear
        stated = calibration.uncertainty_de00
        says = f"  {path.stem[:38]:38} {calibration.method:10} {took:4.1f} s  stated {stated:4.1f}"
        patches = truth["cards"].get("chart", {}).get("patches", [])
        if patches:
            errors = [error_of(corrected, patch, photo.scale) for patch in patches]
            says += f"  patches {np.mean(errors):.2f}, 95 % {np.percentile(errors, 95):.2f}"
            found = find_chart(photo, REFERENCE)
            if found is not None:
                ours, theirs = held_out(found.linear, ~found.clipped)
                says += f", held out {ours:.2f} (OpenCV's 3 x 3 {theirs:.2f}, ratio {theirs / ours:.2f})"
        cards = [card for name, card in truth["cards"].items() if name != "chart"]
        if cards:
            says += "  cards " + " ".join(f"{error_of(corrected, card, photo.scale):.2f}" for card in cards)
        grid = truth.get("light", {}).get("white_table_linear_rgb")
        field = illumination_field(photo)
        if grid and field is not None:
            logs = np.log(np.array(grid["values"]))
            left = logs - np.log(field.at(*logs.shape[:2]))
            says += f"  light {spread(logs):.4f} -> {spread(left):.4f}"
        print(says)


def error_of(corrected: np.ndarray, surface: dict, scale: float) -> float:
    lab = linear_to_lab(inner_mean(corrected, np.array(surface["polygon_px"]) / scale))
    return float(delta_e_2000(lab, surface["lab"]))


if __name__ == "__main__":
    cv2.setNumThreads(1)
    drawn_charts()
    drawn_fields()
    for argument in sys.argv[1:]:
        of_folder(Path(argument))
