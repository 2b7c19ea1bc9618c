"""From a photo file to the audit of its rope: the steps in their order, for command line and local page."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path

from analyser.audit.evenness import audit
from analyser.audit.verdict import Piece, Tolerances
from analyser.audit.wording import ruler_for
from analyser.errors import PhotoError
from analyser.motif.motif import Motif
from analyser.photo import calibration as calibrating
from analyser.photo import reading
from analyser.photo.calibration import Card
from analyser.photo.reading import Photo
from analyser.photo.sheet import find_sheet
from analyser.rope.ends import Side
from analyser.rope.locating import locate
from analyser.rope.motif_steps import motif_steps
from analyser.rope.roles import BEAD_OF_RADIUS

READ_PIXELS = 4_000_000
"""Pixels read of a photo at first; enough where the rope fills the frame."""

BEAD_PX = 16
"""Pixels a bead should have when read: a photo whose beads are smaller is read again, finer."""


def audit_photo(
    path: str | Path,
    *,
    limits: Tolerances | None = None,
    motif: Motif | None = None,
    length_mm: float | None = None,
    worked_to: Side | None = None,
    method: str = "auto",
    card: Card | None = None,
    limit_mp: float = 200.0,
) -> Piece:
    """Read, calibrate and judge one photo.

    Parameters
    ----------
    path : str or Path
    limits : Tolerances, optional
    motif : Motif, optional
        The one that was woven: tells the rope's repeats, and with ``length_mm`` its rounds.
    length_mm : float, optional
        From end to end.
    worked_to : str, optional
        The side of the photo at which the rope was worked last.
    method, card
        As of ``calibrate``.
    limit_mp : float
        Megapixels beyond which a photo is refused.

    Raises
    ------
    PhotoError, CalibrationError
        If the photo cannot be read, what ``method`` or ``card`` names is not in it, or it shows no rope
        that can be judged.
    """
    ruler = ruler_for(motif, length_mm, worked_to)
    steps = motif_steps(motif) if motif is not None else None
    photo = reading.read(path, about_pixels=READ_PIXELS, limit_mp=limit_mp)
    on_sheet = find_sheet(photo)[0] is not None
    rope = locate(_cleared(photo, method, card) if on_sheet else photo)
    bead = BEAD_OF_RADIUS * rope.width / 2
    if bead < 0.9 * BEAD_PX and photo.scale > 1.1:
        finer = READ_PIXELS * (BEAD_PX / bead) ** 2
        photo = reading.read(path, about_pixels=round(finer), limit_mp=limit_mp)
        rope = rope.at_scale(photo.scale)
    calibration = calibrating.calibrate(photo, method, card)
    return audit(
        calibration.corrected(photo), calibration, tolerances=limits, ruler=ruler, motif=steps, rope=rope
    )


def _cleared(photo: Photo, method: str, card: Card | None) -> Photo:
    """The photo with nothing printed on its sheet, in which a rope is found as on plain paper."""
    calibration = calibrating.calibrate(photo, method, card)
    return calibration.cleared(calibration.corrected(photo))


def no_photo_judged(faulty: Sequence[Mapping[str, str]]) -> PhotoError:
    """The error when none of several photos could be judged."""
    return PhotoError("none of the photos could be judged: " + "; ".join(one["says"] for one in faulty))
