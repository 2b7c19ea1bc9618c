"""What a worker does with a motif that is being written."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from analyser.arrays import Lab
from analyser.errors import MotifError
from analyser.motif import parsing
from analyser.piece.counting import SIZE
from analyser.report import embedding, motifs
from analyser.web import pictures

#: Colours that are told apart at a glance, so that a pattern shows before beads are chosen.
_LABS: dict[str, Lab] = {
    "accent": (66.0, 22.0, 52.0), "body": (51.0, -9.0, -11.0), "third": (49.0, 34.0, 7.0),
}  # fmt: skip
_FURTHER: tuple[Lab, ...] = ((63.0, -12.0, 32.0), (80.0, 3.0, 10.0), (46.0, 10.0, -15.0), (74.0, 0.0, 0.0))


def motif_drawn(tell: Callable[..., None], text: str) -> dict[str, Any]:
    """A motif's text read: the motif with its chart and its rope, or its first fault."""
    try:
        motif = parsing.parse(text, "your motif")
    except MotifError as error:
        return {"fault": {"says": str(error), "line": error.line}}
    further = [role for role in motif.roles if role not in _LABS]
    labs = _LABS | {role: _FURTHER[k % len(_FURTHER)] for k, role in enumerate(further)}
    looks: dict[str, tuple[Lab, str | None, str]] = {
        role: (labs[role], None, "round") for role in dict.fromkeys((*motif.roles, "accent", "body"))
    }
    return {
        "fault": None,
        "motif": motifs.motif_fields(motif),
        "chart": motifs.picture(motif),
        "rope": embedding.data_uri(pictures.rope(motif, SIZE, looks)),
    }


JOBS = {"motif_drawn": motif_drawn}
