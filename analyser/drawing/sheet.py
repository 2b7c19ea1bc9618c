"""The photo sheet drawn: a page to print, as a PDF or as a picture.

Grey ink only: coloured ink would tint the light that the paper throws back. What lies where things are put
is thin and pale, so that it is no colour of the photo.
"""

from __future__ import annotations

import io

import cv2
import numpy as np
import numpy.typing as npt
from PIL import Image

from analyser.arrays import FloatArray
from analyser.drawing.sheet_pens import PdfPen, Pen, PixelPen, width_of
from analyser.photo.sheet_layout import CHANNEL_MM, CORNER_MM, DOT_MM, Kind, Layout, Rect, dots

PRINTED_DPI = 300

_INK, _QUIET, _PALE = 0.0, 0.38, 0.68
_BODY_MM = 2.75
_LEADING = 1.42

_TITLES: dict[Kind, str] = {"rope": "a rope", "heaps": "heaps of beads", "flat": "a flat-lay"}
_LAY: dict[Kind, str] = {
    "rope": "Lay the rope along the channel and bend it as the channel bends.",
    "heaps": "Heap one kind of bead at each place, no wider than its corners. Leave out what you like: "
    "the numbers hold.",
    "flat": "Lay your things out in the room above.",
}


def how_to(kind: Kind) -> tuple[tuple[str, tuple[str, ...]], ...]:
    """What is printed on the sheet: headings, each with its sentences."""
    return (
        (
            "How to use it",
            (
                "1  Print at actual size (100 %) on plain white paper. The scale below is then 15 cm long.",
                f"2  {_LAY[kind]}",
                "3  Lay a white and a grey card on their frames, all four dots hidden.",
                "4  Photograph from straight above, the whole sheet in the picture, without flash or your "
                "own shadow. Three marks in sight are enough.",
            ),
        ),
        (
            "Once for each paper",
            (
                "Photograph the sheet with the white card and have it learnt (analyser sheet, option learn, "
                "scale-is if the scale is off): this paper then does without the card.",
            ),
        ),
        (
            "What it cannot do",
            (
                "Printed greys and the white of paper differ from one printer and paper to another: no "
                "reference for colour. The cards are one, and a paper once learnt.",
            ),
        ),
    )


def pdf(layout: Layout) -> bytes:
    """The sheet as a PDF of one page, all of it vectors."""
    pen = PdfPen(layout.width, layout.height, f"Photo sheet for {_TITLES[layout.kind]}, paper {layout.name}")
    draw(layout, pen)
    return pen.data()


def picture(layout: Layout, dpi: float = PRINTED_DPI) -> npt.NDArray[np.uint8]:
    """The sheet as a picture, shape (h, w), eight-bit sRGB grey."""
    pen = PixelPen(layout.width, layout.height, dpi)
    draw(layout, pen)
    return pen.picture()


def png(layout: Layout) -> bytes:
    """The sheet as a PNG of 300 dpi that says so, so that it prints at its size."""
    file = io.BytesIO()
    image = Image.fromarray(picture(layout))
    image.save(file, "PNG", dpi=(PRINTED_DPI, PRINTED_DPI), optimize=True)
    return file.getvalue()


def draw(layout: Layout, pen: Pen) -> None:
    """Draw the whole sheet."""
    for number, place in layout.marks.items():
        _mark(pen, number, place)
    _head(pen, layout)
    for frame, card in zip(layout.frames, ("white card", "grey card"), strict=True):
        _frame(pen, frame, card)
    if len(layout.channel):
        _channel(pen, layout.channel)
    for number, place in enumerate(layout.places, start=1):
        _corners(pen, place, CORNER_MM)
        pen.text(place.left + 1.6, place.top + 4.6, str(number), 3.6, _QUIET)
    if layout.kind == "flat":
        left, top = layout.free[0].min(axis=0)
        right, bottom = layout.free[0].max(axis=0)
        _corners(pen, Rect(left, top, right - left, bottom - top).grown(0.6), 6.0)
    _scale(pen, layout.scale)
    _words(pen, layout)


def mark_cells(number: int) -> npt.NDArray[np.bool_]:
    """The eight by eight cells of a mark, True where white; its outer ring is black."""
    family = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_APRILTAG_36h11)
    return np.asarray(cv2.aruco.generateImageMarker(family, number, 8) > 0)


