"""Drawn ropes with a planned course of colours, and faults in the course, of exact truth.

The rounds are shared out here by rules of their own, not by those of the analyser's plans.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analyser.arrays import BoolArray, FloatArray, IntArray
from analyser.colour.spaces import lab_to_linear, linear_to_srgb
from synthetic.rope_beads import Fault

COURSES = ("bands", "middle", "fade")
COURSE_FAULTS = ("none", "border", "missing", "swapped", "reversed")


@dataclass(frozen=True)
class Course:
    """How a role changes its colour along a drawn rope.

    Attributes
    ----------
    kind : str
        ``bands`` of so many rounds, again and again; a ``middle`` of the next colour; a bead-by-bead ``fade``
        from each colour to the next, of like lengths.
    colours : tuple of Lab
        Those that follow the role's own.
    role : str
        ``body`` or ``accent``.
    rounds : int
        Of a band.
    start, stop : float
        Of the middle, or of the fade, as shares of the rounds.
    fault : str
        ``border``: a border off by ``off`` rounds. ``missing``: a band left out, a middle not woven, a fade
        that jumps. ``swapped``: a band in another's colour. ``reversed``: a fade in the wrong order.
    off : int
    """

    kind: str
    colours: tuple[tuple[float, float, float], ...]
    role: str = "accent"
    rounds: int = 8
    start: float = 0.3
    stop: float = 0.65
    fault: str = "none"
    off: int = 5


def painted_labels(
    course: Course, round_: IntArray, pattern: BoolArray, rng: np.random.Generator
) -> tuple[IntArray, list[Fault]]:
    """Which colour of a course each bead has, 0 for the role's own, and the fault in it.

    Parameters
    ----------
    course : Course
    round_ : ndarray of int, shape (n,)
    pattern : bool ndarray, shape (n,)
        Base and closing have the role's own colour.
    rng : numpy Generator
        Where in a fade which bead lies.
    """
    first, last = int(round_[pattern].min()), int(round_[pattern].max())
    count = last - first + 1
    number = np.clip(round_ - first, 0, count - 1)
    if course.kind == "fade":
        labels, at = _faded(course, number, count, rng)
    else:
        runs = _bands(course, count) if course.kind == "bands" else _middle(course, count)
        runs, place = _spoiled(course, runs, count)
        by_round = np.repeat([label for label, _ in runs], [size for _, size in runs])[:count]
        labels, at = by_round[number], None if place is None else place / count
    faults = [] if at is None else [Fault("plan-off", course.role, at)]
    return np.where(pattern, labels, 0), faults


def _bands(course: Course, count: int) -> list[tuple[int, int]]:
    bands = -(-count // course.rounds)
    return [(band % (len(course.colours) + 1), course.rounds) for band in range(bands)]


def _middle(course: Course, count: int) -> list[tuple[int, int]]:
    start, stop = round(course.start * count), round(course.stop * count)
    return [(0, start), (1, stop - start), (0, count - stop)]


def _spoiled(
    course: Course, runs: list[tuple[int, int]], count: int
) -> tuple[list[tuple[int, int]], float | None]:
    """The runs with the course's fault in them, and the round where it is."""
    if course.fault == "none":
        return runs, None
    band = 1 if course.kind == "middle" else len(runs) // 2
    before = sum(size for _, size in runs[:band])
    (label, size), own = runs[band], runs[band - 1][0]
    if course.fault == "border":
        runs[band - 1] = own, runs[band - 1][1] + course.off
        runs[band] = label, size - course.off
        return runs, before + course.off / 2
    if course.fault == "missing" and course.kind == "bands":
        del runs[band]
        following = course.rounds * len(runs)
        while following < count:
            runs.append((len(runs) % (len(course.colours) + 1), course.rounds))
            following += course.rounds
        return runs, float(before)
    # a middle that was not woven, or a band in the colour of the one before
    runs[band] = own, size
    return runs, before + size / 2


def _faded(
    course: Course, number: IntArray, count: int, rng: np.random.Generator
) -> tuple[IntArray, float | None]:
    steps = len(course.colours)
    along = np.clip(((number + 0.5) / count - course.start) / (course.stop - course.start), 0, 1 - 1e-9)
    step = np.floor(along * steps).astype(int)
    share = along * steps - step
    inside = (along > 0) & (along < 1 - 2e-9)
    at = None
    if course.fault == "reversed":
        share, at = np.where(inside, 1 - share, share), (course.start + course.stop) / 2
    elif course.fault == "missing":
        share, at = np.where(inside, (share > 0.5).astype(float), share), (course.start + course.stop) / 2
    labels = step + (rng.random(len(number)) < share)
    return np.where((number + 0.5) / count >= course.stop, steps, labels), at


def plan_text(course: Course, own: tuple[float, float, float]) -> str:
    """The course as a plan file, its colours as codes."""
    codes = [_code(lab) for lab in (own, *course.colours)]
    if course.kind == "bands":
        lines = ["repeat = true"]
        for code in codes:
            lines += ["[[stretch]]", f"rounds = {course.rounds}", f'{course.role} = "{code}"']
    elif course.kind == "middle":
        lines = ["[[stretch]]", f"share = {course.start}", f'{course.role} = "{codes[0]}"']
        lines += ["[[stretch]]", f"share = {course.stop - course.start:.3f}", f'{course.role} = "{codes[1]}"']
        lines += ["[[stretch]]", f'{course.role} = "{codes[0]}"']
    else:
        step = (course.stop - course.start) / len(course.colours)
        lines = ["[[stretch]]", f"share = {course.start}", f'{course.role} = "{codes[0]}"']
        for number, code in enumerate(codes[1:], start=1):
            lines += ["[[stretch]]", f"share = {step:.4f}", "fade = true", "[[stretch]]"]
            lines += ["share = 0.0"] if number < len(codes) - 1 else []
            lines += [f'{course.role} = "{code}"']
    return "\n".join(lines) + "\n"


def _code(lab: tuple[float, float, float]) -> str:
    srgb = np.clip(linear_to_srgb(np.clip(lab_to_linear(lab), 0, 1)), 0, 1)
    return "#" + "".join(f"{round(255 * value):02x}" for value in srgb.tolist())


def albedos(course: Course) -> FloatArray:
    """Linear colours of a course that follow the role's own, shape (k, 3)."""
    return np.array([lab_to_linear(lab) for lab in course.colours]).reshape(-1, 3)
