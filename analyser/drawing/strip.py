"""The rope straightened, its findings marked beneath, and each role's drift along it."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape
from itertools import cycle

import cv2
import numpy as np

from analyser.audit.verdict import Finding, Piece, RoleColour
from analyser.colour.gamut import lab_to_hex
from analyser.colour.spaces import lab_to_linear
from analyser.imaging.downscale import resize
from analyser.imaging.encoding import U8Array, srgb_u8
from analyser.motif.plan import PlannedBead

_MARK_H = 30
_PLAN_H = 12


def strip_picture(piece: Piece, width_px: int = 1200) -> U8Array:
    """The straightened rope with numbered marks beneath, uint8 sRGB (h, width_px, 3).

    Where a plan tells its stretches they lie in their colours between rope and marks, a bar for each role.
    Long ropes are broken into rows, so that a bead is never under about nine pixels wide.
    """
    strip = piece.placed.strip
    reach = round(1.25 * strip.radius)
    rope = strip.linear[strip.middle - reach : strip.middle + reach + 1, strip.start : strip.stop]
    length = rope.shape[1]
    rows = max(1, int(np.ceil(length / width_px / (piece.placed.bead / 9))))
    step = int(np.ceil(length / rows))
    scale = width_px / step
    bars = _plan_bars(piece, length)
    pictures = []
    for row in range(rows):
        start, stop = row * step, min(length, (row + 1) * step)
        part = rope[:, start:stop]
        size = (max(1, round(part.shape[1] * scale)), max(1, round(part.shape[0] * scale)))
        shown = srgb_u8(resize(part, size))
        for bar in bars:
            along = cv2.resize(bar[None, start:stop], (size[0], _PLAN_H), interpolation=cv2.INTER_NEAREST)
            gap = np.full((3, size[0], 3), 244, np.uint8)
            shown = np.vstack([shown, gap, along.reshape(_PLAN_H, size[0], 3)])
        canvas = np.full((shown.shape[0] + _MARK_H, width_px, 3), 244, np.uint8)
        canvas[: shown.shape[0], : min(width_px, size[0])] = shown[:, :width_px]
        for number, finding in enumerate(piece.findings, start=1):
            x = (finding.at * length - start) * scale
            if 0 <= x < size[0] + 1:
                _mark(canvas, x, shown.shape[0], number, finding)
        pictures.append(canvas)
        pictures.append(np.full((8, width_px, 3), 244, np.uint8))
    return np.vstack(pictures[:-1])


def _plan_bars(piece: Piece, length: int) -> list[U8Array]:
    """What the plan wants at each column, uint8 sRGB (length, 3), for each role that it gives several beads.

    A fade goes evenly from its first bead's colour to its last; a bead that was not seen is left light.
    """
    at = (np.arange(length) + 0.5) / length
    bars = []
    for role in dict.fromkeys(one.role for one in piece.roles if one.bead is not None):
        light = np.full((length, 3), 0.9)
        borders = np.zeros(length, bool)
        for part in piece.plan:
            inside = (at >= part.start) & (at < part.stop)
            ends = []
            for text in (part.before[role], part.after[role]):
                seen = piece.role(PlannedBead(role, text).key)
                ends.append(None if seen is None else lab_to_linear(seen.lab))
            if ends[0] is not None and ends[1] is not None:
                share = ((at[inside] - part.start) / max(part.stop - part.start, 1e-9))[:, None]
                light[inside] = (1 - share) * ends[0] + share * ends[1]
            borders |= (np.abs(at - part.stop) < 1 / length) & (part.stop < 1)
        bar = srgb_u8(np.clip(light, 0, 1)[None])[0]
        bar[borders] = 26
        bars.append(bar)
    return bars


def _mark(canvas: U8Array, x: float, top: int, number: int, finding: Finding) -> None:
    """A tick up to the rope and the finding's number; a lot change has an arrow to its new side."""
    middle = int(np.clip(round(x), 12, canvas.shape[1] - 13))
    ink = (26, 26, 26)
    cv2.line(canvas, (round(x), top), (middle, top + 8), ink, 2, cv2.LINE_AA)
    if finding.kind == "lot-change":
        cv2.arrowedLine(
            canvas,
            (middle + 12, top + 18),
            (min(middle + 34, canvas.shape[1] - 2), top + 18),
            ink,
            2,
            cv2.LINE_AA,
            0,
            0.35,
        )
    number_badge(canvas, (middle, top + 18), number)


