"""A pair of a finished design as a colourway to keep."""

from __future__ import annotations

import datetime
from collections.abc import Collection
from pathlib import Path

from analyser.colourway.design import Colourway, Wishes
from analyser.colourway.plan_design import PlannedDesign
from analyser.errors import OptionError
from analyser.imaging.encoding import jpeg_bytes, picture_u8
from analyser.photo.reading import Photo
from analyser.piece import plan_file
from analyser.piece.counting import END_BEADS
from analyser.piece.kept import KeptBead, KeptColour, KeptColourway
from analyser.stock.bead import Bead
from analyser.stock.lots import largest

_PICTURE_PX = 640


def kept_pair(
    result: Colourway,
    wishes: Wishes,
    index: int,
    name: str,
    *,
    note: str = "",
    company: Collection[str] = (),
    planned: PlannedDesign | None = None,
    today: datetime.date | None = None,
) -> KeptColourway:
    """One pair of a design, with all that is needed to make it again.

    Parameters
    ----------
    result : Colourway
    wishes : Wishes
        Those it was designed for.
    index : int
        Which of its pairs, from 0.
    name, note : str
    company : collection of str
        Which of what goes with the pair is kept too: ``third``, ``end``.
    planned : PlannedDesign, optional
        The colourway along a plan: its beads are kept instead of the pair's.
    today : date, optional

    Raises
    ------
    OptionError
        If there is no such pair, or nothing of that kind goes with it.
    """
    if not 0 <= index < len(result.pairs):
        raise OptionError(f"there is no pair {index + 1} to keep; there are {len(result.pairs)}")
    pair, photo = result.pairs[index], result.palette.photo
    needs = {"end": END_BEADS, **(pair.needs or {})}
    beads = dict(pair.beads)
    for role in company:
        suggested = {"third": result.company[index].third, "end": result.company[index].end_bead}[role]
        bead = beads.get(role, suggested)
        if bead is None:
            raise OptionError(f"no bead of yours is proposed as {role} of pair {index + 1}; keep it without")
        beads[role] = bead
    kept_beads = {role: _bead(bead, needs.get(role)) for role, bead in beads.items()}
    if planned is not None:
        ends = {"end": kept_beads["end"]} if "end" in kept_beads else {}
        kept_beads = _planned_beads(planned) | ends
    return KeptColourway(
        name=" ".join(name.split()),
        made_on=today or datetime.date.today(),
        motif=wishes.motif.name,
        size=wishes.size,
        shape=wishes.shape,
        length_mm=wishes.length_mm,
        gauge=str(wishes.gauge) if wishes.gauge else None,
        beads=kept_beads,
        palette=tuple(KeptColour(one.lab, one.share, one.name) for one in result.palette.colours),
        photo=Path(photo.file).name,
        sha256=photo.sha256,
        note=note,
        plan=None if planned is None else plan_file.text(planned.plan),
    )


def _planned_beads(planned: PlannedDesign) -> dict[str, KeptBead]:
    """The beads of a plan: the first of each role under the role, the others by their key.

    Raises
    ------
    OptionError
        If the plan names a colour: what is kept can be woven again from the list.
    """
    found: dict[str, KeptBead] = {}
    for need in planned.piece.planned.needs:
        lots = planned.piece.lots.get(need.bead.key)
        if lots is None:
            raise OptionError(f"{need.bead.text} of the plan is a colour; name a bead of the list to keep it")
        role = need.bead.key if need.bead.role in found else need.bead.role
        found[role] = _bead(largest(lots), need.with_spare if planned.counts else None)
    return found


def small_picture(photo: Photo) -> bytes:
    """The photo, reduced, as a JPEG encoded anew: nothing of the camera's data, no place, is in it."""
    return jpeg_bytes(picture_u8(photo.linear, _PICTURE_PX), 84)


def _bead(bead: Bead, needs: int | None) -> KeptBead:
    assert bead.lab is not None  # pairs are made of coloured beads only
    return KeptBead(bead.id, bead.name, bead.lot, bead.size, bead.shape, bead.finish, bead.lab, needs)
