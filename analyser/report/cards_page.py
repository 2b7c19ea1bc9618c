"""The cards of a class as a page to print: eight to a sheet of A4, with lines to cut along."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from analyser.drawing import rope_view
from analyser.drawing.rope_view import BeadLook
from analyser.motif.planned_rope import lay
from analyser.piece.kits import ClassPlan, KitColourway
from analyser.piece.piece_cards import CAUTION, KitCard
from analyser.piece.planned_count import rise_of
from analyser.report import html, previews
from analyser.stock.bead import Bead

_ON_A_SHEET = 8


@dataclass(frozen=True, slots=True)
class _Card:
    card: KitCard
    rope: str  # CSS class of its picture
    beads: Mapping[str, Bead]  # of each portion by its key: its lot, or where none serves it the bead wanted


def cards_page(made: Sequence[KitColourway], plan: ClassPlan) -> str:
    """The cards of a class, each with its drawn rope.

    Parameters
    ----------
    made : sequence of KitColourway
        The class.
    plan : ClassPlan
        What ``kits.plan`` made of it.
    """
    pictures: dict[tuple[object, ...], tuple[str, str]] = {}
    ways = [way for way in made for _ in range(way.kits)]
    cards = []
    for way, card in zip(ways, plan.cards, strict=True):
        beads = {role: lots[0] for role, lots in way.stock.items()}
        beads |= {portion.key: portion.bead for portion in card.portions if portion.bead}
        look = (
            way.count.motif,
            id(way.along),
            *((role, bead.lab, bead.finish) for role, bead in beads.items()),
        )
        if look not in pictures:
            pictures[look] = f"rope-{len(pictures)}", _rope(way, beads)
        cards.append(_Card(card, pictures[look][0], beads))
    sheets = [cards[at : at + _ON_A_SHEET] for at in range(0, len(cards), _ON_A_SHEET)]
    context = {
        "title": f"{len(cards)} kit{'s' * (len(cards) != 1)}",
        "sheets": sheets,
        "caution": CAUTION,
        "ropes": list(pictures.values()),
    }
    return html.render("cards.html", context)


def _rope(way: KitColourway, beads: Mapping[str, Bead]) -> str:
    motif = way.count.motif
    looks = dict.fromkeys((*motif.roles, "end"), rope_view.NOT_CHOSEN)
    looks |= {role: BeadLook(bead.lab, bead.finish) for role, bead in beads.items() if bead.lab is not None}
    if "end" not in beads:
        looks["end"] = looks.get("body", rope_view.NOT_CHOSEN)
    solids = {role: rope_view.bead_solid(kind.shape, kind.size) for role, kind in way.count.kinds.items()}
    whole = None
    if way.along is not None:
        whole = lay(way.along, motif, way.count.rounds, rise_of(way.count)).beads
    return previews.strip(motif, looks, solids, end_mm=way.count.end_bead_mm, whole=whole)
