"""Rope and pile pictures as encoded bytes, for any two colours, distance, sight and light."""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from analyser.arrays import Lab
from analyser.colour import adaptation, vision
from analyser.drawing import chips, distances, rope_view
from analyser.drawing.rope_view import BeadLook, Ends
from analyser.drawing.scene import LitSurface
from analyser.errors import OptionError
from analyser.imaging import encoding
from analyser.motif.motif import Motif
from analyser.motif.planned_rope import lay
from analyser.piece.planned_piece import PlannedPiece
from analyser.report.plan_answers import MOST_DRAWN, looks_of

_SIZE_PX = {"rope": (860, 130), "piece": (300, 130)}
_PLANNED_PX = 1080
_BESIDE_MM = 1.0  # of cloth to the left and right of a whole rope
_QUALITY = 84


def rope(
    motif: Motif,
    size: str,
    looks: dict[str, tuple[Lab, str | None, str]],
    *,
    part: str = "rope",
    metres: float = distances.IN_THE_HAND_M,
    sight: str = "usual",
    light: str = "D65",
    cloth: Lab | None = None,
    end_size: str | None = None,
) -> bytes:
    """A stretch of rope as a JPEG.

    Parameters
    ----------
    motif : Motif
    size : str
    looks : mapping of role to (Lab, finish, shape)
    part : str
        ``rope`` for one long with its end, ``piece`` for a short stretch.
    metres : float
        Viewing distance, 0.35 or more.
    sight : str
        ``usual``, ``protan``, ``deutan`` or ``tritan``.
    light : str
        An illuminant of ``adaptation``.
    cloth : Lab, optional
        What it lies on.
    end_size : str, optional
        Size of the end beads; they are drawn, with half of the clasp, where ``looks`` has them.
    """
    beads = tuple(
        sorted(
            (role, shape, (end_size or "6mm") if role == "end" else size)
            for role, (_, _, shape) in looks.items()
        )
    )
    seen, px_per_mm = _laid(motif, beads, part)
    painted = {role: BeadLook(_under(lab, light), finish) for role, (lab, finish, _) in looks.items()}
    for role in motif.roles:
        painted.setdefault(role, rope_view.NOT_CHOSEN)
    painted.setdefault(rope_view.METAL, BeadLook(_under(rope_view.SILVER_TONE.lab, light), "metallic"))
    ground = _under(cloth or rope_view.NEUTRAL_CLOTH, light)
    linear = rope_view.paint_linear(seen, painted, ground)
    if metres > distances.IN_THE_HAND_M:
        linear = distances.from_distance(linear, BeadLook(ground).linear, px_per_mm, metres)
    if sight != "usual":
        seen_light = vision.simulate(linear, sight)  # type: ignore[arg-type]  # the page's form has checked it
        linear = np.asarray(np.clip(seen_light, 0.0, 1.0), np.float32)
    return encoding.jpeg_bytes(encoding.srgb_u8(linear), _QUALITY)


def planned(piece: PlannedPiece, part: str) -> bytes:
    """A planned rope as a JPEG: ``whole`` for all of it, ``close`` for its middle."""
    count = piece.planned.count
    if count.rounds > MOST_DRAWN:
        raise OptionError(f"{count.rounds} rounds are too many to be seen in one picture")
    rope = lay(piece.planned.plan, count.motif, count.rounds, piece.planned.rise_mm).beads
    looks, solids = looks_of(piece.planned, piece.colours)
    across_mm, long_mm = rope_view.outer_mm(rope, solids), _long_mm(piece)
    width = _PLANNED_PX
    px_per_mm = width / long_mm if part == "whole" else _SIZE_PX["rope"][1] / (1.45 * across_mm)
    seen = rope_view.straight(
        rope,
        width_px=width,
        height_px=max(24, round(1.5 * across_mm * px_per_mm)),
        px_per_mm=px_per_mm,
        bead=solids,
        start_mm=0.5 * (width / px_per_mm - long_mm) + _BESIDE_MM,
    )
    return encoding.jpeg_bytes(encoding.srgb_u8(rope_view.paint_linear(seen, looks)), _QUALITY)


def pattern_between(piece: PlannedPiece) -> tuple[float, float]:
    """Where the rounds start and end in the picture of the whole rope, as parts of its width."""
    motif, long_mm = piece.planned.count.motif, _long_mm(piece)
    _, solids = looks_of(piece.planned, piece.colours)
    bead_mm = solids["body"].length_mm
    base, closing = (sum(row.rise for row in rows) * bead_mm for rows in (motif.base, motif.closing))
    return (_BESIDE_MM + base) / long_mm, 1.0 - (_BESIDE_MM + closing) / long_mm


def _long_mm(piece: PlannedPiece) -> float:
    count = piece.planned.count
    _, solids = looks_of(piece.planned, piece.colours)
    long_beads = count.motif.rope(count.rounds).length_beads
    return 2.0 * _BESIDE_MM + long_beads * solids["body"].length_mm


def pile(lab: Lab, finish: str | None) -> bytes:
    """A pile of beads as a PNG with alpha."""
    return encoding.png_bytes(chips.pile(BeadLook(lab, finish)))


def _under(lab: Lab, light: str) -> Lab:
    if light == "D65":
        return lab
    lightness, a, b = (float(v) for v in adaptation.lab_under(lab, light))
    return lightness, a, b


@lru_cache(maxsize=24)
def _laid(motif: Motif, beads: tuple[tuple[str, str, str], ...], part: str) -> tuple[LitSurface, float]:
    bead = {role: rope_view.bead_solid(shape, size) for role, shape, size in beads}
    body = bead["body"]
    width, height = _SIZE_PX[part]
    across_mm = rope_view.outer_mm(motif.rope(4), bead)
    px_per_mm = height / (1.45 * across_mm)
    rise_mm = motif.rise.likely * body.length_mm
    rounds = int((width / px_per_mm + 4.0 * across_mm) / rise_mm) + 4
    seen = rope_view.straight(
        motif.rope(rounds),
        width_px=width,
        height_px=height,
        px_per_mm=px_per_mm,
        bead=bead,
        ends=Ends(bead["end"].diameter_mm) if "end" in bead else None,
        start_mm=None if "end" in bead else -2.0 * across_mm,
    )
    return seen, px_per_mm
