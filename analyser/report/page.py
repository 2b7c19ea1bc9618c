"""The colourway as one page: worn view first, where its colours come from, the beads, the kit cards.

The page is made from the answer of ``analyser colourway`` (a dict of the schema's shape) and the pictures
that go with it; it decides what is said and in which order, never a number. Everything that came out of a
file (names, ids, notes) is text and is escaped by the templates.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from analyser.arrays import Lab
from analyser.colour import names
from analyser.colourway.plan_design import PlannedDesign
from analyser.drawing import motif_chart
from analyser.drawing.leaders import Box, Leader, leaders
from analyser.drawing.reference_view import name_boxes, photo_view
from analyser.files import write_whole
from analyser.imaging import encoding
from analyser.motif.motif import Motif
from analyser.photo.calibration import Calibration
from analyser.photo.reading import Photo
from analyser.phrases import bars, sentences
from analyser.phrases.matches import difference
from analyser.report import embedding, html, pair_view
from analyser.report.pair_view import Chip, WornPair, about, chip_of
from analyser.report.plan_answers import planned_view
from analyser.report.previews import Piles, Ropes
from analyser.stock.bead import Bead

Answer = Mapping[str, Any]

_PHOTO_LONGEST_PX = 1280
_LABELS_AT_MOST = 10  # more chips in a row than half of this leave no room for names on a phone


@dataclass(frozen=True, slots=True)
class ColourPlace:
    """A palette colour, and the line from its place in the photo to its chip."""

    number: int
    chip: Chip
    share: float
    leader: Leader


def write_colourway_page(
    answer: Answer,
    photo: Photo,
    motif: Motif,
    path: Path,
    *,
    beads: Sequence[Bead] = (),
    worn_on: Lab | None = None,
    rounds: int | None = None,
    planned: PlannedDesign | None = None,
    calibration: Calibration | None = None,
) -> None:
    """Write the page of a colourway.

    Parameters
    ----------
    answer : mapping
        The answer of ``analyser colourway``; a pair may also hold ``count``, an answer of ``analyser count``.
    photo : Photo
        As it is to be shown, that is calibrated; only its pixels go into the page.
    motif : Motif
        The motif the pairs are judged in.
    path : Path
        The HTML file, written whole or not at all.
    beads : sequence of Bead, optional
        The stock, for names, finishes and sizes; without it they are taken from the matches.
    worn_on : (L, a, b), optional
        Cloth or skin the piece is worn on.
    rounds : int, optional
        Of the whole piece, for the picture as a ring.
    planned : PlannedDesign, optional
        The colourway along a plan.
    calibration : Calibration, optional
        Of the photo: what it saw of known colour is outlined.

    Raises
    ------
    OptionError
        If the page cannot be written there.
    """
    write_whole(
        path,
        colourway_page(
            answer,
            photo,
            motif,
            beads=beads,
            worn_on=worn_on,
            rounds=rounds,
            planned=planned,
            calibration=calibration,
        ),
        make_folders=True,
    )


def colourway_page(
    answer: Answer,
    photo: Photo,
    motif: Motif,
    *,
    beads: Sequence[Bead] = (),
    worn_on: Lab | None = None,
    rounds: int | None = None,
    planned: PlannedDesign | None = None,
    calibration: Calibration | None = None,
) -> str:
    """The page of ``write_colourway_page`` as text."""
    known = _known_beads(answer, beads)
    piles = Piles()
    ropes = Ropes(motif, cloth=worn_on, rounds=rounds)
    pairs = [
        pair_view.pair_as_worn(number, pair, known, piles, ropes)
        for number, pair in enumerate(answer["pairs"], start=1)
    ]
    tags = [] if calibration is None else name_boxes(calibration, (photo.height, photo.width))
    places = _places(answer, piles, tags)
    context = {
        "title": f"A colourway from {Path(str(answer['photo']['file'])).name}",
        "answer": answer,
        "pairs": pairs,
        "places": places,
        "rows": [
            [
                place
                for place in sorted(places, key=lambda p: p.leader.column)
                if place.leader.at_top == at_top
            ]
            for at_top in (True, False)
        ],
        "few": len(places) <= _LABELS_AT_MOST,
        "matches": _matches(answer, places, known, piles),
        "background": _background(answer, piles),
        "photo": embedding.data_uri(encoding.jpeg_bytes(_photo(photo, calibration), 86)),
        "photo_size": photo.linear.shape[1::-1],
        "motif": motif,
        "chart": _chart(motif, pairs[0]) if pairs else "",
        "cloth": chip_of(worn_on, names.everyday_name(worn_on), piles) if worn_on else None,
        "any_wide": any(place.chip.wide for place in places),
        "scales": bars.SCALES,
        "planned": planned_view(planned, piles, worn_on) if planned else None,
    }
    context["pile_css"] = piles.css()
    return html.render("colourway.html", context)


def _known_beads(answer: Answer, beads: Sequence[Bead]) -> dict[str, Answer]:
    """What is known of each bead by id: from the matches, then, which wins, from the stock."""
    known: dict[str, Answer] = {}
    for matches in answer["matches"]:
        for bead in matches["beads"]:
            known.setdefault(bead["id"], bead)
    for one in beads:
        known[one.id] = {
            "id": one.id,
            "name": one.name,
            "lab": one.lab,
            "finish": one.finish,
            "size": one.size,
            "shape": one.shape,
            "lot": one.lot or None,
        }
    return known


def _places(answer: Answer, piles: Piles, tags: Sequence[Box]) -> list[ColourPlace]:
    """The palette's places, each with the end of a row of chips that its leader runs to."""
    photo, colours = answer["photo"], answer["colours"]
    spots = [
        (100.0 * (c["pixel"][0] + 0.5) / photo["width"], 100.0 * (c["pixel"][1] + 0.5) / photo["height"])
        for c in colours
    ]
    return [
        ColourPlace(k, chip_of(colour["lab"], colour["name"], piles), float(colour["share"]), leader)
        for k, (colour, leader) in enumerate(
            zip(colours, leaders(spots, photo["width"] / photo["height"], tags), strict=True), start=1
        )
    ]