def _mark(pen: Pen, number: int, place: Rect) -> None:
    cells = mark_cells(number)
    side = place.width / len(cells)
    pen.boxes([place], _INK)
    white = np.argwhere(cells).tolist()
    pen.boxes(
        [Rect(place.left + column * side, place.top + row * side, side, side) for row, column in white], 1.0
    )


def _head(pen: Pen, layout: Layout) -> None:
    left, right = layout.head
    pen.text(left.left, left.top + 7.6, "Photo sheet", 6.0, _INK)
    pen.text(left.left, left.top + 13.4, f"for {_TITLES[layout.kind]}", 3.5, _QUIET)
    pen.text(right.right, right.top + 7.6, layout.name, 6.0, _INK, "right")
    pen.text(right.left, right.top + 7.6, "paper", 3.5, _QUIET)
    pen.text(right.left, right.top + 13.4, "printer", 3.5, _QUIET)
    start = right.left + 13.0
    pen.line([[start, right.top + 14.2], [right.right, right.top + 14.2]], 0.2, _PALE)


def _frame(pen: Pen, frame: Rect, card: str) -> None:
    pen.line([*frame.corners, frame.corners[0], frame.corners[1]], 0.25, _QUIET)
    for x, y in dots(frame):
        pen.disc(x, y, DOT_MM, _INK)
    pen.text(frame.left, frame.bottom + 4.4, card, 3.0, _QUIET)


def _corners(pen: Pen, place: Rect, reach: float) -> None:
    for (x, y), (dx, dy) in zip(place.corners, ((1, 1), (-1, 1), (-1, -1), (1, -1)), strict=True):
        pen.line([[x + dx * reach, y], [x, y], [x, y + dy * reach]], 0.25, _QUIET)


def _channel(pen: Pen, middle: FloatArray) -> None:
    """Two pale lines, a tick each centimetre and a number each five, outside."""
    along = np.gradient(middle, axis=0)
    along /= np.hypot(*along.T)[:, None]
    outward = np.column_stack([along[:, 1], -along[:, 0]])
    half = CHANNEL_MM / 2
    for side in (-half, half):
        pen.line(middle + side * outward, 0.25, _PALE)
    passed = np.concatenate([[0], np.cumsum(np.hypot(*np.diff(middle, axis=0).T))])
    for centimetre in range(int(passed[-1] / 10) + 1):
        at = int(np.argmin(np.abs(passed - 10 * centimetre)))
        five = centimetre % 5 == 0
        edge, out = middle[at] - half * outward[at], -outward[at]
        pen.line([edge, edge + (2.2 if five else 1.3) * out], 0.25, _QUIET if five else _PALE)
        if five:
            x, y = edge + 4.6 * out
            pen.text(x, y + 0.9, str(centimetre), 2.6, _QUIET, "middle")


def _scale(pen: Pen, scale: Rect) -> None:
    base = scale.top + 3.0
    pen.line([[scale.left, base], [scale.right, base]], 0.25, _QUIET)
    for millimetre in range(int(scale.width) + 1):
        tall = 3.0 if millimetre % 10 == 0 else 2.0 if millimetre % 5 == 0 else 1.1
        x = scale.left + millimetre
        pen.line([[x, base], [x, base - tall]], 0.2 if millimetre % 10 else 0.3, _QUIET)
        if millimetre % 50 == 0:
            says = f"{millimetre // 10}" + (" cm" if millimetre == scale.width else "")
            pen.text(x, base + 3.4, says, 2.8, _QUIET, "middle")


def _words(pen: Pen, layout: Layout) -> None:
    for box, (heading, sentences) in zip(layout.words, how_to(layout.kind), strict=True):
        baseline = box.top + 3.3
        pen.text(box.left, baseline, heading, 3.3, _INK)
        baseline += _LEADING * 3.3
        for sentence in sentences:
            indent = 3.6 if sentence[0].isdigit() else 0.0
            if indent:
                pen.text(box.left, baseline, sentence[0], _BODY_MM, _QUIET)
            for line in wrapped(sentence[3:] if indent else sentence, _BODY_MM, box.width - indent):
                pen.text(box.left + indent, baseline, line, _BODY_MM, _QUIET)
                baseline += _LEADING * _BODY_MM


def wrapped(sentence: str, size: float, width: float) -> list[str]:
    """The sentence in lines no wider than ``width`` mm."""
    lines = [""]
    for word in sentence.split(" "):
        longer = f"{lines[-1]} {word}" if lines[-1] else word
        if width_of(longer, size) <= width or not lines[-1]:
            lines[-1] = longer
        else:
            lines.append(word)
    return lines
