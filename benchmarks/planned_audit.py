"""How well the audit reads plans, on drawn ropes of exact truth: what was planned, and faults in it.

    python -m benchmarks.planned_audit [--ropes 48] [--first 0] [--workers 2] [--show-misses]

A third of the ropes keep to their plan; the others have one fault: a border off by five rounds, a band or a
middle left out, two bands of one colour, a fade turned round, a change of lot within a stretch, a stray
bead. Every other one lies the other way round in its photo. With ``--blind`` no plan is told: what was
planned must then be asked about or left alone, not accused. Ropes with a third colour in every other round
are judged without a plan.
"""

from __future__ import annotations

import argparse
import tempfile
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from analyser.audit.planned import ToldPlan
from analyser.audit.running import audit_ropes
from analyser.colour.difference import delta_e_2000
from analyser.errors import AnalyserError
from analyser.piece import plan_file
from analyser.stock.colour_text import read_colour
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
    plan = plan_file.parse(plan_text(course, recipe.accent if course.role == "accent" else recipe.body), "plan.toml")
    texts = [text for role in plan.roles for text in plan.texts(role)]
    return ToldPlan(plan, {text: read_colour(text).lab for text in texts})


def score(rope: Rope, piece: Any) -> dict[str, Any]:
    """Whether the fault was found, and what was found beside it."""
    found = [finding for finding in piece.findings if finding.kind != "slack"]
    hits = []
    for finding in found:
        for fault in rope.faults:
            at = along(rope.centreline, finding.pixel)
            if fault.kind == "stray-bead":
                near = np.hypot(*np.subtract(finding.pixel, fault.pixel)) <= 1.2 * rope.bead_px
            else:
                near = abs(at - fault.at) <= (0.1 if fault.kind == "plan-off" else 0.05)
            if finding.kind == fault.kind and finding.role == fault.role and near:
                hits.append(finding)
    # One fault of a plan may show at both its borders.
    spared = hits + [f for f in found if f.kind == "plan-off" and any(x.kind == "plan-off" for x in rope.faults)]
    return {
        "hit": bool(hits),
        "false": [f"{f.kind} {f.role} {f.at:.2f} {f.de00 or 0:.1f}" for f in found if f not in spared],
        "verdict": piece.verdict,
    }


def one_row(number: int, *, blind: bool = False) -> dict[str, Any]:
    """Draw, judge and score one rope."""
    this = case(number)
    rope = drawn(this)
    course = this.recipe.course
    assert course is not None
    row: dict[str, Any] = {
        "number": number,
        "fault": this.fault,
        "kind": this.recipe.kind,
        "course": course.kind,
        "role": course.role,
        "colours": 1 + len(course.colours),
    }
    with tempfile.NamedTemporaryFile(suffix=".jpg") as file:
        Path(file.name).write_bytes(rope.jpeg())
        try:
            row |= score(rope, audit_ropes(file.name, plan=None if blind else told(this))[0])
        except AnalyserError as error:
            row |= {"hit": False, "false": [], "verdict": "refused", "error": str(error)}
    return row
