"""One pair as the page shows it: its beads, what goes with them, the pictures, the words."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from analyser.colour import names, spaces
from analyser.drawing import rope_view
from analyser.drawing.rope_view import BeadLook
from analyser.drawing.solids import Solid
from analyser.motif.geometry import letter_of
from analyser.phrases import bars as pair_bars
from analyser.phrases import sentences
from analyser.phrases.pairs import far, title
from analyser.piece.piece_cards import to_scale
from analyser.report import embedding
from analyser.report.previews import Piles, RopePictures, Ropes

Answer = Mapping[str, Any]

_COMPANY = {"third": "a third, if wanted", "end": "end beads"}
#: Role, its key among what goes with a pair, and its letter on the kit card.
_SUGGESTED = (("third", "third", "C"), ("end", "end_bead", "E"))
#: Kinds of reasons that a pair's line and its bars tell already.
_TOLD = ("fit", "reads", "value", "stock")


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
class WornBead:
    """A bead in its role: what a maker reads beside a rope and on a kit card.

    Attributes
    ----------
    role, letter : str
        The letter is that of its bag.
    id, name, about : str
        ``about`` is size, shape, finish and lot; empty strings where not known.
    stands_for : str
        Which colour of the photo, and how near; empty where it is for none.
    chip : Chip
    needs : int or None
        Beads for the piece; None if not counted.
    """

    role: str
    letter: str
    id: str
    name: str
    about: str
    stands_for: str
    chip: Chip
    needs: int | None


@dataclass(frozen=True, slots=True)
class WornPair:
    """A pair with everything the page says about it; ``raw`` is the PAIR of the answer."""

    number: int
    mark: str
    title: str
    beads: tuple[WornBead, ...]
    company: tuple[WornBead, ...]
    pictures: RopePictures
    line: str
    weigh_out: str
    remarks: tuple[str, ...]
    bars: tuple[pair_bars.Bar, ...]
    far: Chip
    reads_to_m: float
    blurs_from_m: float
    far_says: str
    in_the_box: str
    raw: Answer


def chip_of(lab: Sequence[float], name: str, piles: Piles, finish: str | None = None) -> Chip:
    """A colour (Lab, D65), its name and its finish as a chip."""
    triple = (float(lab[0]), float(lab[1]), float(lab[2]))
    values = embedding.css_colours(triple)
    # + 0.0: no minus before a nought.
    numbers = ", ".join(f"{round(part, 1) + 0.0:.1f}" for part in triple)
    pile = piles.css_class(BeadLook(triple, finish))
    return Chip(name, embedding.css_declarations(triple), pile, len(values) > 2, values[0], numbers)


def about(bead: Answer) -> str:
    """Size, shape where it is not the usual, finish and lot in a few words."""
    shape = bead.get("shape")
    parts = [
        bead.get("size"),
        shape if shape not in (None, "round", "large") else None,
        bead.get("finish"),
        f"lot {bead['lot']}" if bead.get("lot") else None,
    ]
    return ", ".join(str(part) for part in parts if part)


def pair_as_worn(
    number: int, pair: Answer, known: Mapping[str, Answer], piles: Piles, ropes: Ropes
) -> WornPair:
    """What the page shows of one pair.

    Parameters
    ----------
    number : int
        Its place in the order, from 1.
    pair : mapping
        PAIR of the schema; ``beads``, ``company``, ``worn_on``, ``thread`` and ``count`` are shown where it
        has them.
    known : mapping of id to mapping
        Name, finish, size, shape and lot of beads, for pairs that do not hold them.
    """
    letters = {role: letter_of(role) for role in pair.get("beads") or ("accent", "body")}
    beads = [_bead_of_pair(role, letter, pair, known, piles) for role, letter in letters.items()]
    looks, solids = {}, {}
    for role in letters:
        looks[role], solids[role] = _drawn(_lab_of(role, pair), _own_bead(role, pair, known))
    company = pair.get("company") or {}
    suggested = []
    for role, key, letter in _SUGGESTED:
        one = company.get(key)
        if one and one.get("lab"):
            looks[role], solids[role] = _drawn(one["lab"], one)
            suggested.append(_suggested_bead(role, letter, one, pair, piles))
    looks["metal"] = rope_view.GOLD_TONE if company.get("metal") == "warm" else rope_view.SILVER_TONE
    far_lab = pair.get("far_lab") or [float(part) for part in spaces.hex_to_lab(pair["far_hex"])]
    return WornPair(
        number,
        roman(number),
        title([bead.name for bead in beads]),
        tuple(beads),
        tuple(suggested),
        ropes.pictures(looks, solids),
        sentences.sentence([pair["says"]]),
        _weigh_out(pair),
        tuple(sentences.sentence([remark]) for remark in _remarks(pair, len(suggested))),
        pair_bars.bars(pair),
        chip_of(far_lab, names.everyday_name(far_lab), piles),
        float(pair["reads_to_m"]),
        float(pair["blurs_from_m"]),
        far(pair["reads_to_m"], pair["blurs_from_m"]),
        _in_the_box(pair.get("enough")),
        pair,
    )


def _lab_of(role: str, pair: Answer) -> Sequence[float]:
    told = pair.get(f"{role}_lab")
    lab: Sequence[float] = told if told is not None else pair["beads"][role]["lab"]
    return lab


def _own_bead(role: str, pair: Answer, known: Mapping[str, Answer]) -> Answer:
    held: Mapping[str, Answer] = pair.get("beads") or {}
    empty: Answer = {}
    return held.get(role) or known.get(str(pair.get(role)), empty)


def _bead_of_pair(
    role: str, letter: str, pair: Answer, known: Mapping[str, Answer], piles: Piles
) -> WornBead:
    bead, lab = _own_bead(role, pair, known), _lab_of(role, pair)
    name = str(bead.get("name") or pair.get(role) or names.everyday_name(lab))
    fits = [one["says"] for one in pair["why"] if one["kind"] == "fit" and one["role"] == role]
    chip = chip_of(lab, name, piles, bead.get("finish"))
    needs = (pair.get("needs") or {}).get(role)
    return WornBead(role, letter, str(pair.get(role) or ""), name, about(bead), "".join(fits), chip, needs)


def _suggested_bead(role: str, letter: str, bead: Answer, pair: Answer, piles: Piles) -> WornBead:
    needs = (pair.get("needs") or {}).get(role)
    said = _COMPANY[role] if needs is None else role
    chip = chip_of(bead["lab"], bead["name"], piles, bead.get("finish"))
    return WornBead(said, letter, bead["id"], bead["name"], about(bead), "", chip, needs)


def _remarks(pair: Answer, suggested: int) -> list[str]:
    """What is told beneath the beads: not what the line, the bars and the beads suggested tell already."""
    ground = (pair.get("worn_on") or {}).get("says")
    more = [one["says"] for one in pair["why"] if one["kind"] not in _TOLD]
    company = list((pair.get("company") or {}).get("says") or [])[suggested:]
    return [str(remark) for remark in (ground, *more, pair.get("thread"), *company) if remark]


def _weigh_out(pair: Answer) -> str:
    """Grams to weigh out and metres of thread for the kit card; empty where nothing was counted."""
    count = pair.get("count")
    if not count:
        return ""
    grams = ", ".join(f"{role} {to_scale(grams):.1f} g" for role, grams in count["grams"].items())
    return f"{grams}; thread {count['thread_m']:.1f} m."


def _drawn(lab: Sequence[float], bead: Answer) -> tuple[BeadLook, Solid]:
    look = BeadLook((float(lab[0]), float(lab[1]), float(lab[2])), bead.get("finish"))
    return look, rope_view.bead_solid(bead.get("shape") or "round", bead.get("size") or "11/0")


def roman(number: int) -> str:
    """Roman numerals for the pairs: digits stand for the photo's colours, letters for the bags of a kit.

    >>> roman(4), roman(19)
    ('IV', 'XIX')
    """
    text = ""
    for value, sign in ((40, "XL"), (10, "X"), (9, "IX"), (5, "V"), (4, "IV"), (1, "I")):
        while number >= value:
            text, number = text + sign, number - value
    return text


def _in_the_box(enough: bool | None) -> str:
    if enough is None:
        return "whether it holds enough is not known"
    return "one lot of each holds enough" if enough else "not enough in one lot"
