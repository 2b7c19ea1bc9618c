"""Rope and pile pictures as encoded bytes, for any two colours, distance, sight and light."""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from analyser.arrays import Lab
from analyser.colour import adaptation, vision
from analyser.drawing import chips, distances, rope_view
from analyser.drawing.rope_view import BeadLook, Ends
from analyser.drawing.scene import Surface
from analyser.imaging import encoding
from analyser.motif.motif import Motif

_SIZE_PX = {"rope": (860, 130), "piece": (300, 130)}
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


def pile(lab: Lab, finish: str | None) -> bytes:
    """A pile of beads as a PNG with alpha."""
    return encoding.png_bytes(chips.pile(BeadLook(lab, finish)))


def _under(lab: Lab, light: str) -> Lab:
    if light == "D65":
        return lab
    lightness, a, b = (float(v) for v in adaptation.lab_under(lab, light))
    return lightness, a, b


@lru_cache(maxsize=24)
def _laid(motif: Motif, beads: tuple[tuple[str, str, str], ...], part: str) -> tuple[Surface, float]:
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
