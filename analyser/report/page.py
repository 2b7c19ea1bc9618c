"""The colourway as one page: worn view first, where its colours come from, the beads, the kit cards.

The page is made from the answer of ``analyser colourway`` (a dict of the contract's shape) and the pictures
that go with it; it decides what is said and in which order, never a number. Everything that came out of a
file (names, ids, notes) is text and is escaped by the templates.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from analyser.beads.bead import Bead
from analyser.beads.motif import Motif
from analyser.colour import names, spaces
from analyser.colourway.matching import in_words
from analyser.drawing import chart, rope_view
from analyser.drawing.rope_view import Look
from analyser.photo.reading import Photo
from analyser.report import embedding, html, measures_shown
from analyser.report.previews import Piles, RopePictures, Ropes

Answer = Mapping[str, Any]

_PHOTO_LONGEST_PX = 1280
_LABELS_AT_MOST = 10  # more chips in a row than half of this leave no room for names on a phone


@dataclass(frozen=True, slots=True)
class Chip:
    """A colour as the page shows it.

    Attributes
    ----------
    name : str
    style : str
        CSS declarations that set its background.
    pile : str
        CSS class that shows a pile of beads in it.
    wide : bool
        It lies beyond sRGB: only some screens show it.
    hex : str
    lab : str
        L*, a*, b* to one decimal.
    """

    name: str
    style: str
    pile: str
    wide: bool
    hex: str
    lab: str


@dataclass(frozen=True, slots=True)
class Place:
    """A palette colour with its place in the photo, in percent, and the column its leader runs to."""

    number: int
    chip: Chip
    share: float
    x: float
    y: float
    column: float
    at_top: bool


@dataclass(frozen=True, slots=True)
class WornBead:
    """A bead in its role: what a maker reads on a kit card."""

    role: str
    letter: str
    id: str
    name: str
    about: str
    chip: Chip
    needs: int | None


@dataclass(frozen=True, slots=True)
class WornPair:
    """A pair with everything the page says about it."""

    number: int
    mark: str
    title: str
    beads: tuple[WornBead, ...]
    pictures: RopePictures
    says: str
    remarks: tuple[str, ...]
    bars: tuple[measures_shown.Bar, ...]
    far: Chip
    reads_to_m: float
    enough: str
    raw: Answer


def write_colourway_page(
    answer: Answer,
    photo: Photo,
    motif: Motif,
    path: Path,
    *,
    beads: Sequence[Bead] = (),
    worn_on: tuple[float, float, float] | None = None,
    rounds: int | None = None,
) -> None:
    """Write the page of a colourway.

    Parameters
    ----------
    answer : mapping
        The answer of ``analyser colourway``. A pair may also hold ``third`` (a bead's id) and ``count`` (an
        answer of ``analyser count``).
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

    Raises
    ------
    OptionError
        If the page cannot be written there.
    """
    html.write_whole(colourway_page(answer, photo, motif, beads=beads, worn_on=worn_on, rounds=rounds), path)


def colourway_page(
    answer: Answer,
    photo: Photo,
    motif: Motif,
    *,
    beads: Sequence[Bead] = (),
    worn_on: tuple[float, float, float] | None = None,
    rounds: int | None = None,
) -> str:
    """The page of ``write_colourway_page`` as text."""
    known = _known_beads(answer, beads)
    piles = Piles()
    ropes = Ropes(motif, cloth=worn_on, rounds=rounds)
    pairs = [_worn(number, pair, known, piles, ropes) for number, pair in enumerate(answer["pairs"], start=1)]
    places = _places(answer, piles)
    context = {
        "title": f"A colourway from {Path(str(answer['photo']['file'])).name}",
        "answer": answer,
        "pairs": pairs,
        "places": places,
        "rows": [
            [place for place in sorted(places, key=lambda p: p.column) if place.at_top],
            [place for place in sorted(places, key=lambda p: p.column) if not place.at_top],
        ],
        "few": len(places) <= _LABELS_AT_MOST,
        "matches": _matches(answer, places, known, piles),
        "background": _background(answer, piles),
        "photo": embedding.data_uri(
            embedding.jpeg_bytes(embedding.picture_u8(photo.linear, _PHOTO_LONGEST_PX), 86)
        ),
        "photo_size": photo.linear.shape[1::-1],
        "motif": motif,
        "chart": _chart(motif, pairs[0]) if pairs else "",
        "cloth": _chip(worn_on, names.everyday_name(worn_on), piles) if worn_on else None,
        "sure": measures_shown.how_sure(answer["calibration"]),
        "any_wide": any(place.chip.wide for place in places),
        "scales": measures_shown.SCALES,
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


def _chip(lab: Sequence[float], name: str, piles: Piles, finish: str | None = None) -> Chip:
    lab = (float(lab[0]), float(lab[1]), float(lab[2]))
    values = embedding.css_colours(lab)
    # + 0.0: no minus before a nought.
    numbers = ", ".join(f"{round(part, 1) + 0.0:.1f}" for part in lab)
    return Chip(
        name,
        embedding.css_declarations(lab),
        piles.css_class(Look(lab, finish)),
        len(values) > 2,
        values[0],
        numbers,
    )


def _places(answer: Answer, piles: Piles) -> list[Place]:
    """The palette's places: leaders of the upper half run to the top, the others to the foot, uncrossed."""
    photo, colours = answer["photo"], answer["colours"]
    spot = [
        (100.0 * (c["pixel"][0] + 0.5) / photo["width"], 100.0 * (c["pixel"][1] + 0.5) / photo["height"])
        for c in colours
    ]
    by_height = sorted(range(len(colours)), key=lambda k: spot[k][1])
    half = (len(colours) + 1) // 2
    places = []
    for at_top, members in ((True, by_height[:half]), (False, by_height[half:])):
        for column, k in enumerate(sorted(members, key=lambda k: spot[k][0])):
            colour = colours[k]
            chip = _chip(colour["lab"], colour["name"], piles)
            middle = 100.0 * (column + 0.5) / len(members)
            places.append(Place(k + 1, chip, float(colour["share"]), *spot[k], middle, at_top))
    return sorted(places, key=lambda place: place.number)


