"""How well the looks of surfaces under lamps are foretold from their colour in daylight.

``python -m benchmarks.lamps`` prints it for a chart's 24 patches, each pair foretold by a fit that has not
seen the two: of the pairs that come nearer under a lamp, how many are warned of, and how many warnings are
false.
``--write`` writes ``analyser/colour/data/surfaces.csv`` anew, fitted to all patches.

Spectra: measured by Ohta (1997), under CIE illuminants (``tests/published/chart24-under-lights.csv``).
"""

from __future__ import annotations

import csv
import sys
from itertools import combinations
from pathlib import Path

import numpy as np

from analyser.arrays import FloatArray
from analyser.colour import adaptation
from analyser.colour.difference import delta_e_2000
from analyser.colour.spaces import D65_XYZ, xyz_to_lab
from analyser.colourway.reasons import LAMP_TAKES_DE00, LAMP_TAKES_PART

ROOT = Path(__file__).parents[1]
CHART = ROOT / "tests" / "published" / "chart24-under-lights.csv"
TABLE = ROOT / "analyser" / "colour" / "data" / "surfaces.csv"
LAMPS = ("A", "FL2", "FL11", "LED-B1", "LED-B2", "LED-B3", "LED-B5")
COMES_NEARER = 2.0, 0.15
"""A pair comes nearer under a lamp when it loses so much CIEDE2000, and such a part of its difference."""


def chart() -> dict[str, FloatArray]:
    """XYZ of the patches under each light, relative to its white."""
    rows = list(csv.DictReader(CHART.read_text(encoding="utf-8").splitlines()))
    found = {}
    for light in ("D65", *LAMPS):
        xyz = np.array([[float(row[part]) for part in "XYZ"] for row in rows if row["light"] == light])
        found[light] = xyz / adaptation.illuminants()[light].xyz
    return found


def fit(daylight: FloatArray, lamp: FloatArray) -> FloatArray:
    """Least squares of ``adaptation.terms`` on XYZ under a lamp, dark ones weighed up; white stays white."""
    terms, white = adaptation.terms(daylight), 1e4 * np.ones((1, 6))
    rows = []
    for part in lamp.T:
        weight = np.maximum(part, 0.02) ** (-1 / 3)
        wanted = np.append(part * weight, 1e4)
        rows.append(np.linalg.lstsq(np.vstack([terms * weight[:, None], white]), wanted, rcond=None)[0])
    return np.array(rows)


def write() -> None:
    """Write the table of all lamps."""
    seen = chart()
    lines = ["name,of,X,Y,Z,root_XY,root_YZ,root_ZX"]
    for light in LAMPS:
        for part, row in zip("XYZ", fit(seen["D65"], seen[light]), strict=True):
            lines.append(f"{light},{part}," + ",".join(f"{value:.7f}" for value in row))
    TABLE.write_text("\n".join(lines) + "\n", encoding="utf-8")


def main() -> None:
    """Print the errors, and the warnings."""
    seen = chart()
    lab = xyz_to_lab(seen["D65"] * D65_XYZ)
    pairs = list(combinations(range(len(lab)), 2))
    day = np.array([float(delta_e_2000(lab[one], lab[two])) for one, two in pairs])
    print(
        "| light | patches off, mean / worst | pairs nearer | warned of | false warnings |\n"
        "| --- | --- | --- | --- | --- |"
    )
    for name, lights in adaptation.LIGHTS.items():
        if name == "daylight":
            continue
        off: list[float] = []
        true, foretold = np.full(len(pairs), np.inf), np.full(len(pairs), np.inf)
        for light in lights:
            white = np.array(adaptation.illuminants()[light].xyz)
            truth = xyz_to_lab(seen[light] * white, white)
            for place, pair in enumerate(pairs):
                others = np.setdiff1d(np.arange(len(lab)), pair)
                told = (
                    adaptation.terms(seen["D65"][list(pair)])
                    @ fit(seen["D65"][others], seen[light][others]).T
                )
                told = xyz_to_lab(told * white, white)
                off.extend(delta_e_2000(told, truth[list(pair)]).tolist())
                true[place] = min(true[place], float(delta_e_2000(*truth[list(pair)])))
                foretold[place] = min(foretold[place], float(delta_e_2000(*told)))
        nearer = day - true >= np.maximum(COMES_NEARER[0], COMES_NEARER[1] * day)
        warned = day - foretold >= np.maximum(LAMP_TAKES_DE00, LAMP_TAKES_PART * day)
        print(
            f"| {name} | {np.mean(off):.2f} / {max(off):.1f} | {nearer.sum()} of {len(pairs)} "
            f"| {(warned & nearer).sum()} | {(warned & ~nearer).sum()} of {warned.sum()} |"
        )


if __name__ == "__main__":
    if "--write" in sys.argv:
        write()
    main()
