"""How well length, thickness and gauge are told of ropes on a photo sheet.

    python benchmarks/sheet_gauge.py FOLDER...

A FOLDER holds rendered rope photos whose truth lies in FOLDER/truth/NAME.json: ``geometry`` with
``round_pitch_mm``, ``length_mm`` and ``outer_diameter_mm``, ``camera``, the true light, and beside it the
picture of bead numbers, 0 where there is no bead. The table is replaced by a drawn sheet under the same
camera, in a frame large enough to hold it. Each is judged twice: with the lens told in the file, and without.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path

import cv2
import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from analyser.audit.evenness import audit
from analyser.colour.spaces import linear_to_srgb, srgb_to_linear
from analyser.errors import AnalyserError
from analyser.motif.parsing import load
from analyser.photo.calibration import calibrate
from analyser.photo.reading import Photo, read
from analyser.rope.motif_steps import motif_steps
from synthetic.sheets import DIAGONAL_35MM, Scene, printed

MOTIFS = {"chenille": "chenille"}  # of the truth's kinds, those that a shipped motif describes
WIDE_MM, HIGH_MM = 330.0, 240.0
REDUCED = 0.5


def on_sheet(folder: Path, truth: dict, *, lens_told: bool) -> Photo:
    """The photo's rope laid on a sheet, in a wider frame of the same camera."""
    name = truth["files"][0]["file"]
    rope = read(folder / name).linear
    ids = cv2.imread(str(folder / "truth" / truth["rope"]["ids_file"].split("/")[-1]), cv2.IMREAD_UNCHANGED)
    camera = truth["camera"]
    scale = camera["px_per_mm_at_table_centre"]
    focal = scale * camera["distance_mm"]
    width, height = round(WIDE_MM * scale), round(HIGH_MM * scale)
    left, top = (width - rope.shape[1]) // 2, (height - rope.shape[0]) // 2
    y, x = np.mgrid[0:height, 0:width].astype(np.float32)
    rays = np.stack([x + 0.5 - left - rope.shape[1] / 2, y + 0.5 - top - rope.shape[0] / 2], axis=-1)
    at = rays_to_table(rays, focal, np.array(camera["origin_mm"]))
    page = printed(Scene(kind="flat")).transpose(1, 0, 2)[::-1]  # a quarter turn: the long side across
    # the free room's middle under the rope
    places = (at + np.array([116.0, 105.0])) * 6.0 - 0.5
    places = places.astype(np.float32)
    ground = cv2.remap(page, places, None, cv2.INTER_AREA, borderValue=(0.3, 0.22, 0.15))
    light = np.array(truth["light"]["white_table_linear_rgb"]["values"], np.float32)
    light = cv2.resize(light, rope.shape[1::-1])
    pad = (top, height - top - rope.shape[0], left, width - left - rope.shape[1])
    picture = ground * cv2.copyMakeBorder(light, *pad, cv2.BORDER_REPLICATE)
    bead = cv2.dilate((ids > 0).astype(np.uint8), np.ones((3, 3)))
    cover = cv2.GaussianBlur(bead.astype(np.float32), (0, 0), 1.0)[..., None]
    window = np.s_[top : top + rope.shape[0], left : left + rope.shape[1]]
    picture[window] = cover * rope + (1 - cover) * picture[window]
    size = round(width * REDUCED), round(height * REDUCED)
    small = cv2.resize(picture, size, interpolation=cv2.INTER_AREA)
    srgb = np.round(255 * linear_to_srgb(np.clip(small, 0, 1))).astype(np.uint8)
    linear = srgb_to_linear(srgb / 255.0).astype(np.float32)
    told = focal * DIAGONAL_35MM / float(np.hypot(width, height)) if lens_told else None
    clipped = (srgb >= 254).any(axis=2)
    return Photo(linear, None, clipped, name, *size, "sRGB", 1, "0" * 64, focal_35mm=told)


def rays_to_table(rays: np.ndarray, focal: float, eye: np.ndarray) -> np.ndarray:
    """Where rays through pixels (..., 2) meet the table, mm, y down; the camera looks at its middle."""
    away = float(np.linalg.norm(eye))
    ahead = -eye / away
    right = np.array([1.0, 0, 0])
    down = np.cross(ahead, right)
    along = rays[..., :1] * right + rays[..., 1:] * down + focal * ahead
    reach = -eye[2] / along[..., 2]
    met = eye[:2] + reach[..., None] * along[..., :2]
    return met * [1, -1]


def main(folders: list[Path]) -> None:
    errors: dict[str, list[float]] = {}
    inside: dict[str, list[bool]] = {}
    for folder in folders:
        for path in sorted((folder / "truth").glob("rope-*.json")):
            truth = json.loads(path.read_text())
            geometry = truth["geometry"]
            if geometry["kind"] not in MOTIFS:
                continue
            for lens_told in (True, False):
                lens = "lens told" if lens_told else "lens not told"
                photo = on_sheet(folder, truth, lens_told=lens_told)
                calibration = calibrate(photo)
                steps = motif_steps(load(MOTIFS[geometry["kind"]]))
                try:
                    piece = audit(calibration.corrected(photo), calibration, motif=steps)
                except AnalyserError as error:
                    print(f"  {path.stem[:36]:36} {error}")
                    break
                if piece.size is None:
                    print(f"  {path.stem[:36]:36} no size; {calibration.notes}")
                    break
                size, gauge = piece.size, piece.size.gauge
                found = {
                    "length": size.length_mm / geometry["length_mm"] - 1,
                    "thickness": size.thickness_mm / geometry["outer_diameter_mm"] - 1,
                    "bead": size.bead_mm / geometry["bead_mm"]["diameter"] - 1,
                }
                says = f"  {path.stem[:36]:36} {lens:13}"
                if gauge is None:
                    says += " no gauge"
                else:
                    found["gauge"] = gauge.rounds * geometry["round_pitch_mm"] / 50 - 1
                    off = abs(gauge.rounds - 50 / geometry["round_pitch_mm"])
                    inside.setdefault(lens, []).append(off <= gauge.uncertainty)
                    says += f" ±{gauge.uncertainty / gauge.rounds:.2%}"
                for what, share in found.items():
                    errors.setdefault(f"{what}, {lens}", []).append(share)
                print(says, " ".join(f"{what} {share:+.2%}" for what, share in found.items()), flush=True)
    for what, values in errors.items():
        shares = np.abs(values)
        print(f"{what:28} mean {shares.mean():.2%}, worst {shares.max():.2%}, within 2 %: "
              f"{(shares < 0.02).sum()} of {len(shares)}; leans {np.mean(values):+.2%}")  # fmt: skip
    for lens, hits in inside.items():
        print(f"gauge within its doubt, {lens}: {np.mean(hits):.0%} of {len(hits)}")


if __name__ == "__main__":
    main([Path(argument) for argument in sys.argv[1:]])
