"""What a plan costs beside the same rope without one: laying out, counting, drawing; and a fade's beads.

Ratios of the same run.

python -m benchmarks.plans
"""

from __future__ import annotations

import statistics
import time
from collections.abc import Callable

import numpy as np

from analyser.colour import spaces
from analyser.colourway.series import FadeCourse
from analyser.drawing import rope_view
from analyser.drawing.rope_view import BeadLook, Ends, bead_solid
from analyser.motif import parsing
from analyser.motif.geometry import RopeBeads
from analyser.motif.plan import counts
from analyser.motif.planned_rope import lay
from analyser.piece import plan_file
from analyser.piece.counting import count
from analyser.piece.planned_count import count_plan
from analyser.stock.bead import Bead

WANTED = 1.5
BEADS = 5000
ROUNDS, RISE_MM, TIMES = 71, 2.0, 9
PLAN = plan_file.fade("body=teal..sand..coral")
LOOKS = {
    "accent": BeadLook((72.0, 18.0, 62.0)),
    "body": BeadLook((36.0, -12.0, -12.0)),
    "body:teal": BeadLook((36.0, -12.0, -12.0)),
    "body:sand": BeadLook((74.0, 3.0, 18.0)),
    "body:coral": BeadLook((62.0, 45.0, 30.0)),
}
SOLIDS = {key: bead_solid() for key in LOOKS}


def ratio(planned: Callable[[], object], plain: Callable[[], object]) -> tuple[float, float]:
    """Median time of the planned job, ms, and the median of its ratios to the plain one, run in turn."""
    took: list[tuple[float, float]] = []
    for _ in range(TIMES):
        start = time.perf_counter()
        planned()
        middle = time.perf_counter()
        plain()
        took.append((middle - start, time.perf_counter() - middle))
    return 1000 * statistics.median(a for a, _ in took), statistics.median(a / b for a, b in took)


def main() -> None:
    made = parsing.load("chenille")
    counted = count(made, rounds=ROUNDS)

    def draw(beads: RopeBeads) -> object:
        seen = rope_view.ring(beads, side_px=440, bead=SOLIDS, ends=Ends())
        return rope_view.paint_linear(seen, LOOKS)

    jobs = {
        "counted and drawn as a ring": (
            lambda: (count_plan(PLAN, counted), draw(lay(PLAN, made, ROUNDS, RISE_MM).beads)),
            lambda: (made.counts(ROUNDS), draw(made.rope(ROUNDS))),
        ),
        "counted, with lengths and thread": (
            lambda: count_plan(PLAN, count(made, rounds=ROUNDS)),
            lambda: count(made, rounds=ROUNDS),
        ),
        "laid out": (
            lambda: lay(PLAN, made, ROUNDS, RISE_MM),
            lambda: made.rope(ROUNDS),
        ),
        "numbers alone": (
            lambda: counts(PLAN, made, ROUNDS, RISE_MM),
            lambda: made.counts(ROUNDS),
        ),
    }
    for name, (planned, plain) in jobs.items():
        milliseconds, times = ratio(planned, plain)
        print(f"{name:36} {milliseconds:8.1f} ms   {times:6.2f} of the rope without a plan")
    print(f"wanted: {WANTED} for the whole job")
    print(f"a series out of {BEADS} beads, all lengths from 2 to 7: {1000 * series_s():.0f} ms")


def series_s() -> float:
    """Median time of the search for a fade's beads in a large list, on ten courses drawn by lot, s."""
    lots = np.random.default_rng(5)
    labs = spaces.linear_to_lab(spaces.srgb_to_linear(lots.random((BEADS + 20, 3))))
    beads = [Bead(str(k), str(k), "11/0", lab=tuple(map(float, lab))) for k, lab in enumerate(labs[20:])]
    took = []
    for first, last in labs[:20].reshape(10, 2, 3):
        start = time.perf_counter()
        course = FadeCourse(first, last, beads)
        for number in range(2, 8):
            course.best(number)
        took.append(time.perf_counter() - start)
    return statistics.median(took)


if __name__ == "__main__":
    main()
