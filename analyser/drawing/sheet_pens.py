"""Two pens that draw the same page: one as vectors in a PDF, one as pixels.

Millimetres from the page's upper left corner, y down; greys are shares of white in [0, 1] as a screen shows
them.
"""

from __future__ import annotations

import io
from collections.abc import Sequence
from typing import Any, Literal, Protocol

import numpy as np
import numpy.typing as npt
from PIL import Image, ImageDraw, ImageFont

from analyser.arrays import FloatArray
from analyser.photo.sheet_layout import Rect

Anchor = Literal["left", "middle", "right"]
_MM_PER_INCH = 25.4
_POINTS_PER_MM = 72 / _MM_PER_INCH
_MEASURED_PX = 200  # the size text is measured at
_FINER = 3  # times as fine as asked for, then averaged: smooth curves


class Pen(Protocol):
    """What a page is drawn with."""

    def line(self, points: npt.ArrayLike, width: float, grey: float) -> None:
        """An open line through points (n, 2)."""

    def boxes(self, boxes: Sequence[Rect], grey: float) -> None:
        """Filled rectangles of one grey."""

    def disc(self, x: float, y: float, diameter: float, grey: float) -> None:
        """A filled disc."""

    def text(self, x: float, y: float, words: str, size: float, grey: float, anchor: Anchor = "left") -> None:
        """One line of text on the baseline y, ``size`` its em in mm."""


def _font_data() -> bytes:
    """Aileron (CC0), as Pillow ships it; the PDF carries it along, so that every printer has it."""
    font = ImageFont.load_default(size=_MEASURED_PX)
    if not isinstance(font, ImageFont.FreeTypeFont) or font.font_bytes is None:
        raise RuntimeError("this Pillow was built without FreeType, which the sheet's letters need")
    return bytes(font.font_bytes)


def _font(size_px: float) -> ImageFont.FreeTypeFont:
    return ImageFont.truetype(io.BytesIO(_font_data()), size_px)


def width_of(words: str, size: float) -> float:
    """How wide a line of text is, in mm."""
    return float(_font(_MEASURED_PX).getlength(words)) * size / _MEASURED_PX


class PdfPen:
    """Draws on the only page of a PDF."""

    def __init__(self, width: float, height: float, title: str) -> None:
        from reportlab.pdfbase import pdfmetrics
        from reportlab.pdfbase.ttfonts import TTFont
        from reportlab.pdfgen.canvas import Canvas

        self._file = io.BytesIO()
        self._height = height
        # invariant: the same page is the same file
        self._canvas: Any = Canvas(
            self._file, (width * _POINTS_PER_MM, height * _POINTS_PER_MM), invariant=1, pageCompression=1
        )
        self._canvas.setTitle(title)
        self._canvas.setViewerPreference("PrintScaling", "None")  # print dialogs then start at 100 %
        pdfmetrics.registerFont(TTFont("Aileron", io.BytesIO(_font_data())))
        self._canvas.setLineCap(0)

    def _at(self, points: npt.ArrayLike) -> FloatArray:
        return np.array([0, self._height * _POINTS_PER_MM]) + np.asarray(points, float) * (
            _POINTS_PER_MM * np.array([1, -1])
        )

    def _path(self, polygons: Sequence[npt.ArrayLike], close: bool) -> Any:
        path = self._canvas.beginPath()
        for polygon in polygons:
            first, *others = self._at(polygon).tolist()
            path.moveTo(*first)
            for point in others:
                path.lineTo(*point)
            if close:
                path.close()
        return path

    def line(self, points: npt.ArrayLike, width: float, grey: float) -> None:
        """See ``Pen``."""
        self._canvas.setStrokeGray(grey)
        self._canvas.setLineWidth(width * _POINTS_PER_MM)
        self._canvas.drawPath(self._path([points], False), stroke=1, fill=0)

    def boxes(self, boxes: Sequence[Rect], grey: float) -> None:
        """See ``Pen``."""
        self._canvas.setFillGray(grey)
        # one path for all of them, so that no hairlines show between neighbours
        path = self._path([box.corners for box in boxes], True)
        self._canvas.drawPath(path, stroke=0, fill=1)

    def disc(self, x: float, y: float, diameter: float, grey: float) -> None:
        """See ``Pen``."""
        self._canvas.setFillGray(grey)
        self._canvas.circle(*self._at([x, y]).tolist(), diameter / 2 * _POINTS_PER_MM, stroke=0, fill=1)

    def text(self, x: float, y: float, words: str, size: float, grey: float, anchor: Anchor = "left") -> None:
        """See ``Pen``."""
        self._canvas.setFillGray(grey)
        self._canvas.setFont("Aileron", size * _POINTS_PER_MM)
        write = {
            "left": self._canvas.drawString,
            "middle": self._canvas.drawCentredString,
            "right": self._canvas.drawRightString,
        }[anchor]
        write(*self._at([x, y]).tolist(), words)

    def data(self) -> bytes:
        """The finished file."""
        self._canvas.showPage()
        self._canvas.save()
        return self._file.getvalue()


class PixelPen:
    """Draws a grey picture."""

    def __init__(self, width: float, height: float, dpi: float) -> None:
        self._size = round(width * dpi / _MM_PER_INCH), round(height * dpi / _MM_PER_INCH)
        self._scale = _FINER * np.array(self._size) / [width, height]
        self._image = Image.new("L", (self._size[0] * _FINER, self._size[1] * _FINER), 255)
        self._draw = ImageDraw.Draw(self._image)

    def _at(self, points: npt.ArrayLike) -> FloatArray:
        return np.asarray(points, float) * self._scale - 0.5

    def line(self, points: npt.ArrayLike, width: float, grey: float) -> None:
        """See ``Pen``."""
        wide = max(1, round(width * self._scale[0]))
        at = [(float(x), float(y)) for x, y in self._at(points)]
        self._draw.line(at, fill=round(255 * grey), width=wide, joint="curve")

    def boxes(self, boxes: Sequence[Rect], grey: float) -> None:
        """See ``Pen``."""
        for box in boxes:
            # Pillow fills up to the last pixel and with it
            near = np.round(np.array([box.left, box.top]) * self._scale).tolist()
            far = (np.round(np.array([box.right, box.bottom]) * self._scale) - 1).tolist()
            self._draw.rectangle([*near, *far], fill=round(255 * grey))

    def disc(self, x: float, y: float, diameter: float, grey: float) -> None:
        """See ``Pen``."""
        half = diameter / 2
        box = [*self._at([x - half, y - half]).tolist(), *self._at([x + half, y + half]).tolist()]
        self._draw.ellipse(box, fill=round(255 * grey))

    def text(self, x: float, y: float, words: str, size: float, grey: float, anchor: Anchor = "left") -> None:
        """See ``Pen``."""
        font = _font(size * float(self._scale[0]))
        put = {"left": "ls", "middle": "ms", "right": "rs"}[anchor]
        self._draw.text(tuple(self._at([x, y])), words, fill=round(255 * grey), font=font, anchor=put)

    def picture(self) -> npt.NDArray[np.uint8]:
        """The finished picture, shape (h, w), eight-bit sRGB grey."""
        return np.asarray(self._image.resize(self._size, Image.Resampling.BOX), np.uint8)
