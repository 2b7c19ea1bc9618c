"""From a photo file to its palette: the steps in their order, for command line and local page alike."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from analyser.arrays import Lab
from analyser.colour.spaces import linear_to_lab
from analyser.colourway import palette as palettes
from analyser.errors import OptionError
from analyser.photo import calibration as calibrating
from analyser.photo import reading
from analyser.photo.box import Box
from analyser.photo.calibration import Calibration, Card
from analyser.photo.reading import Photo
from analyser.photo.subject import find_subject, subject_on_sheet

if TYPE_CHECKING:
    from analyser.stock.stock import Stock

#: Pixels read where a chart or card has to be found too: a chart patch then still has some hundred of them.
FOR_CALIBRATION = 4_000_000
# Of those a palette, a chart's patches and cards are averages in linear light again, so that 24 megapixels
# may be decoded at half their sides: palettes of four photos lie 0.1 Lab from a full decode's in the median.
_SPARE = 1.4


def calibrated(
    path: Path,
    *,
    method: str = "auto",
    card: Card | None = None,
    no_card: bool = False,
    even_light: bool = False,
    limit_mp: float = 200.0,
    small_will_do: bool = True,
) -> tuple[Photo, Calibration]:
    """Read a photo and correct its colours by what the photo itself offers.

    Parameters
    ----------
    path : Path
        The photo.
    method : str
        ``auto``, ``chart``, ``card``, ``paper`` or ``none``.
    card : Card, optional
        Where a grey or white card lies.
    no_card, even_light : bool
        As of ``calibrate``.
    limit_mp : float
        Megapixels above which a photo is refused.
    small_will_do : bool
        Without anything to find, read only what a palette needs.

    Returns
    -------
    Photo, Calibration
        The photo with corrected linear light, and how it was corrected.

    Raises
    ------
    PhotoError, CalibrationError, OptionError
        If the photo cannot be read, or what ``method`` or ``card`` names is not in it.
    """
    if method == "none" and card is None and small_will_do:
        photo = reading.read(path, about_pixels=palettes.READ_PIXELS, limit_mp=limit_mp)
    else:
        photo = reading.read(path, about_pixels=FOR_CALIBRATION, limit_mp=limit_mp, spare=_SPARE)
    calibration = calibrating.calibrate(photo, method, card, no_card=no_card, even_light=even_light)
    return calibration.corrected(photo), calibration


def ground_of(photo: Photo, text: str, stock: Stock) -> Lab:
    """The colour of what a rope is worn on: given as a colour, or as a box in the calibrated photo.

    Raises
    ------
    OptionError
        If the text is neither, or the box lies outside the photo.
    """
    from analyser.stock.colour_text import read_colour

    if text != "middle" and text.count(",") != 3:
        return read_colour(text, stock).lab
    return _mean_in(photo, Box.parse(text))


def _mean_in(photo: Photo, box: Box) -> Lab:
    """Mean light of a box, as Lab."""
    x, y, width, height = (v / photo.scale for v in box.in_pixels(photo.width, photo.height))
    framed = photo.linear[int(y) : int(np.ceil(y + height)), int(x) : int(np.ceil(x + width))]
    lightness, a, b = (float(v) for v in linear_to_lab(framed.mean(axis=(0, 1), dtype=np.float64)))
    return lightness, a, b


_SPOT = 0.006
"""Radius of a touched spot, as a part of the photo's longer side: a fingertip on a phone."""


def touched(photo: Photo, calibration: Calibration, x: float, y: float) -> tuple[Lab, float]:
    """The colour round a place of a calibrated photo, and how sure it is.

    Parameters
    ----------
    photo : Photo
    calibration : Calibration
    x, y : float
        Pixels of the upright, full-size photo.

    Returns
    -------
    (tuple of 3 float, float)
        Lab, and its uncertainty in CIEDE2000.

    Raises
    ------
    OptionError
        If the place lies outside the photo.
    """
    if not (0 <= x <= photo.width and 0 <= y <= photo.height):
        raise OptionError(f"{x:g},{y:g} lies outside the photo of {photo.width} x {photo.height} pixels")
    reach = _SPOT * max(photo.width, photo.height)
    lab = _mean_in(photo, Box(x - reach, y - reach, 2 * reach, 2 * reach))
    return lab, float(calibration.uncertainty_of(lab))


def pixels_of(
    photo: Photo, calibration: Calibration, *, focus: Box | None = None, mask_file: Path | None = None
) -> palettes.PhotoPixels:
    """The pixels of a calibrated photo gathered for its palette, of its subject if that is framed.

    Raises
    ------
    OptionError, PhotoError
        If the box lies outside the photo or the mask cannot be used.
    """
    if calibration.ground is None:
        subject = find_subject(photo, focus, mask_file)
        subject = subject.without(calibration.reference_mask(photo.linear.shape))
    elif focus is None and mask_file is None:
        subject = subject_on_sheet(photo, calibration)
    else:
        subject = find_subject(calibration.cleared(photo), focus, mask_file)
    return palettes.pixels_of(photo, calibration, subject=subject)


def palette_of(
    photo: Photo,
    calibration: Calibration,
    *,
    colours: int | None = None,
    focus: Box | None = None,
    mask_file: Path | None = None,
) -> palettes.Palette:
    """The palette of a calibrated photo: what ``pixels_of`` gathers, reduced to so many colours.

    Raises
    ------
    OptionError, PhotoError
        If the number is not 2 to 24, the box lies outside the photo or the mask cannot be used.
    """
    palettes.check_number(colours)
    return pixels_of(photo, calibration, focus=focus, mask_file=mask_file).reduced(colours)
