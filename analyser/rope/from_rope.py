"""A finished rope as a source of colours: what each role looks like, for making another of it."""

from __future__ import annotations

from dataclasses import dataclass

from analyser.colour.spaces import linear_to_lab
from analyser.photo.calibration import Calibration
from analyser.photo.reading import Photo
from analyser.rope.colours import role_looks
from analyser.rope.locating import locate
from analyser.rope.placing import place
from analyser.rope.unrolling import unroll


@dataclass(frozen=True, slots=True)
class RopeRole:
    """One role of a rope in a photo.

    Attributes
    ----------
    role : str
        ``body``, ``accent`` or ``third``.
    lab : tuple of 3 float
        Mean linear light of its visible pixels as Lab, D65.
    uncertainty_de00 : float
        Of the photo's calibration; woven against piled comes on top of it.
    share : float
        Of the visible area, 0..1.
    """

    role: str
    lab: tuple[float, float, float]
    uncertainty_de00: float
    share: float


def roles_of(photo: Photo, calibration: Calibration) -> tuple[RopeRole, ...]:
    """The roles of the one rope in a photo already corrected by ``calibration``, body first.

    Raises
    ------
    PhotoError
        If there is no rope, or it is too small to tell its beads apart.
    """
    found = []
    for look in role_looks(place(unroll(photo, locate(photo)), photo.file)):
        lab = linear_to_lab(look.linear)
        doubt = float(calibration.uncertainty_of(lab))
        found.append(RopeRole(look.name, (float(lab[0]), float(lab[1]), float(lab[2])), doubt, look.share))
    return tuple(found)
