"""Where in a photo a card, chart or photo sheet was seen, drawn into it."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

import cv2
import numpy as np
import numpy.typing as npt

from analyser.arrays import FloatArray
from analyser.drawing.leaders import Box
from analyser.imaging.encoding import U8Array, picture_u8
from analyser.photo.calibration import Calibration
from analyser.photo.reading import Photo

if TYPE_CHECKING:
    from PIL.ImageFont import FreeTypeFont, ImageFont

_INK, _PAPER = (28, 28, 30), (255, 255, 255)
_EIGHTHS = 3  # bits of the fraction of a pixel that OpenCV draws with


def draw_references(pixels: U8Array, calibration: Calibration, width: int) -> None:
    """Outline sheet, chart and cards and name them, in place; not white paper, which is the ground itself.

    Parameters
    ----------
    pixels : uint8 ndarray, shape (h, w, 3)
        sRGB, drawn into.
    calibration : Calibration
        What is only asked about gets a question mark behind its name.
    width : int
        Of the full-size photo, in pixels.
    """
    for outline, name in _seen(calibration):
        corners = np.asarray(outline, float) * (pixels.shape[1] / width)
        line = [np.round(corners * 2**_EIGHTHS).astype(np.int32)]
        unit = max(1, round(max(pixels.shape[:2]) / 640))
        for ink, thick in ((_PAPER, 3 * unit), (_INK, unit)):
            cv2.polylines(pixels, line, True, ink, thick, cv2.LINE_AA, _EIGHTHS)
        _label(pixels, corners, name)


def _seen(calibration: Calibration) -> Iterator[tuple[FloatArray, str]]:
    """Outlines in pixels of the full-size photo, and names."""
    if calibration.ground is not None:
        yield calibration.ground.sheet.outline_px, "photo sheet"
    seen = calibration.reference
    if seen is None or seen.kind == "paper":
        return
    doubt = "" if seen.applied else "?"
    name = {"cards": "white card", "white-card": "white card", "grey-card": "grey card"}.get(
        seen.kind, seen.kind
    )
    yield seen.outline, f"{name}{doubt}"
    if seen.partner is not None:
        yield seen.partner, f"grey card{doubt}"


def name_boxes(calibration: Calibration, shape: tuple[int, int]) -> list[Box]:
    """Where ``draw_references`` puts names into a picture of that height and width, in percent of it."""
    height, width = shape
    found = []
    for outline, name in _seen(calibration):
        corners = np.asarray(outline, float)
        x, y, wide, high = _tag(shape, corners, name)[0]
        found.append((100.0 * x / width, 100.0 * y / height, 100.0 * wide / width, 100.0 * high / height))
    return found


def _tag(
    shape: tuple[int, ...], corners: npt.NDArray[np.floating], text: str
) -> tuple[Box, int, tuple[float, float]]:
    """The box of a name on the upper edge of an outline, its margin, and where its letters begin."""
    size = _letters_px(shape)
    pad = size // 3
    left, top, right, bottom = _font(size).getbbox(text)
    wide, high = right - left + 2 * pad, bottom - top + 2 * pad
    x = float(np.clip(corners[:, 0].mean() - wide / 2, 0, max(0, shape[1] - wide)))
    y = float(np.clip(corners[:, 1].min() - high - pad, 0, max(0, shape[0] - high)))
    return (x, y, wide, high), pad, (x + pad - left, y + pad - top)


def _letters_px(shape: tuple[int, ...]) -> int:
    return max(11, round(max(shape[:2]) / 44))


def _font(size: int) -> FreeTypeFont | ImageFont:
    from PIL import ImageFont

    return ImageFont.load_default(size=size)


def _label(pixels: U8Array, corners: npt.NDArray[np.floating], text: str) -> None:
    """The name in a white tag."""
    from PIL import Image, ImageDraw

    (x, y, wide, high), pad, begins = _tag(pixels.shape, corners, text)
    image = Image.fromarray(pixels)
    draw = ImageDraw.Draw(image)
    draw.rounded_rectangle((x, y, x + wide, y + high), pad, fill=_PAPER, outline=_INK)
    draw.text(begins, text, font=_font(_letters_px(pixels.shape)), fill=_INK)
    pixels[:] = np.asarray(image)


def photo_view(photo: Photo, calibration: Calibration, longest_px: int) -> U8Array:
    """The photo as sRGB pixels, its longer side at most that, with what it was calibrated by outlined."""
    pixels = picture_u8(photo.linear, longest_px)
    draw_references(pixels, calibration, photo.width)
    return pixels
