"""A planned piece: its beads as JSON, and the chart to weave it by as one page to print."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from analyser.phrases import plans
from analyser.phrases.figures import length
from analyser.piece import plan_file
from analyser.piece.counting import leading
from analyser.report.answers import Answer, colour_fields
from analyser.report.html import render

if TYPE_CHECKING:
    from analyser.arrays import Lab
    from analyser.colourway.plan_choice import PlanWish
    from analyser.colourway.plan_design import PlannedDesign
    from analyser.colourway.plan_seen import PlanSeen
    from analyser.drawing.rope_view import BeadLook
    from analyser.drawing.solids import Solid
    from analyser.motif.plan import Plan
    from analyser.motif.planned_rope import PlannedRope
    from analyser.motif.weaving_chart import ChartRow
    from analyser.piece.planned_count import PlannedCount, PlannedNeed
    from analyser.piece.planned_piece import PlannedPiece
    from analyser.report.previews import Piles, PlannedPictures

_LIGHT_INK_BELOW = 55.0  # L* of a bead on which white figures read better than black ones
MOST_DRAWN = 400  # rounds; the beads of a longer rope would be smaller than pixels
_PARTS = {"base": "Base", "pattern": "Pattern", "closing": "Closing"}
_MOST_TICKS = 24  # boxes in a line; a longer run of like rounds has one, at its end


def planned_fields(planned: PlannedCount) -> Answer:
    """What each bead of a plan comes to."""
    return {
        "beads": [
            {
                "role": need.bead.role,
                "bead": need.bead.text,
                "id": need.held.bead.id if need.held else None,
                "lot": (need.held.bead.lot or None) if need.held else None,
                "beads": need.beads,
                "low": need.low,
                "high": need.high,
                "with_spare": need.with_spare,
                "grams": need.grams,
                "have": need.held.have if need.held else None,
                "enough": need.held.enough if need.held else None,
                "short": need.held.short if need.held else None,
            }
            for need in planned.needs
        ],
        "enough": planned.enough,
        "repeat": planned.plan.repeat,
        "mirror": planned.plan.mirror,
    }


def names_of(piece: PlannedPiece) -> dict[str, str]:
    """What to call each planned bead, by its key."""
    return {need.bead.key: name_of(need) for need in piece.planned.needs}


def seen_fields(seen: PlanSeen, names: Mapping[str, str]) -> Answer:
    """A planned rope as the eye has it: how far each stretch reads, and the steps of its fades."""
    largest = seen.largest_step
    return {
        "stretches": [
            {
                "beads": dict(one.beads),
                "from": one.start,
                "share": one.share,
                "de00": one.measures.de00,
                "reads_to_m": one.measures.reads_to_m,
                "says": plans.stretch(one, names),
            }
            for one in seen.stretches
        ],
        "fade": None
        if largest is None
        else {
            "steps": [dataclasses.asdict(step) for step in seen.steps],
            "largest_seen": largest.seen,
            "unevenness": seen.unevenness,
            "says": plans.fade_steps(seen, names),
        },
    }


def design_fields(design: PlannedDesign) -> Answer:
    """A colourway along a plan: what is proposed, its file, its beads, how it is seen."""
    from analyser.report.pair_answers import bead_fields  # with all that pairs need: not for a count

    proposal, names = design.proposal, names_of(design.piece)
    counted = design.piece.planned if design.counts else None
    series = proposal.series if proposal else None
    return {
        "kind": proposal.kind if proposal else None,
        "title": plans.title(proposal),
        "plan": plan_file.text(design.plan),
        "length_mm": float(design.piece.planned.count.lengths.finished_mm),
        "role": proposal.role if proposal else None,
        "series": [
            {**bead_fields(bead), "stands_for": colour}
            for bead, colour in zip(proposal.beads, proposal.stands_for, strict=True)
        ]
        if proposal
        else [],
        "steps_de00": list(series.steps_de00) if series else [],
        "beside": {role: bead_fields(bead) for role, bead in design.beside.items()},
        "names": names,
        "colours": {key: colour_fields(lab) for key, lab in design.piece.colours.items()},
        "says": plans.sentences(design.seen, names, counted),
        **seen_fields(design.seen, names),
        **({} if counted is None else planned_fields(counted)),
    }


def plan_fields(planned: PlannedDesign | None, wish: Plan | PlanWish, notes: Sequence[str]) -> Answer:
    """What the answer of ``analyser colourway`` gains by a plan; where there is none, a note says why."""
    if planned is not None:
        return {"planned": design_fields(planned)}
    # A plan of the maker's own is always laid out.
    kind = getattr(wish, "kind", "")
    return {"planned": None, "notes": [*notes, *([plans.NONE[kind]] if kind else [])]}


def name_of(need: PlannedNeed) -> str:
    """What to call a planned bead: its name in the list, else as the plan has it, else its role."""
    return need.held.bead.name if need.held else need.bead.text or f"{need.bead.role} bead"


def chart_of(piece: PlannedPiece) -> str:
    """The chart to weave a planned piece by, as ``chart_page`` makes it."""
    from analyser.motif.planned_rope import lay
    from analyser.motif.weaving_chart import chart_rows

    count = piece.planned.count
    rope = lay(piece.planned.plan, count.motif, count.rounds, piece.planned.rise_mm)
    return chart_page(piece.planned, rope, chart_rows(rope, count.motif), piece.colours)


def chart_page(
    planned: PlannedCount, rope: PlannedRope, rows: Sequence[ChartRow], colours: Mapping[str, Lab]
) -> str:
    """The chart to weave by: each round with its beads by number, a box to tick, runs told together.

    Parameters
    ----------
    planned : PlannedCount
    rope : PlannedRope
        Laid out for ``planned.count.rounds`` rounds.
    rows : sequence of ChartRow
        Of that rope.
    colours : mapping of str to Lab
        Of the planned beads whose colour is known, by their key.

    Returns
    -------
    str
        One self-contained page. Colour is never the only sign: each bead has its number.
    """
    from analyser.colour.gamut import lab_to_hex

    needs = {need.bead.key: need for need in planned.needs}
    # One bead has one number, whatever roles it takes.
    same: dict[str, list[str]] = {}
    for bead in rope.kinds:
        same.setdefault(_lot_of(needs[bead.key]), []).append(bead.key)
    number = {key: place for place, keys in enumerate(same.values(), start=1) for key in keys}
    numbers = [number[bead.key] for bead in rope.kinds]
    count = planned.count
    return render(
        "chart.html",
        {
            "title": f"{count.motif.title}, {count.rounds} rounds, to weave by",
            "length": length(count.lengths.finished_mm),
            "gauge": str(count.gauge) if count.gauge else "",
            "beads": [
                {
                    "number": number[keys[0]],
                    "role": " and ".join(dict.fromkeys(needs[key].bead.role for key in keys)),
                    "name": name_of(needs[keys[0]]),
                    "lot": held.bead.lot if (held := needs[keys[0]].held) else "",
                    "hex": lab_to_hex(colours[keys[0]])[0] if keys[0] in colours else "",
                    "ink": "#fff"
                    if keys[0] in colours and colours[keys[0]][0] < _LIGHT_INK_BELOW
                    else "#000",
                    "beads": sum(needs[key].beads for key in keys),
                }
                for keys in same.values()
            ],
            "parts": [
                {"name": name, "rows": [_chart_row(row, name, numbers) for row in rows if row.part == part]}
                for part, name in _PARTS.items()
            ],
            "known": bool(colours),
            "pictures": _pictures(planned, rope, colours),
        },
    )


def planned_view(design: PlannedDesign, piles: Piles, cloth: Lab | None) -> Answer:
    """What the page shows of a plan: its title, pictures, beads with their chips, and what can be said."""
    from analyser.motif.planned_rope import lay
    from analyser.piece.piece_cards import to_scale
    from analyser.report.pair_view import chip_of

    piece = design.piece
    count = piece.planned.count
    rope = lay(design.plan, count.motif, count.rounds, piece.planned.rise_mm)
    fields = design_fields(design)
    return {
        "title": fields["title"],
        "says": [says[0].upper() + says[1:] + "." for says in fields["says"]],
        "pictures": _pictures(piece.planned, rope, piece.colours, cloth),
        "beads": [
            {
                "role": need.bead.role,
                "name": name_of(need),
                "id": need.held.bead.id if need.held else "",
                "lot": need.held.bead.lot if need.held else "",
                "chip": chip_of(
                    piece.colours[need.bead.key],
                    name_of(need),
                    piles,
                    need.held.bead.finish if need.held else None,
                )
                if need.bead.key in piece.colours
                else None,
                "beads": need.with_spare if design.counts else None,
                "grams": f"{to_scale(need.grams):.1f} g" if design.counts else "",
                "enough": need.held.enough if need.held else None,
                "short": need.held.short if need.held else None,
            }
            for need in piece.planned.needs
        ],
    }


def _pictures(
    planned: PlannedCount, rope: PlannedRope, colours: Mapping[str, Lab], cloth: Lab | None = None
) -> PlannedPictures | None:
    """The rope drawn, where the colour of each of its beads is known and it is short enough to be seen."""
    from analyser.report.previews import planned_pictures

    count = planned.count
    if not {bead.key for bead in rope.kinds} <= set(colours) or count.rounds > MOST_DRAWN:
        return None
    return planned_pictures(rope, *looks_of(planned, colours), count.end_bead_mm, cloth)


def looks_of(
    planned: PlannedCount, colours: Mapping[str, Lab]
) -> tuple[dict[str, BeadLook], dict[str, Solid]]:
    """How each planned bead looks and what solid it is, by its key; ``body`` gives the rope's own bead."""
    from analyser.drawing.rope_view import BeadLook, bead_solid

    count = planned.count
    finish = {need.bead.key: need.held.bead.finish if need.held else None for need in planned.needs}
    looks = {key: BeadLook(lab, finish.get(key)) for key, lab in colours.items()}
    solids = {need.bead.key: bead_solid(need.kind.shape, need.kind.size) for need in planned.needs}
    lead = count.kinds[leading(count.motif)]
    solids["body"] = bead_solid(lead.shape, lead.size)
    return looks, solids


def _lot_of(need: PlannedNeed) -> str:
    """What tells a planned bead from others: its row of the list, else its key."""
    return need.bead.key if need.held is None else f"row {need.held.bead.row} {need.held.bead.id}"


def _chart_row(row: ChartRow, part: str, numbers: Sequence[int]) -> dict[str, object]:
    runs = [(times, [numbers[index] for index in stitch]) for times, stitch in row.runs]
    return {
        "first": row.first,
        "last": row.last,
        "times": row.times,
        "spoken": plans.chart_row(part, row.first, row.last, runs),
        "ticks": [
            f"{part} {number} woven"
            for number in (range(row.first, row.last + 1) if row.times <= _MOST_TICKS else [row.last])
        ],
        "runs": [{"times": times, "beads": beads} for times, beads in runs],
    }
