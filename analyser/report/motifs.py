"""Motifs as the JSON of ``analyser motif``, and one as a picture."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

from analyser.report.answers import Answer, head

if TYPE_CHECKING:
    from analyser.motif.motif import Motif

_FILLS = {"accent": "fill:#d98f3d", "body": "fill:#5d7f8c", "third": "fill:#a6586b"}
_FURTHER = ("fill:#8f9a5b", "fill:#c9b79a", "fill:#6b5a7d", "fill:#b5b5b5")


def motif_fields(motif: Motif) -> Answer:
    """What a motif is, as its file says it."""
    return {
        "name": motif.name,
        "title": motif.title,
        "says": motif.says,
        "roles": list(motif.roles),
        "columns": motif.columns,
        "repeats_after": motif.repeat_rounds,
        "shares": motif.shares(),
    }


def list_answer(motifs: Sequence[Motif], options: Mapping[str, Any]) -> Answer:
    """The answer of ``analyser motif list``."""
    return {**head(options), "motifs": [motif_fields(motif) for motif in motifs]}


def motif_answer(motif: Motif, options: Mapping[str, Any]) -> Answer:
    """The answer of ``analyser motif show`` and ``check``."""
    return {**head(options), **motif_fields(motif)}


def picture(motif: Motif) -> str:
    """The motif rolled out, as an SVG of its own."""
    from analyser.drawing.motif_chart import sideways

    further = [role for role in motif.roles if role not in _FILLS]
    fill = _FILLS | {role: _FURTHER[k % len(_FURTHER)] for k, role in enumerate(further)}
    return sideways(motif, fill, label=f"{motif.title}: {motif.says}", rounds=2 * motif.repeat_rounds)
