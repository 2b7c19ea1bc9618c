"""A planned piece: its beads as JSON, and the chart to weave it by as one page to print."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from analyser.piece.counting import leading
from analyser.report.answers import Answer
from analyser.report.html import render

if TYPE_CHECKING:
    from analyser.arrays import Lab
    from analyser.motif.planned_rope import PlannedRope
    from analyser.motif.weaving_chart import ChartRow
    from analyser.piece.planned_count import PlannedCount, PlannedNeed
    from analyser.piece.planned_piece import PlannedPiece
    from analyser.report.previews import PlannedPictures

_LIGHT_INK_BELOW = 55.0  # L* of a bead on which white figures read better than black ones
_MOST_DRAWN = 400  # rounds; the beads of a longer rope would be smaller than pixels
_PARTS = {"base": "Base", "pattern": "Pattern", "closing": "Closing"}


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
            "length": f"{count.lengths.finished_mm / 10:.1f} cm",
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
                {"name": name, "rows": [_chart_row(row, numbers) for row in rows if row.part == part]}
                for part, name in _PARTS.items()
            ],
            "known": bool(colours),
            "pictures": _pictures(planned, rope, colours),
        },
    )


def _pictures(planned: PlannedCount, rope: PlannedRope, colours: Mapping[str, Lab]) -> PlannedPictures | None:
    """The rope drawn, where the colour of each of its beads is known and it is short enough to be seen."""
    from analyser.drawing.rope_view import BeadLook, bead_solid
    from analyser.report.previews import planned_pictures

    count = planned.count
    if not {bead.key for bead in rope.kinds} <= set(colours) or count.rounds > _MOST_DRAWN:
        return None
    finish = {need.bead.key: need.held.bead.finish if need.held else None for need in planned.needs}
    looks = {key: BeadLook(lab, finish.get(key)) for key, lab in colours.items()}
    solids = {
        bead.key: bead_solid(count.kinds[bead.role].shape, count.kinds[bead.role].size) for bead in rope.kinds
    }
    lead = count.kinds[leading(count.motif)]
    solids["body"] = bead_solid(lead.shape, lead.size)
    return planned_pictures(rope, looks, solids, count.end_bead_mm)


def _lot_of(need: PlannedNeed) -> str:
    """What tells a planned bead from others: its row of the list, else its key."""
    return need.bead.key if need.held is None else f"row {need.held.bead.row} {need.held.bead.id}"


def _chart_row(row: ChartRow, numbers: Sequence[int]) -> dict[str, object]:
    return {
        "first": row.first,
        "last": row.last,
        "times": row.times,
        "runs": [
            {"times": times, "beads": [numbers[index] for index in stitch]} for times, stitch in row.runs
        ],
    }
