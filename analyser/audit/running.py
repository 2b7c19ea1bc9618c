"""From a photo file to the audit of its ropes: the steps in their order, for command line and local page."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path

from analyser.audit.evenness import audit
from analyser.audit.ruler import ruler_for
from analyser.audit.told_plan import ToldPlan
from analyser.audit.verdict import Piece, Tolerances
from analyser.errors import PhotoError
from analyser.motif.motif import Motif
from analyser.photo import calibration as calibrating
from analyser.photo import reading
from analyser.photo.calibration import Card
from analyser.photo.reading import Photo
from analyser.photo.sheet import find_sheet
from analyser.rope.ends import Side
from analyser.rope.motif_steps import motif_steps
from analyser.rope.roles import BEAD_OF_RADIUS
from analyser.rope.several import Unjudged, box_of, locate_all

READ_PIXELS = 4_000_000
"""Pixels read of a photo at first; enough where the rope fills the frame."""

BEAD_PX = 16
"""Pixels a bead should have when read: a photo whose beads are smaller is read again, finer."""


def audit_ropes(
    path: str | Path,
    *,
    limits: Tolerances | None = None,
    motif: Motif | None = None,
    length_mm: float | None = None,
    worked_to: Side | None = None,
    method: str = "auto",
    card: Card | None = None,
    no_card: bool = False,
    even_light: bool = False,
    limit_mp: float = 200.0,
    plan: ToldPlan | None = None,
    planned: bool = False,
) -> list[Piece]:
    """Read and calibrate one photo and judge every rope in it.

    Parameters
    ----------
    path : str or Path
    limits : Tolerances, optional
    motif : Motif, optional
        The one that was woven: tells the ropes' repeats, and with ``length_mm`` their rounds.
    length_mm : float, optional
        From end to end.
    worked_to : str, optional
        The side of the photo at which the rope was worked last.
    method, card, no_card, even_light
        As of ``calibrate``.
    limit_mp : float
        Megapixels beyond which a photo is refused.
    plan : ToldPlan, optional
        The course of colours of every rope in it.
    planned : bool
        Without a plan: a course that looks planned was planned.

    Returns
    -------
    list of Piece
        One a rope, numbered in reading order. What may be a rope and could not be judged stands in each
        piece's ``unjudged``, and none is called even then.

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
    ropes, unjudged = locate_all(_cleared(photo, method, card) if on_sheet else photo)
    bead = min(BEAD_OF_RADIUS * rope.width / 2 for rope in ropes)
    if bead < 0.9 * BEAD_PX and photo.scale > 1.1:
        finer = READ_PIXELS * (BEAD_PX / bead) ** 2
        photo = reading.read(path, about_pixels=round(finer), limit_mp=limit_mp)
        ropes = [rope.at_scale(photo.scale) for rope in ropes]
    calibration = calibrating.calibrate(photo, method, card, no_card=no_card, even_light=even_light)
    corrected = calibration.corrected(photo)
    pieces: list[Piece] = []
    failed: list[PhotoError] = []
    for rope in ropes:
        try:
            pieces.append(
                audit(
                    corrected,
                    calibration,
                    tolerances=limits,
                    ruler=ruler,
                    motif=steps,
                    rope=rope,
                    plan=plan,
                    planned=planned,
                )
            )
        except PhotoError as error:
            failed.append(error)
            unjudged.append(Unjudged(box_of(rope), "unclear"))
    if not pieces:
        raise failed[0]
    return [
        replace(
            piece,
            number=number,
            of=len(pieces),
            unjudged=tuple(unjudged),
            verdict="check" if unjudged and piece.verdict == "even" else piece.verdict,
        )
        for number, piece in enumerate(pieces, start=1)
    ]


def _cleared(photo: Photo, method: str, card: Card | None) -> Photo:
    """The photo with nothing printed on its sheet, in which a rope is found as on plain paper."""
    calibration = calibrating.calibrate(photo, method, card)
    return calibration.cleared(calibration.corrected(photo))


def no_photo_judged(faulty: Sequence[Mapping[str, str]]) -> PhotoError:
    """The error when none of several photos could be judged."""
    return PhotoError("none of the photos could be judged: " + "; ".join(one["says"] for one in faulty))
