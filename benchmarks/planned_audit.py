"""How well the audit reads plans, on drawn ropes of exact truth: what was planned, and faults in it.

    python -m benchmarks.planned_audit [--ropes 27] [--first 0] [--workers 2] [--results FILE]

A third of the ropes keep to their plan; the others have one fault: a border off by five rounds, a band or a
middle left out, two bands of one colour, a fade turned round, a change of lot within a stretch, a stray
bead. Half of them lie the other way round in their photo. Then some of them are judged without their plan:
what was planned is asked about or left alone, not accused bead by bead. Last come ropes whose accents take
turns in two colours from round to round, a motif of three colours, which are even.
"""

from __future__ import annotations

import argparse
import json
import tempfile
import time
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from analyser.audit.running import audit_ropes
from analyser.audit.told_plan import ToldPlan, told_plan
from analyser.colour.difference import delta_e_2000
from analyser.errors import AnalyserError
from analyser.piece import plan_file
from benchmarks.audit import along, wilson
from synthetic.planned import Course, plan_text
from synthetic.rope_beads import LAYOUTS, LIGHTS, Rope
from synthetic.ropes import TABLES, Recipe, draw

FAULTS = ("none", "none", "none", "border", "missing", "swapped", "reversed", "lot-change", "stray-bead")
LEAST_APART = 12.0


@dataclass(frozen=True)
class Case:
    """A rope and whether its photo is turned round."""

    number: int
    recipe: Recipe
    fault: str
    turned: bool


def case(number: int) -> Case:
    """The rope of a number; the same number gives the same rope."""
    rng = np.random.default_rng([number, 15])
    kind = str(rng.choice(["chenille", "chenille", "spiral", "rings", "rows"]))
    fault = FAULTS[number % len(FAULTS)]
    course_kind = str(rng.choice(["bands", "middle", "fade"]))
    if fault in ("reversed", "swapped"):
        course_kind = "fade" if fault == "reversed" else "bands"
    role = "accent" if kind in ("spiral", "rings") or rng.random() < 0.7 else "body"
    further = 2 if course_kind in ("bands", "fade") and rng.random() < 0.25 else 1
    rounds = int(rng.integers(48, 70) if kind in ("chenille", "rows") else rng.integers(64, 90))
    colours: list[tuple[float, float, float]] = []
    while len(colours) < 2 + further:
        new = _colour(rng)
        if all(float(delta_e_2000(new, other)) > LEAST_APART for other in colours):
            colours.append(new)
    # A fade begins and ends off the middle, so that its order can be told from the other end's.
    start = float(rng.uniform(0.12, 0.25))
    course = Course(
        course_kind,
        tuple(colours[2:]),
        role,
        int(rng.integers(6, 12)),
        start,
        start + float(rng.uniform(0.3, 0.45)),
        fault if fault in ("border", "missing", "swapped", "reversed") else "none",
    )
    if course_kind == "fade" and fault == "border":
        course = replace(course, kind="middle", colours=course.colours[:1])
    recipe = Recipe(
        kind,
        str(rng.choice(LAYOUTS)),
        str(rng.choice(LIGHTS)),
        str(rng.choice(TABLES)),
        colours[0],
        colours[1],
        rounds=rounds,
        px_per_mm=float(rng.uniform(8, 11)),
        twist_deg=float(rng.uniform(-1.2, 1.2)),
        roll_deg=float(rng.uniform(0, 360)),
        seed=7000 + number,
        every=int(rng.integers(3, 5)) if kind == "rings" else 4,
        climb=float(rng.choice([0.0, 0.5])),
        gloss=float(rng.choice([0.0, 0.03, 0.06])),
        fault=fault if fault in ("lot-change", "stray-bead") else "none",
        size=float(rng.uniform(4, 7)),
        fault_role=str(rng.choice(["body", "accent"])),
        at=float(rng.uniform(0.3, 0.7)),
        course=course,
    )
    return Case(number, recipe, fault, bool(rng.random() < 0.5))


def three_colours(number: int) -> Case:
    """A rope whose accents take turns in two colours, round by round."""
    rng = np.random.default_rng([number, 3])
    base = case(number)
    third = base.recipe.course.colours[0] if base.recipe.course else None
    kind = str(rng.choice(["chenille", "spiral", "rings"]))
    recipe = replace(base.recipe, kind=kind, third=third, course=None, fault="none")
    return Case(number, recipe, "none", base.turned)


def _colour(rng: np.random.Generator) -> tuple[float, float, float]:
    lightness = rng.uniform(18, 85)
    chroma = rng.uniform(0.2, 1) ** 0.8 * 50 * (1 - abs(lightness - 52) / 60)
    hue = rng.uniform(0, 2 * np.pi)
    return float(lightness), float(chroma * np.cos(hue)), float(chroma * np.sin(hue))


def drawn(one: Case) -> Rope:
    """The rope drawn, turned by half a turn where its case says so."""
    rope = draw(one.recipe)
    if not one.turned:
        return rope
    height, width = rope.ids.shape
    corner = np.array([width, height], float)
    for fault in rope.faults:
        fault.pixel = (width - fault.pixel[0], height - fault.pixel[1])
    return Rope(
        np.ascontiguousarray(rope.linear[::-1, ::-1]),
        np.ascontiguousarray(rope.ids[::-1, ::-1]),
        corner - rope.centreline,
        rope.bead_px,
        rope.faults,
    )


