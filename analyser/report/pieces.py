"""A booked piece as the JSON of the command line."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from analyser.piece.piece_cards import PieceCard
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
                "left": {"low": line.left.low, "likely": line.left.likely, "high": line.left.high},
            }
            for line in booking.lines
        ],
    }


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
