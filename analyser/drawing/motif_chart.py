"""The flat chart of a motif, for those who weave from one: an SVG laid sideways, its start at the left.

Beads lie as the tube would if it were cut open along its length and rolled out, seen from outside.
"""

from __future__ import annotations

from collections.abc import Mapping
from html import escape

from analyser.motif.motif import Motif

# Body is left plain, a further letter stands in its beads: colour is never the only sign.
_MARKS = {"accent": "ring", "body": "", "third": "dash"}
_NOT_CHOSEN = "fill:none;stroke-dasharray:0.2 0.15"  # an empty outline, never another letter's bead


def sideways(
    motif: Motif,
    fill: Mapping[str, str],
    *,
    label: str,
    bead_mm: tuple[float, float] | None = None,
    rounds: int = 8,
) -> str:
    """Some rounds of a motif, rolled out.

    Parameters
    ----------
    motif : Motif
    fill : mapping of role to CSS declarations
        What goes into the ``style`` of that role's beads, such as ``"fill:#102030"``. Beads of a role that
        is missing are empty, their outline broken.
    label : str
        What the picture shows, in words, for those who do not see it.
    bead_mm : (diameter, length), optional
        The bead's size; the motif's own if left out.
    rounds : int
        At least so many are drawn, in whole repeats.

    Returns
    -------
    str
        An ``svg`` element, all text in it escaped. One unit is one millimetre. Accents carry a ring, thirds
        a dash, further letters themselves.
    """
    tile = motif.flat(bead_mm)
    repeats = -(-rounds // motif.repeat_rounds)
    length, around = tile.height_mm * repeats, tile.width_mm
    beads = [
        _bead(str(role), fill.get(str(role), _NOT_CHOSEN), float(wide), float(high))
        for role, wide, high in zip(tile.role, tile.bead_w_mm, tile.bead_h_mm, strict=True)
    ]
    parts = []
    for repeat in range(repeats):
        for k, bead in enumerate(beads):
            # Turned, not mirrored: along runs to the right, around downwards, as on the rope from outside.
            x, along = float(tile.x_mm[k]), float(tile.y_mm[k]) + repeat * tile.height_mm
            wide, turn = float(tile.bead_w_mm[k]), float(tile.angle_deg[k])
            for across in (x - around, x, x + around):
                if -wide < across < around + wide:
                    place = f"translate({along:.3f} {across:.3f}) rotate({turn:.1f})"
                    parts.append(f'<g transform="{place}">{bead}</g>')
    edge = max(map(float, tile.bead_w_mm), default=0.0) / 2.0
    box = f"{-edge:.3f} {-edge:.3f} {length + 2 * edge:.3f} {around + 2 * edge:.3f}"
    return (
        f'<svg class="chart" viewBox="{box}" role="img" aria-label="{escape(label, quote=True)}" '
        'xmlns="http://www.w3.org/2000/svg" stroke="currentColor" stroke-width="0.07">'
        + "".join(parts)
        + "</svg>"
    )


def _bead(role: str, style: str, wide: float, high: float) -> str:
    corner = 0.3 * min(wide, high)
    return (
        f'<rect x="{-high / 2:.3f}" y="{-wide / 2:.3f}" width="{high:.3f}" height="{wide:.3f}" '
        f'rx="{corner:.3f}" style="{escape(style, quote=True)}"/>' + _mark(_MARKS.get(role, role), wide, high)
    )


def _mark(kind: str, wide: float, high: float) -> str:
    if kind == "ring":
        return f'<circle r="{0.16 * min(wide, high):.3f}" fill="#fff" stroke="#000" stroke-width="0.12"/>'
    if kind == "dash":
        line = f'<path d="M0 {-0.22 * wide:.3f}V{0.22 * wide:.3f}" fill="none" '
        return f'{line}stroke="#fff" stroke-width="0.3"/>{line}stroke="#000" stroke-width="0.12"/>'
    if kind:
        size = 0.7 * min(wide, high)
        return (
            f'<text y="{0.35 * size:.3f}" font-size="{size:.3f}" text-anchor="middle" fill="#fff" '
            f'stroke="#000" stroke-width="0.2" paint-order="stroke">{escape(kind)}</text>'
        )
    return ""