def _background(answer: Answer, piles: Piles) -> dict[str, Any] | None:
    colour = answer.get("background")
    if colour is None:
        return None
    return {"chip": _chip(colour["lab"], colour["name"], piles), "share": colour["share"]}


def _matches(
    answer: Answer, places: Sequence[Place], known: Mapping[str, Answer], piles: Piles
) -> list[dict[str, Any]]:
    rows = []
    for place, matches in zip(places, answer["matches"], strict=False):
        beads = [
            {
                "name": bead["name"],
                "id": bead["id"],
                "about": _about(known[bead["id"]]),
                "verdict": bead["verdict"],
                "says": bead.get("says") or in_words(bead["de00"]),
                "chip": _chip(bead["lab"], bead["name"], piles, known[bead["id"]].get("finish")),
            }
            for bead in matches["beads"]
        ]
        rows.append({"place": place, "beads": beads, "shop_for": _shop_for(matches.get("shop_for"))})
    return rows


def _shop_for(wanted: Answer | None) -> str:
    if wanted is None:
        return ""
    says = measures_shown.sentence([str(wanted["says"])])
    return f"{says} To shop for: {wanted['name']} ({wanted['hex']})."


def _about(bead: Answer) -> str:
    """Size, shape where it is not round, finish and lot in a few words."""
    shape = bead.get("shape")
    parts = [
        bead.get("size"),
        shape if shape not in (None, "round", "large") else None,
        bead.get("finish"),
        f"lot {bead['lot']}" if bead.get("lot") else None,
    ]
    return ", ".join(str(part) for part in parts if part)


def _worn(number: int, pair: Answer, known: Mapping[str, Answer], piles: Piles, ropes: Ropes) -> WornPair:
    roles = [role for role in ("accent", "body", "third") if pair.get(role) or f"{role}_lab" in pair]
    beads, looks, solids = [], {}, {}
    for letter, role in zip("ABC", roles, strict=False):
        bead = known.get(str(pair.get(role)), {})
        lab = pair.get(f"{role}_lab") or bead["lab"]
        finish = bead.get("finish")
        name = str(bead.get("name") or pair.get(role) or names.everyday_name(lab))
        looks[role] = Look((float(lab[0]), float(lab[1]), float(lab[2])), finish)
        solids[role] = rope_view.bead_solid(bead.get("shape") or "round", bead.get("size") or "11/0")
        chip = _chip(lab, name, piles, finish)
        needs = (pair.get("needs") or {}).get(role)
        beads.append(WornBead(role, letter, str(pair.get(role) or ""), name, _about(bead), chip, needs))
    looks.setdefault("end", looks["body"])
    reasons = [str(reason) for reason in pair["reasons"]]
    far_lab = spaces.hex_to_lab(pair["far_hex"])
    return WornPair(
        number,
        _roman(number),
        f"{beads[0].name} on {beads[1].name}",
        tuple(beads),
        ropes.pictures(looks, solids),
        measures_shown.sentence(reasons[:4]),
        tuple(measures_shown.sentence([reason]) for reason in reasons[4:]),
        measures_shown.bars(pair),
        _chip(list(map(float, far_lab)), names.everyday_name(far_lab), piles),
        float(pair["reads_to_m"]),
        _in_the_box(pair.get("enough")),
        pair,
    )


def _roman(number: int) -> str:
    """Roman numerals for the pairs: digits stand for the photo's colours, letters for the bags of a kit."""
    text = ""
    for value, sign in ((40, "XL"), (10, "X"), (9, "IX"), (5, "V"), (4, "IV"), (1, "I")):
        while number >= value:
            text, number = text + sign, number - value
    return text


def _in_the_box(enough: bool | None) -> str:
    if enough is None:
        return "whether it holds enough is not known"
    return "one lot of each holds enough" if enough else "not enough in one lot"


def _chart(motif: Motif, pair: WornPair) -> str:
    fill = {bead.role: bead.chip.style.replace("background-color:", "fill:") for bead in pair.beads}
    label = (
        f"Flat chart of {motif.title}, laid sideways, its start at the left: "
        f"accent beads carry a small ring, body beads none"
    )
    return chart.sideways(motif, fill, label=label)
