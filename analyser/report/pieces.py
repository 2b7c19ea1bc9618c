"""What pieces take out of the list, as the JSON of the command line and of the page."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

from analyser.stock.lots import sure_beads

if TYPE_CHECKING:
    from analyser.piece.kits import ClassPlan
    from analyser.piece.piece_cards import PieceCard
    from analyser.stock.bead import Bead
    from analyser.stock.list.booking import Booking


def booking_fields(booking: Booking, card_file: Path) -> dict[str, Any]:
    """What was booked out of which lot, and where the card or cards are."""
    return {
        "file": str(booking.path),
        "backup": str(booking.backup) if booking.backup else None,
        "card_file": str(card_file),
        "taken": [
            {
                "id": line.id,
                "lot": line.lot or None,
                "beads": line.beads,
                "before": line.before,
                "after": line.after,
                "unit": line.unit or None,
                "left": {"low": line.left.low, "likely": line.left.likely, "high": line.left.high},
            }
            for line in booking.lines
        ],
    }


def lots_used(plan: ClassPlan) -> list[dict[str, Any]]:
    """What a class takes of which lot, and what is left of it, by the low end of beads per gram."""
    taken: dict[tuple[str, str | None, str, str], tuple[Bead, int]] = {}
    for bead, beads in plan.taken:
        key = (bead.id, bead.size, bead.shape, bead.lot)
        taken[key] = (bead, taken.get(key, (bead, 0))[1] + beads)
    return [
        {
            "id": bead.id,
            "name": bead.name,
            "lot": bead.lot or None,
            "size": bead.size,
            "beads": beads,
            "have": sure_beads(bead),
            "left": None if (have := sure_beads(bead)) is None else have - beads,
        }
        for bead, beads in taken.values()
    ]


def card_fields(card: PieceCard) -> dict[str, Any]:
    """A piece card."""
    return {
        "made_on": card.made_on.isoformat(),
        "motif": card.motif,
        "rounds": card.rounds,
        "finished_mm": card.finished_mm,
        "gauge": card.gauge,
        "beads": [
            {
                "role": portion.role,
                "id": portion.bead.id if portion.bead else None,
                "lot": portion.bead.lot or None if portion.bead else None,
                "beads": portion.beads,
            }
            for portion in card.portions
        ],
        "end_beads": card.end_beads,
        "thread": card.thread,
        "notes": card.notes,
    }
