"""A kept colourway woven again: counted from the list as it is now, in any length and number."""

from __future__ import annotations

import dataclasses
import datetime
from pathlib import Path

from analyser.errors import AnalyserError, OptionError
from analyser.motif import own_motifs
from analyser.motif.motif import Motif
from analyser.motif.plan import PlannedBead
from analyser.piece import counting, plan_file
from analyser.piece.gauge import Gauge
from analyser.piece.kept import KeptBead, KeptColourway, KeptError, folder_of
from analyser.piece.kits import KitColourway
from analyser.piece.planned_piece import planned_piece, usual_lots
from analyser.stock.bead import Bead
from analyser.stock.stock import Stock


def motif_of(kept: KeptColourway, folder: Path) -> Motif:
    """Its motif: a shipped one, or the maker's own beside the folder it is kept in.

    Raises
    ------
    KeptError
        If there is none of that name any more.
    """
    try:
        return own_motifs.load(kept.motif, own_motifs.beside(folder))
    except AnalyserError as error:
        raise KeptError(f"{kept.name}: {error}") from error


def lots_of(kept: KeptColourway, motif: Motif, stock: Stock) -> dict[str, tuple[Bead, ...]]:
    """All lots of its beads as the list has them now, by role.

    A third colour that the motif has no role for is left out.

    Raises
    ------
    KeptError
        If a bead is not in the list any more.
    """
    found = {}
    for role, bead in kept.beads.items():
        if role not in (*motif.roles, "end"):
            continue
        try:
            found[role] = stock.lots(f"{bead.id}@{bead.size}" if bead.size else bead.id)
        except AnalyserError as error:
            raise KeptError(f"{kept.name}: {error}") from error
    return found


def counted(
    kept: KeptColourway,
    stock: Stock,
    *,
    length_mm: float | None = None,
    body_mm: float | None = None,
    kits: int = 1,
    spare: float | None = None,
) -> KitColourway:
    """Count it again from the list as it is now.

    Parameters
    ----------
    kept : KeptColourway
    stock : Stock
    length_mm, body_mm : float, optional
        Another finished length, or the wrist or neck it is for; its own length if both are left out.
    kits : int
        Pieces.
    spare : float, optional
        Share on top; the usual one if left out.

    Raises
    ------
    KeptError
        If a bead or its motif is not there any more.
    OptionError
        If no length is known, or it is no piece.
    """
    if length_mm is None and body_mm is None and kept.length_mm is None:
        raise OptionError(f"{kept.name} was kept without a length; say one")
    motif = motif_of(kept, folder_of(stock.path))
    lots = lots_of(kept, motif, stock)
    plan = plan_file.parse(kept.plan, kept.name) if kept.plan else None
    made = counting.count(
        motif,
        length_mm=None if body_mm is not None else length_mm or kept.length_mm,
        body_mm=body_mm,
        size=kept.size,
        shape=kept.shape,
        gauge=Gauge.parse(kept.gauge) if kept.gauge else None,
        spare=spare,
        kits=kits,
        stock=lots if plan is None else usual_lots(plan, lots, stock, motif),
    )
    if plan is None:
        return KitColourway(kept.name, made, lots, kits)
    return dataclasses.replace(planned_piece(plan, made, lots, stock).kits, name=kept.name)


def first_keys(kept: KeptColourway) -> dict[str, str]:
    """Of a plan the key of each role's first bead, which is kept under the role alone."""
    if kept.plan is None:
        return {}
    plan = plan_file.parse(kept.plan, kept.name)
    return {role: PlannedBead(role, plan.stretches[0].beads[role]).key for role in plan.stretches[0].beads}


def in_length(
    kept: KeptColourway, made: KitColourway, name: str, today: datetime.date | None = None
) -> KeptColourway:
    """The same colourway in the length it was counted for, as an idea of its own under another name."""
    needs, first = made.count.taken, first_keys(kept)
    beads: dict[str, KeptBead] = {
        role: dataclasses.replace(bead, needs=needs.get(role, needs.get(first.get(role, ""))))
        for role, bead in kept.beads.items()
    }
    return dataclasses.replace(
        kept,
        name=" ".join(name.split()),
        made_on=today or datetime.date.today(),
        length_mm=float(made.count.lengths.finished_mm),
        beads=beads,
        state="idea",
    )
