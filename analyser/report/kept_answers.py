"""Kept colourways as the JSON objects of the command line and of the page."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from analyser.report.answers import Answer, colour_fields

if TYPE_CHECKING:
    from analyser.piece.kept import KeptColourway, KeptError


def kept_fields(path: Path, kept: KeptColourway) -> Answer:
    """KEPT of the schema."""
    return {
        "file": str(path),
        "name": kept.name,
        "made_on": kept.made_on.isoformat(),
        "state": kept.state,
        "note": kept.note,
        "motif": kept.motif,
        "size": kept.size,
        "shape": kept.shape,
        "length_mm": kept.length_mm,
        "gauge": kept.gauge,
        "plan": kept.plan,
        "beads": {
            role: {**dataclasses.asdict(bead), **colour_fields(bead.lab), "lot": bead.lot or None}
            for role, bead in kept.beads.items()
        },
        "colours": [
            {**colour_fields(colour.lab), "share": colour.share, "name": colour.name}
            for colour in kept.palette
        ],
        "photo": {"name": kept.photo, "sha256": kept.sha256},
    }


def list_fields(
    folder: Path, found: Mapping[Path, KeptColourway], faulty: Sequence[KeptError], bead: str | None
) -> dict[str, Any]:
    """All that is kept, or what holds a bead, by its id or name."""
    return {
        "folder": str(folder),
        "colourways": [
            kept_fields(path, kept) for path, kept in found.items() if bead is None or kept.holds(bead)
        ],
        "faulty": [str(error) for error in faulty],
    }
