"""How well the audit tells even ropes from faulty ones, on drawn ropes of exact truth.

    python -m benchmarks.audit [--ropes 100] [--first 0] [--results FILE] [--show-misses]

Half the ropes are even, half have one fault. Each result is one line of JSON in the results file, and ropes
already there are not drawn again, so a long run may be stopped and taken up. The summary gives shares with
95 % Wilson intervals, and the smallest lot change found 90 % of the time (logistic fit).
"""

from __future__ import annotations

import argparse
import json
import tempfile
import time
from pathlib import Path
from typing import Any

import numpy as np

from analyser.audit.running import audit_ropes
from analyser.colour.difference import delta_e_2000
from analyser.errors import AnalyserError
from synthetic.rope_beads import KINDS, LAYOUTS, LIGHTS, Rope
from synthetic.ropes import TABLES, Recipe, draw

FAULTS = ("lot-change", "lot-change", "lot-change", "stray-bead", "plain-round")


def recipe(number: int, *, faulty: bool) -> Recipe:
    """The recipe of rope ``number``; the same number gives the same rope."""
    rng = np.random.default_rng([number, int(faulty)])
    kind = str(rng.choice(KINDS))
    while True:
        body, accent = (_colour(rng) for _ in range(2))
        if float(delta_e_2000(body, accent)) > 12:
            break
    fault = str(rng.choice(FAULTS)) if faulty else "none"
    if fault == "plain-round":
        kind = "rings"  # the stitch of the four where a round's accents stand together in sight
    return Recipe(
        kind,
        str(rng.choice(LAYOUTS)),
        str(rng.choice(LIGHTS)),
        str(rng.choice(TABLES)),
        body,
        accent,
        rounds=int(rng.integers(50, 75) if kind in ("chenille", "rows") else rng.integers(70, 100)),
        px_per_mm=float(rng.uniform(7.5, 11)),
        twist_deg=float(rng.uniform(-1.2, 1.2)),
        roll_deg=float(rng.uniform(0, 360)),
        seed=number * 2 + faulty,
        every=int(rng.integers(3, 5)),
        climb=float(rng.choice([0.0, 0.5])),
        gloss=float(rng.choice([0.0, 0.03, 0.06])),
        fault=fault,
        size=float(rng.uniform(0.8, 6)),
        fault_role=str(rng.choice(["body", "accent"])) if fault != "plain-round" else "accent",
        at=float(rng.uniform(0.2, 0.8)),
    )


def _colour(rng: np.random.Generator) -> tuple[float, float, float]:
    """A bead colour: lightness 15 to 88, chroma as glass has it."""
    lightness = rng.uniform(15, 88)
    chroma = rng.uniform(0, 1) ** 0.8 * 50 * (1 - abs(lightness - 52) / 60)
    hue = rng.uniform(0, 2 * np.pi)
    return float(lightness), float(chroma * np.cos(hue)), float(chroma * np.sin(hue))


def along(line: np.ndarray, point: tuple[float, float]) -> float:
    """Fraction of the polyline's length nearest to a point."""
    steps = np.hypot(*np.diff(line, axis=0).T)
    gone = np.concatenate([[0], np.cumsum(steps)]) / steps.sum()
    return float(gone[np.argmin(np.hypot(*(line - point).T))])


def score(rope: Rope, piece: Any) -> dict[str, Any]:
    """Whether the fault was found, and what was found beside it."""
    found = [f for f in piece.findings if f.kind != "slack"]
    hit = None
    for fault in rope.faults:
        for finding in found:
            if finding.kind != fault.kind or finding.role != fault.role:
                continue
            if fault.kind == "stray-bead":
                near = np.hypot(*np.subtract(finding.pixel, fault.pixel)) <= 1.2 * rope.bead_px
            else:
                limit = 0.05 if fault.kind == "lot-change" else 0.03
                near = abs(along(rope.centreline, finding.pixel) - fault.at) <= limit
            if near:
                hit = finding
                break
    return {
        "hit": hit is not None,
        "false": [f"{f.kind} {f.role} {f.de00 or 0:.1f}" for f in found if f is not hit],
        "verdict": piece.verdict,
        "measured": None if hit is None else hit.de00,
    }


def one(number: int, *, faulty: bool) -> dict[str, Any]:
    """Draw, judge and score one rope."""
    plan = recipe(number, faulty=faulty)
    rope = draw(plan)
    row: dict[str, Any] = {
        "number": number,
        "faulty": faulty,
        "kind": plan.kind,
        "layout": plan.layout,
        "light": plan.light,
        "table": plan.table,
        "fault": plan.fault,
        "role": plan.fault_role,
        "size": rope.faults[0].de00 if rope.faults else 0.0,
        "visible": rope.faults[0].visible if rope.faults else 0.0,
    }
    with tempfile.NamedTemporaryFile(suffix=".jpg") as file:
        Path(file.name).write_bytes(rope.jpeg())
        start = time.perf_counter()
        try:
            row |= score(rope, audit_ropes(file.name)[0])
        except AnalyserError as error:
            row |= {"hit": False, "false": [], "verdict": "refused", "measured": None, "error": str(error)}
        row["seconds"] = round(time.perf_counter() - start, 2)
    return row


