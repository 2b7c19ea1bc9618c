"""What a worker does for a rope that goes from colour to colour: counted, measured, drawn, charted."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from analyser.colourway import design, plan_design
from analyser.colourway.measures import PairView
from analyser.errors import OptionError
from analyser.motif.plan import spans_of
from analyser.phrases import plans
from analyser.phrases.sentences import sentence
from analyser.piece import plan_file
from analyser.piece.gauge import Gauge, key_of
from analyser.piece.planned_piece import PlannedPiece
from analyser.report import plan_answers
from analyser.report.pair_answers import bead_fields
from analyser.stock import units
from analyser.stock.colour_text import GivenColour, read_colour
from analyser.stock.kinds import kind_of
from analyser.web import pictures, piece_jobs, shown
from analyser.web.job_cache import Kept, known_motif

Tell = Callable[..., None]
Wishes = Mapping[str, Any]

_PIECES = Kept(8)


def _piece(stock_file: str, wishes: Wishes) -> tuple[PlannedPiece, PairView]:
    """The planned piece, kept: the answer and its pictures are of the same one."""
    held = piece_jobs.stock(stock_file)
    motif, size = known_motif(wishes["motif"], stock_file), units.size(wishes["size"])
    usual = piece_jobs.kept_gauges(stock_file).get(key_of(motif.name, str(kind_of(size, "round"))))

    def make() -> tuple[PlannedPiece, PairView]:
        view = design.seen_motif(design.Wishes(motif, size))
        given: dict[str, GivenColour] = {
            role: read_colour(text, held) for role, text in piece_jobs.named(wishes, motif).items()
        }
        plan = plan_file.parse(wishes["plan"], "the plan")
        mm = units.length_mm(wishes["length"])
        gauge = Gauge.parse(wishes["gauge"]) if wishes.get("gauge") else usual
        return plan_design.piece_of(plan, view, size, given, held, length_mm=mm, gauge=gauge), view

    return _PIECES.get((id(held), usual, *sorted(wishes.items())), make)


def plan(tell: Tell, stock_file: str, wishes: Wishes) -> dict[str, Any]:
    """A planned rope: its beads, what is seen of it, and where its stretches lie in the picture."""
    piece, view = _piece(stock_file, wishes)
    planned = piece.planned
    count, names = planned.count, plan_answers.names_of(piece)
    seen = plan_design.seen_of(piece, view)
    start, stop = pictures.pattern_between(piece)
    answer = {
        "roles": list(count.motif.roles),
        "rounds": count.rounds,
        "thread_m": count.thread.total_m,
        "names": names,
        "colours": {key: {"lab": list(lab)} for key, lab in piece.colours.items()},
        "spans": [
            {"stretch": span.stretch, "from": span.start, "to": span.stop}
            for span in spans_of(planned.plan, count.rounds, planned.rise_mm)
        ],
        "drawn": {"from": start, "to": stop},
        "says": [sentence([says]) for says in plans.sentences(seen, names, planned)],
        "plan": plan_file.text(planned.plan),
        **plan_answers.planned_fields(planned),
        **plan_answers.seen_fields(seen, names),
    }
    shown.add_css(answer)
    return answer


def plan_rope(tell: Tell, stock_file: str, wishes: Wishes, part: str) -> bytes:
    """A planned rope as a JPEG: the whole of it, or its middle close by."""
    return pictures.planned(_piece(stock_file, wishes)[0], part)


def plan_chart(tell: Tell, stock_file: str, wishes: Wishes) -> str:
    """The chart to weave it by."""
    return plan_answers.chart_of(_piece(stock_file, wishes)[0])


def plan_series(
    tell: Tell, stock_file: str, first: str, last: str, count: int, wishes: Wishes
) -> dict[str, Any]:
    """The beads of the list that step most evenly from one bead or colour to another, both of them in it."""
    held = piece_jobs.stock(stock_file)
    one, two = read_colour(first, held), read_colour(last, held)
    motif, size, role = known_motif(wishes["motif"], stock_file), units.size(wishes["size"]), wishes["role"]
    if role not in motif.roles:
        raise OptionError(f"the motif {motif.name} has no {role}; it has {', '.join(motif.roles)}")
    asked = design.Wishes(motif, size, length_mm=units.length_mm(wishes["length"]))
    found = plan_design.series_between(one.lab, two.lab, count, held, asked, role)
    if found is None:
        raise OptionError(
            f"the list has no {count} beads of {size}, enough of each, from {first} to {last}; try fewer"
        )
    answer = {
        "beads": [{**bead_fields(bead), "text": plan_design.text_of(bead, held)} for bead in found.beads],
        "steps_de00": list(found.steps_de00),
    }
    shown.add_css(answer)
    return answer


JOBS: dict[str, Callable[..., Any]] = {
    function.__name__: function for function in (plan, plan_chart, plan_rope, plan_series)
}
