"""A tray photo with its piles outlined and numbered, and a key below: to print, and to label the tubes by."""

from __future__ import annotations

from collections.abc import Sequence

import cv2
import numpy as np

from analyser.colour.gamut import lab_to_hex
from analyser.colour.names import everyday_name
from analyser.drawing.reference_view import draw_references
from analyser.imaging.downscale import resize
from analyser.imaging.encoding import U8Array, srgb_u8
from analyser.tray.measuring import Pile, Tray

_INK, _PAPER, _GREY = (28, 28, 30), (255, 255, 255), (96, 96, 100)
_CELL_PX = 400  # a key's cell, at a picture 1600 wide


def numbered_picture(
    tray: Tray, labels: Sequence[str] = (), doubt: str = "", width_px: int = 1600
) -> U8Array:
    """The calibrated photo with numbered outlines, over a key of the piles.

    Parameters
    ----------
    tray : Tray
    labels : sequence of str
        What to call each pile in the key; its everyday colour name where there are none.
    doubt : str
        How far the colours may be off, told at the foot (``phrases.photos.doubt``).
    width_px : int
        Width of the picture.

    Returns
    -------
    uint8 ndarray, shape (h, width_px, 3)
        sRGB.
    """
    from PIL import Image, ImageDraw, ImageFont

    photo = _shown(tray, width_px)
    scale = width_px / tray.photo.width
    unit = width_px / 1600
    draw_references(photo, tray.calibration, tray.photo.width)
    _outlines(photo, tray.piles, scale, unit)
    image = Image.fromarray(photo)
    draw = ImageDraw.Draw(image)
    number_font = ImageFont.load_default(size=30 * unit)
    for pile in tray.piles:
        _badge(draw, _badge_place(pile, scale, unit, image.size), str(pile.number), number_font, 24 * unit)
    key = _key(tray, labels, doubt, width_px, unit)
    whole = np.full((photo.shape[0] + key.shape[0], width_px, 3), 255, np.uint8)
    whole[: photo.shape[0]] = np.asarray(image)
    whole[photo.shape[0] :] = key
    return whole


def _shown(tray: Tray, width_px: int) -> U8Array:
    linear = tray.photo.linear
    height = max(1, round(linear.shape[0] * width_px / linear.shape[1]))
    return srgb_u8(resize(np.clip(linear, 0, 1), (width_px, height)))


def _outlines(photo: U8Array, piles: Sequence[Pile], scale: float, unit: float) -> None:
    """Dark lines in light ones, a little outside the beads, so that both are seen on any ground."""
    for pile in piles:
        centre = np.array(pile.centre)
        away = (pile.outline - centre) * (1 + 6 * unit / max(pile.radius * scale, 1)) + centre
        line = [np.round(away * scale * 8).astype(np.int32)]
        for ink, width in ((_PAPER, 6), (_INK, 2)):
            cv2.polylines(photo, line, True, ink, max(1, round(width * unit)), cv2.LINE_AA, 3)


def _badge_place(pile: Pile, scale: float, unit: float, size: tuple[int, int]) -> tuple[float, float]:
    """Up and left of the pile, within the picture."""
    reach = 0.72 * pile.radius * scale + 24 * unit
    x, y = pile.centre[0] * scale - reach, pile.centre[1] * scale - reach
    edge = 28 * unit
    return float(np.clip(x, edge, size[0] - edge)), float(np.clip(y, edge, size[1] - edge))


def _badge(draw, at, text, font, radius) -> None:  # type: ignore[no-untyped-def]  # Pillow stays unloaded
    x, y = at
    draw.ellipse((x - radius, y - radius, x + radius, y + radius), fill=_INK, outline=_PAPER, width=3)
    draw.text((x, y), text, fill=_PAPER, font=font, anchor="mm")


def _key(tray: Tray, labels: Sequence[str], doubt: str, width_px: int, unit: float) -> U8Array:
    """One cell a pile: number, colour, name, hex code, finish."""
    from PIL import Image, ImageDraw, ImageFont

    cell = _CELL_PX * unit
    across = max(1, int(width_px // cell))
    down = -(-len(tray.piles) // across)
    height = 104 * unit
    image = Image.new("RGB", (width_px, round(down * height + 84 * unit)), _PAPER)
    draw = ImageDraw.Draw(image)
    name_font, small = ImageFont.load_default(size=25 * unit), ImageFont.load_default(size=19 * unit)
    number_font = ImageFont.load_default(size=26 * unit)
    for at, pile in enumerate(tray.piles):
        x, y = 18 * unit + at % across * cell, 22 * unit + at // across * height
        colour, in_srgb = lab_to_hex(np.asarray(pile.lab))
        chip = (x, y, x + 84 * unit, y + 78 * unit)
        draw.rounded_rectangle(chip, 8 * unit, fill=colour, outline=(190, 190, 190))
        _badge(draw, (x + 2 * unit, y + 4 * unit), str(pile.number), number_font, 19 * unit)
        name = labels[at] if at < len(labels) and labels[at] else everyday_name(np.asarray(pile.lab))
        left = x + 98 * unit
        draw.text((left, y - 2 * unit), _fitted(draw, name, name_font, cell - 116 * unit), _INK, name_font)
        draw.text((left, y + 29 * unit), f"{colour}{'' if in_srgb else ' *'}", _GREY, small)
        draw.text((left, y + 53 * unit), f"looks {pile.finish}", _GREY, small)
    foot = _fitted(draw, doubt, small, image.size[0] - 36 * unit)
    draw.text((18 * unit, image.size[1] - 46 * unit), foot, _GREY, small)
    return np.asarray(image)


def _fitted(draw, text: str, font, room: float) -> str:  # type: ignore[no-untyped-def]  # Pillow stays unloaded
    """The text, cut with an ellipsis where it is too long."""
    text = "".join(c if c.isprintable() else " " for c in text)
    if draw.textlength(text, font=font) <= room:
        return text
    while text and draw.textlength(text + "…", font=font) > room:
        text = text[:-1]
    return text + "…"
