"""From a photo of the sheet with a white card on its frame to the paper's white, remembered."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from analyser.errors import OptionError
from analyser.photo import papers, reading
from analyser.photo.calibration import paper_white
from analyser.photo.sheet_layout import SCALE_MM

_READ_PIXELS = 4_000_000


@dataclass(frozen=True, slots=True)
class Learnt:
    """A paper that is remembered from now on.

    Attributes
    ----------
    name : str
        As its marks tell.
    white_linear : tuple of 3 float
        Linear sRGB that the bare paper reflects.
    printed : float
        Millimetres of a printed millimetre.
    file : Path
        Where it is kept.
    """

    name: str
    white_linear: tuple[float, float, float]
    printed: float
    file: Path


def learn_from(
    photo: Path, *, name: str | None = None, scale_mm: float | None = None, limit_mp: float = 200.0
) -> Learnt:
    """Remember the white of a photo sheet's paper, and the size it was printed at.

    Parameters
    ----------
    photo : Path
        Of the sheet, with a white card on its frame.
    name : str, optional
        What the paper is expected to be called.
    scale_mm : float, optional
        What the sheet's scale of 15 cm measures.
    limit_mp : float
        Megapixels above which a photo is refused.

    Raises
    ------
    PhotoError, CalibrationError
        If the photo cannot be read, shows no sheet or no card, or what it tells is no paper.
    OptionError
        If it shows a paper of another name.
    """
    found, white = paper_white(reading.read(photo, about_pixels=_READ_PIXELS, limit_mp=limit_mp))
    if name not in (None, found):
        raise OptionError(f"{photo}: shows a sheet of paper {found!r}, not {name!r}; leave out --name")
    red, green, blue = (float(value) for value in white)
    printed = 1.0 if scale_mm is None else scale_mm / SCALE_MM
    kept = papers.learn(found, (red, green, blue), photo.name, printed=printed)
    return Learnt(found, (red, green, blue), printed, kept)