def told(one: Case) -> ToldPlan | None:
    """The plan of a case, as its file tells it."""
    course, recipe = one.recipe.course, one.recipe
    if course is None:
        return None
    plan = plan_file.parse(
        plan_text(course, recipe.accent if course.role == "accent" else recipe.body), "plan.toml"
    )
    return told_plan(plan)


def score(rope: Rope, piece: Any) -> dict[str, Any]:
    """Whether the fault was found, and what was found beside it."""
    found = [finding for finding in piece.findings if finding.kind != "slack"]
    hits = []
    for finding in found:
        for fault in rope.faults:
            at = along(rope.centreline, finding.pixel)
            unwoven = finding.kind == "plan-off" and finding.about.how == "bead"
            if unwoven and abs(1 - at - fault.at) < abs(at - fault.at):
                at = 1 - at  # a stretch that was not woven leaves open which way round the plan ran
            if fault.kind == "stray-bead":
                near = np.hypot(*np.subtract(finding.pixel, fault.pixel)) <= 1.2 * rope.bead_px
            else:
                near = abs(at - fault.at) <= (0.1 if fault.kind == "plan-off" else 0.05)
            if finding.kind == fault.kind and finding.role == fault.role and near:
                hits.append(finding)
    # One fault of a plan may show at both its borders.
    spared = hits + [
        f for f in found if f.kind == "plan-off" and any(x.kind == "plan-off" for x in rope.faults)
    ]
    return {
        "hit": bool(hits),
        "false": [f"{f.kind} {f.role} {f.at:.2f} {f.de00 or 0:.1f}" for f in found if f not in spared],
        "verdict": piece.verdict,
    }


def one(job: tuple[str, int]) -> dict[str, Any]:
    """Draw, judge and score one rope: with its plan, without, or of three colours."""
    what, number = job
    this = three_colours(number) if what == "three" else case(number)
    rope = drawn(this)
    course = this.recipe.course
    row: dict[str, Any] = {
        "what": what,
        "number": number,
        "fault": this.fault if what != "three" else "none",
        "stitch": this.recipe.kind,
        "course": None if course is None else course.kind,
    }
    with tempfile.NamedTemporaryFile(suffix=".jpg") as file:
        Path(file.name).write_bytes(rope.jpeg())
        start = time.perf_counter()
        try:
            piece = audit_ropes(file.name, plan=told(this) if what == "told" else None)[0]
            row |= score(rope, piece)
        except AnalyserError as error:
            row |= {"hit": False, "false": [], "verdict": "refused", "error": str(error)}
        row["seconds"] = round(time.perf_counter() - start, 2)
    return row


def summary(rows: Sequence[dict[str, Any]]) -> None:
    """Print what the results say."""
    planned = [row for row in rows if row["what"] == "told"]
    kept = [row for row in planned if row["fault"] == "none"]
    even = sum(row["verdict"] == "even" and not row["false"] for row in kept)
    print(f"planned ropes called even with their plan: {wilson(even, len(kept))}")
    for fault in dict.fromkeys(FAULTS):
        part = [row for row in planned if row["fault"] == fault]
        if fault != "none" and part:
            print(f"  {fault} found: {wilson(sum(row['hit'] for row in part), len(part))}")
    faulty = [row for row in planned if row["fault"] != "none"]
    print(f"false findings beside faults: {sum(len(row['false']) for row in faulty)} on {len(faulty)} ropes")
    blind = [row for row in rows if row["what"] == "blind"]
    accused = sum(any("stray" in one for one in row["false"]) for row in blind)
    print(f"without their plan accused of stray beads: {wilson(accused, len(blind))}")
    whole = [row for row in blind if row["fault"] == "none"]
    uneven = sum(row["verdict"] == "uneven" for row in whole)
    print(f"  called uneven of those that keep to their plan: {wilson(uneven, len(whole))}")
    three = [row for row in rows if row["what"] == "three"]
    even = sum(row["verdict"] == "even" and not row["false"] for row in three)
    print(f"motifs of three colours called even: {wilson(even, len(three))}")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--ropes", type=int, default=27)
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--results", type=Path, help="where each result is written, a line of JSON each")
    options = parser.parse_args()
    numbers = range(options.first, options.first + options.ropes)
    jobs = [("told", number) for number in numbers]
    jobs += [(what, number) for what in ("blind", "three") for number in numbers[::2]]
    rows = []
    with ProcessPoolExecutor(options.workers) as pool:
        for row in pool.map(one, jobs):
            rows.append(row)
            wrong = row["false"] or (row["fault"] != "none" and not row["hit"]) or row["verdict"] == "refused"
            if wrong or (row["fault"] == "none" and row["verdict"] != "even"):
                print(row, flush=True)
            if options.results:
                with options.results.open("a") as file:
                    file.write(json.dumps(row) + "\n")
    summary(rows)


if __name__ == "__main__":
    main()
