"""The reduced palette of a photo.

Clusters and distances live in Lab, averages in linear light. Nothing here opens a file.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
import numpy.typing as npt

from analyser.colour import spaces
from analyser.colour.difference import delta_e_2000
from analyser.colour.names import everyday_name
from analyser.errors import OptionError, PhotoError
from analyser.photo.calibration import Calibration
from analyser.photo.reading import Photo
from analyser.photo.subject import Subject

FloatArray = npt.NDArray[np.floating]
BoolArray = npt.NDArray[np.bool_]

FEWEST, MOST = 2, 24
#: Read a photo at about this many pixels for its palette.
READ_PIXELS = 250_000


@dataclass(frozen=True, slots=True)
class PaletteColour:
    """One colour of a palette.

    Attributes
    ----------
    lab : tuple of 3 float
        Lab, D65, 2 degree observer.
    share : float
        Part of the photo's counted pixels, 0 to 1; those of all colours and the background sum to 1.
    spread_de00 : float
        Mean CIEDE2000 of its pixels to it.
    uncertainty_de00 : float
        How far off the true colour may be, as the photo's calibration states it.
    name : str
        Everyday name.
    pixel : tuple of 2 int
        x and y of a place in the upright, full-size photo where it can be seen.
    """

    lab: tuple[float, float, float]
    share: float
    spread_de00: float
    uncertainty_de00: float
    name: str
    pixel: tuple[int, int]


@dataclass(frozen=True, slots=True, eq=False)
class Palette:
    """The colours of a photo, largest share first.

    Attributes
    ----------
    photo : Photo
        As calibrated.
    calibration : Calibration
    colours : tuple of PaletteColour
    background : PaletteColour or None
        A plain background, reported apart.
    notes : tuple of str
    """

    photo: Photo
    calibration: Calibration
    colours: tuple[PaletteColour, ...]
    background: PaletteColour | None = None
    notes: tuple[str, ...] = ()


def of_photo(
    photo: Photo,
    calibration: Calibration,
    *,
    colours: int | None = None,
    subject: Subject,
    keep_accents: bool = True,
) -> Palette:
    """The palette of a photo that is already calibrated.

    Parameters
    ----------
    photo : Photo
        Corrected by ``calibration.corrected``.
    calibration : Calibration
        States the uncertainty of each colour.
    colours : int, optional
        How many, 2 to 24; fewer if the photo has fewer. Chosen by the data if left out.
    subject : Subject
        Of ``find_subject``.
    keep_accents : bool
        Keep small vivid areas that clustering by area would drop.

    Raises
    ------
    OptionError
        If ``colours`` is not 2 to 24.
    PhotoError
        If the subject has no pixel.
    """
    if colours is not None and not FEWEST <= colours <= MOST:
        raise OptionError(f"a palette has {FEWEST} to {MOST} colours; got {colours}")
    if not subject.mask.any():
        raise PhotoError(f"{photo.file}: no pixel of the subject is left to take colours from")
    lab = spaces.linear_to_lab(photo.linear[subject.mask])
    count = min(colours or 6, len(np.unique(lab.round(3), axis=0)))
    criteria = (cv2.TERM_CRITERIA_EPS + cv2.TERM_CRITERIA_MAX_ITER, 50, 0.01)
    cv2.setRNGSeed(1)
    _, labels, _ = cv2.kmeans(
        lab.astype(np.float32), count, np.empty(0, np.int32), criteria, 3, cv2.KMEANS_PP_CENTERS
    )
    labels = labels.ravel()
    places = np.argwhere(subject.mask)
    found = []
    for index in range(count):
        own = labels == index
        mean = spaces.linear_to_lab(photo.linear[subject.mask][own].mean(axis=0, dtype=float))
        off = delta_e_2000(lab[own], mean)
        y, x = places[own][np.argmin(off)]
        found.append(
            PaletteColour(
                (float(mean[0]), float(mean[1]), float(mean[2])),
                float(own.mean()),
                float(off.mean()),
                float(calibration.uncertainty_of(mean)),
                everyday_name(mean),
                (int((x + 0.5) * photo.scale), int((y + 0.5) * photo.scale)),
            )
        )
    return Palette(photo, calibration, tuple(sorted(found, key=lambda c: -c.share)))
