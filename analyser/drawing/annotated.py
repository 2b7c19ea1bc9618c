"""The photo with the audit's findings drawn into it, and close views of each."""

from __future__ import annotations

import cv2
import numpy as np

from analyser.arrays import FloatArray
from analyser.audit.verdict import Finding, Piece
from analyser.drawing.reference_view import photo_view
from analyser.drawing.strip import number_badge
from analyser.imaging.downscale import resize
from analyser.imaging.encoding import U8Array, srgb_u8


def annotated_photo(piece: Piece, longest_px: int = 1280) -> U8Array:
    """The photo with the rope outlined and its findings numbered, uint8 sRGB, longer side ``longest_px``."""
    canvas = photo_view(piece.photo, piece.calibration, longest_px)
    scale = canvas.shape[1] / piece.photo.width
    _outline(canvas, piece, scale)
    radius = max(8, round(longest_px / 110))
    for number, finding in enumerate(piece.findings, start=1):
        x, y = (round(v * scale) for v in finding.pixel)
        if finding.kind == "stray-bead":
            _ring(canvas, (x, y), max(6, round(0.75 * piece.bead_px * scale)))
        else:
            _cross_line(canvas, piece, finding, scale)
        number_badge(canvas, _beside(canvas, piece, finding, scale, radius), number, radius)
    if piece.of > 1 or piece.unjudged:
        _label(canvas, piece.box, f"rope {piece.number}", scale)
        for one in piece.unjudged:
            x, y, width, height = (round(v * scale) for v in one.box)
            for colour, thick in (((250, 250, 250), 3), ((26, 26, 26), 1)):
                cv2.rectangle(canvas, (x, y), (x + width, y + height), colour, thick, cv2.LINE_AA)
            _label(canvas, one.box, "not judged", scale)
    return canvas


def _label(canvas: U8Array, box: tuple[float, float, float, float], text: str, scale: float) -> None:
    """A word in a dark field above a box's left corner, or just inside the frame."""
    size = canvas.shape[1] / 1600
    (wide, high), _ = cv2.getTextSize(text, cv2.FONT_HERSHEY_SIMPLEX, size, 1)
    pad = round(0.6 * high)
    x = int(np.clip(round(box[0] * scale), 0, max(0, canvas.shape[1] - wide - 2 * pad)))
    y = int(np.clip(round(box[1] * scale) - high - 3 * pad, 0, canvas.shape[0] - high - 2 * pad))
    cv2.rectangle(canvas, (x, y), (x + wide + 2 * pad, y + high + 2 * pad), (26, 26, 26), -1)
    corner = (x + pad, y + pad + high)
    cv2.putText(canvas, text, corner, cv2.FONT_HERSHEY_SIMPLEX, size, (250, 250, 250), 1, cv2.LINE_AA)


def close_view(piece: Piece, finding: Finding, width_px: int = 420) -> U8Array:
    """The finding's surroundings, about nine beads wide, as photographed, uint8 sRGB."""
    linear = piece.photo.linear
    reach_x = max(8, round(4.5 * piece.bead_px / piece.photo.scale))
    reach_y = max(6, round(0.55 * reach_x))
    x, y = (round(v / piece.photo.scale) for v in finding.pixel)
    padded = np.pad(linear, ((reach_y, reach_y), (reach_x, reach_x), (0, 0)), "edge")
    part = padded[y : y + 2 * reach_y + 1, x : x + 2 * reach_x + 1]
    size = (width_px, round(width_px * part.shape[0] / part.shape[1]))
    view = srgb_u8(resize(part, size))
    if finding.kind == "stray-bead":
        _ring(view, (size[0] // 2, size[1] // 2), round(width_px / 9 * 0.85))
    return view


def _outline(canvas: U8Array, piece: Piece, scale: float) -> None:
    line = piece.centreline * scale
    tangent = np.gradient(line, axis=0)
    tangent /= np.maximum(np.hypot(*tangent.T), 1e-9)[:, None]
    normal = np.column_stack([-tangent[:, 1], tangent[:, 0]])
    half = 0.62 * piece.width_px * scale
    around = np.vstack([line + half * normal, (line - half * normal)[::-1]])
    points = np.round(around * 8).astype(np.int32)
    for colour, thick in (((250, 250, 250), 3), ((26, 26, 26), 1)):
        cv2.polylines(canvas, [points], True, colour, thick, cv2.LINE_AA, 3)


def _ring(canvas: U8Array, at: tuple[int, int], radius: int) -> None:
    for colour, thick in (((26, 26, 26), 5), ((250, 250, 250), 2)):
        cv2.circle(canvas, at, radius, colour, thick, cv2.LINE_AA)


def _direction(piece: Piece, finding: Finding) -> tuple[FloatArray, FloatArray]:
    """Nearest point of the centreline (full-size pixels) and the unit normal there."""
    line = piece.centreline
    index = int(np.argmin(np.hypot(*(line - np.array(finding.pixel)).T)))
    before, after = line[max(index - 2, 0)], line[min(index + 2, len(line) - 1)]
    along = (after - before) / max(float(np.hypot(*(after - before))), 1e-9)
    return line[index], np.array([-along[1], along[0]])


def _cross_line(canvas: U8Array, piece: Piece, finding: Finding, scale: float) -> None:
    """A line across the rope at a lot change or a plain round."""
    middle, normal = _direction(piece, finding)
    half = 0.8 * piece.width_px
    ends = [tuple(np.round((middle + side * half * normal) * scale).astype(int).tolist()) for side in (-1, 1)]
    for colour, thick in (((26, 26, 26), 5), ((250, 250, 250), 2)):
        cv2.line(canvas, ends[0], ends[1], colour, thick, cv2.LINE_AA)


def _beside(canvas: U8Array, piece: Piece, finding: Finding, scale: float, radius: int) -> tuple[int, int]:
    """A place for the number beside the rope, inside the frame, on the side nearer to the finding."""
    middle, normal = _direction(piece, finding)
    side = 1.0 if float((np.array(finding.pixel) - middle) @ normal) >= 0 else -1.0
    height, width = canvas.shape[:2]
    for way in (side, -side):
        place = (middle + way * normal * (0.8 * piece.width_px + 1.6 * radius / scale)) * scale
        if radius < place[0] < width - radius and radius < place[1] < height - radius:
            break
    x = int(np.clip(place[0], radius + 2, width - radius - 3))
    y = int(np.clip(place[1], radius + 2, height - radius - 3))
    return x, y