def wilson(hits: int, of: int) -> str:
    """Share with its 95 % Wilson score interval (Wilson 1927, J. Am. Stat. Assoc. 22, 209-212)."""
    if not of:
        return "none tried"
    z, p = 1.96, hits / of
    middle = (p + z * z / (2 * of)) / (1 + z * z / of)
    half = z / (1 + z * z / of) * np.sqrt(p * (1 - p) / of + z * z / (4 * of * of))
    return f"{hits}/{of} = {100 * p:.1f} % ({100 * (middle - half):.1f} to {100 * (middle + half):.1f})"


def smallest_found(rows: list[dict[str, Any]], share: float = 0.9) -> float | None:
    """Size of lot change found with that chance, from a logistic fit in log size."""
    from scipy.optimize import minimize

    x = np.log([row["size"] for row in rows])
    y = np.array([row["hit"] for row in rows], float)
    if len(y) < 20 or y.min() == y.max():
        return None

    def loss(parameters: np.ndarray) -> float:
        z = parameters[0] + parameters[1] * x
        return float(np.logaddexp(0, z).sum() - (y * z).sum() + 0.01 * parameters[1] ** 2)

    a, b = minimize(loss, np.array([0.0, 2.0]), method="Nelder-Mead").x
    return float(np.exp((np.log(share / (1 - share)) - a) / b)) if b > 0 else None


def summary(rows: list[dict[str, Any]]) -> None:
    """Print what the results say."""
    even = [row for row in rows if not row["faulty"]]
    faulty = [row for row in rows if row["faulty"]]
    alarmed = [row for row in even if row["verdict"] not in ("even", "refused") or row["false"]]
    print(f"even ropes that alarm: {wilson(len(alarmed), len(even))}")
    print(f"ropes refused: {sum(row['verdict'] == 'refused' for row in rows)} of {len(rows)}")
    print(f"false findings on faulty ropes: {sum(len(row['false']) for row in faulty)} on {len(faulty)}")
    lots = [row for row in faulty if row["fault"] == "lot-change"]
    for low, high in ((0, 1.5), (1.5, 2), (2, 2.5), (2.5, 3), (3, 4), (4, 9)):
        part = [row for row in lots if low <= row["size"] < high]
        print(f"lot changes that look {low} to {high}: {wilson(sum(r['hit'] for r in part), len(part))}")
    big = [row for row in lots if row["size"] >= 3]
    print(f"lot changes that look 3 or more: {wilson(sum(r['hit'] for r in big), len(big))}")
    for role in ("body", "accent"):
        part = [row for row in big if row["role"] == role]
        print(f"  of them {role}: {wilson(sum(r['hit'] for r in part), len(part))}")
    for kind in KINDS:
        part = [row for row in big if row["kind"] == kind]
        print(f"  of them {kind}: {wilson(sum(r['hit'] for r in part), len(part))}")
    least = smallest_found(lots)
    print(f"smallest lot change found 90 % of the time: {'not known' if least is None else round(least, 2)}")
    for fault in ("stray-bead", "plain-round"):
        part = [row for row in faulty if row["fault"] == fault]
        print(f"{fault}: {wilson(sum(r['hit'] for r in part), len(part))}")
    seconds = [row["seconds"] for row in rows]
    print(f"seconds a rope: median {np.median(seconds):.2f}, most {max(seconds):.2f}")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--ropes", type=int, default=100, help="how many, half of them even")
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--results", type=Path, help="where results are kept between runs")
    parser.add_argument("--show-misses", action="store_true")
    options = parser.parse_args()
    rows: list[dict[str, Any]] = []
    if options.results and options.results.exists():
        rows = [json.loads(line) for line in options.results.read_text().splitlines()]
    done = {(row["number"], row["faulty"]) for row in rows}
    for number in range(options.first, options.first + options.ropes // 2):
        for faulty in (False, True):
            if (number, faulty) in done:
                continue
            row = one(number, faulty=faulty)
            rows.append(row)
            if options.results:
                with options.results.open("a") as file:
                    file.write(json.dumps(row) + "\n")
    if options.show_misses:
        for row in rows:
            if row["verdict"] == "refused" or row["false"] or (row["faulty"] and not row["hit"]):
                print({key: value for key, value in row.items() if key not in ("seconds",)})
    summary(rows)


if __name__ == "__main__":
    main()