def _background(answer: Answer, piles: Piles) -> dict[str, Any] | None:
    colour = answer.get("background")
    if colour is None:
        return None
    return {"chip": chip_of(colour["lab"], colour["name"], piles), "share": colour["share"]}


def _matches(
    answer: Answer, places: Sequence[ColourPlace], known: Mapping[str, Answer], piles: Piles
) -> list[dict[str, Any]]:
    rows = []
    for place, matches in zip(places, answer["matches"], strict=False):
        beads = [
            {
                "name": bead["name"],
                "id": bead["id"],
                "about": about(known[bead["id"]]),
                "verdict": bead["verdict"],
                "says": bead.get("says") or difference(bead["de00"]),
                "chip": chip_of(bead["lab"], bead["name"], piles, known[bead["id"]].get("finish")),
            }
            for bead in matches["beads"]
        ]
        mixed = [_mix(mix, piles) for mix in answer.get("mixes") or [] if mix["colour"] == place.number - 1]
        rows.append({"place": place, "beads": beads, "mixes": mixed, "says": matches["says"]})
    return rows


def _mix(mix: Answer, piles: Piles) -> dict[str, Any]:
    chips = [chip_of(bead["lab"], bead["name"], piles, bead.get("finish")) for bead in mix["beads"]]
    return {"chips": chips, "says": sentences.sentence([str(mix["says"])])}


def _chart(motif: Motif, pair: WornPair) -> str:
    fill = {bead.role: bead.chip.style.replace("background-color:", "fill:") for bead in pair.beads}
    label = (
        f"Flat chart of {motif.title}, laid sideways, its start at the left: "
        f"accent beads carry a small ring, body beads none"
    )
    return motif_chart.sideways(motif, fill, label=label)


def _photo(photo: Photo, calibration: Calibration | None) -> encoding.U8Array:
    """The photo's pixels, with what it was calibrated by outlined."""
    if calibration is None:
        return encoding.picture_u8(photo.linear, _PHOTO_LONGEST_PX)
    return photo_view(photo, calibration, _PHOTO_LONGEST_PX)