def number_badge(canvas: U8Array, at: tuple[int, int], number: int, radius: int = 11) -> None:
    """A number in a dark disc with a light rim, readable on any ground; drawn into the canvas."""
    cv2.circle(canvas, at, radius + 2, (250, 250, 250), -1, cv2.LINE_AA)
    cv2.circle(canvas, at, radius, (26, 26, 26), -1, cv2.LINE_AA)
    text = str(number)
    scale = radius / 11 * (0.5 if len(text) == 1 else 0.42)
    thick = max(1, round(radius / 8))
    (w, h), _ = cv2.getTextSize(text, cv2.FONT_HERSHEY_SIMPLEX, scale, thick)
    cv2.putText(
        canvas,
        text,
        (at[0] - w // 2, at[1] + h // 2),
        cv2.FONT_HERSHEY_SIMPLEX,
        scale,
        (250, 250, 250),
        thick,
        cv2.LINE_AA,
    )


def drift_svg(piece: Piece, tolerance_de00: float, width: int = 1200, height: int = 260) -> str:
    """Each role's CIEDE2000 to its own colour along the rope, over the tolerance band, as SVG text.

    Roles are told apart by dash and label as well as by colour.
    """
    left, right, top, bottom = 46, 96, 14, 34
    inner_w, inner_h = width - left - right, height - top - bottom
    highest = max([2 * tolerance_de00, 3.0, *(float(np.max(drift.de00)) * 1.1 for drift in piece.drifts)])

    def x(at: float) -> float:
        return left + at * inner_w

    def y(de00: float) -> float:
        return top + inner_h * (1 - de00 / highest)

    parts = [
        f'<svg class="drift" viewBox="0 0 {width} {height}" role="img" '
        f'aria-label="CIEDE2000 of each role to its own colour along the rope" xmlns="http://www.w3.org/2000/svg">',
        f'<rect class="band" x="{left}" y="{y(tolerance_de00):.1f}" width="{inner_w}" '
        f'height="{y(0) - y(tolerance_de00):.1f}"/>',
    ]
    for value in _ticks(highest):
        parts.append(f'<path class="grid" d="M{left} {y(value):.1f}H{left + inner_w}"/>')
        parts.append(
            f'<text class="tick" x="{left - 8}" y="{y(value) + 4:.1f}" text-anchor="end">{value:g}</text>'
        )
    for percent in range(0, 101, 20):
        parts.append(
            f'<text class="tick" x="{x(percent / 100):.1f}" y="{height - 10}" '
            f'text-anchor="middle">{percent} %</text>'
        )
    used: list[float] = []
    for drift, dash in zip(piece.drifts, cycle(("", "9 5", "2 5", "12 4 2 4")), strict=False):
        role = piece.role(drift.role)
        if role is None:
            continue
        points = " ".join(f"{x(at):.1f},{y(de):.1f}" for at, de in zip(drift.at, drift.de00, strict=True))
        colour = lab_to_hex(np.array(role.lab))[0]
        parts.append(f'<polyline class="casing" points="{points}"/>')
        parts.append(
            f'<polyline class="line" points="{points}" stroke="{colour}" stroke-dasharray="{dash}"/>'
        )
        label = _free(y(float(drift.de00[-1])), used)
        parts.append(f'<text class="role" x="{left + inner_w + 8}" y="{label + 5:.1f}">{_label(role)}</text>')
    for number, finding in enumerate(piece.findings, start=1):
        if finding.kind == "lot-change":
            parts.append(f'<path class="change" d="M{x(finding.at):.1f} {top}V{y(0):.1f}"/>')
            parts.append(f'<text class="tick" x="{x(finding.at) + 5:.1f}" y="{top + 12}">{number}</text>')
    parts.append("</svg>")
    return "".join(parts)


def _label(role: RoleColour) -> str:
    """What stands beside a role's line: its bead where it has several, short enough for the margin."""
    name = role.role if role.bead is None else role.bead
    return escape(name if len(name) <= 12 else f"{name[:11]}\u2026")


def _text(kind: str, x: float, y: float, says: str, anchor: str = "start") -> str:
    return f'<text class="{kind}" x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}">{says}</text>'


def _ticks(highest: float) -> Sequence[float]:
    step = next(step for step in (0.5, 1, 2, 5, 10, 20, 50) if highest / step <= 6)
    return [float(value) for value in np.arange(0, highest + 1e-9, step)]


def _free(wanted: float, used: list[float]) -> float:
    """A label's height, moved down where another role's label stands."""
    while any(abs(wanted - other) < 17 for other in used):
        wanted += 17 if wanted < 120 else -17
    used.append(wanted)
    return wanted
