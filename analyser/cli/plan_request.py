"""A plan as the command line says it: a file, or one of the short forms."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from analyser.cli import piece_request
from analyser.cli.output import remark
from analyser.errors import OptionError

if TYPE_CHECKING:
    from analyser.cli.piece_request import PieceRequest, Way
    from analyser.colourway.plan_choice import PlanWish
    from analyser.motif.motif import Motif
    from analyser.motif.plan import Plan
    from analyser.piece.kits import KitColourway
    from analyser.piece.planned_piece import PlannedPiece
    from analyser.stock.stock import Stock


_PROPOSED = ("fade", "bands", "middle")  # of a photo, see ``plan_choice.KINDS``


@dataclass(frozen=True, kw_only=True)
class PlanRequest:
    """Which bead each role takes along the rope (``PLAN`` of the register)."""

    plan_file: Path | None
    fade: str | None
    bands: tuple[int, str] | None


def plan_of(asked: PlanRequest) -> Plan | None:
    """The plan that was asked for; None where none was.

    Raises
    ------
    OptionError
        If more than one is given.
    PlanError
        If it has a fault.
    """
    told = [
        option
        for option, value in (("--plan", asked.plan_file), ("--fade", asked.fade), ("--bands", asked.bands))
        if value
    ]
    if len(told) > 1:
        raise OptionError(f"give one plan; got {' and '.join(told)}")
    from analyser.piece import plan_file

    if asked.plan_file:
        kind = str(asked.plan_file).partition(":")[0]
        if kind in _PROPOSED and not asked.plan_file.exists():
            raise OptionError(
                f"a {kind} is proposed from a photo: analyser colourway PHOTO --plan {kind}; here give "
                "a file of your own, --fade or --bands"
            )
        return plan_file.load(asked.plan_file)
    if asked.fade:
        return plan_file.fade(asked.fade)
    return plan_file.bands(*asked.bands) if asked.bands else None


def wish_of(asked: PlanRequest, steps: int | None) -> Plan | PlanWish | None:
    """The plan that was asked for, or what to propose: ``fade``, ``bands``, ``middle``, ``fade:2-5``.

    Raises
    ------
    OptionError
        As ``plan_of``; also if the colours are no numbers, or steps are given for a plan of one's own.
    PlanError
        If the maker's plan has a fault.
    """
    from analyser.colourway.plan_choice import KINDS, PlanWish

    kind, sign, between = str(asked.plan_file or "").partition(":")
    for known in KINDS:
        if kind != known:
            continue
        if asked.fade or asked.bands:
            raise OptionError(f"give one plan; got --plan {kind} and another")
        found = re.fullmatch(r"\s*(\d{1,2})\s*-\s*(\d{1,2})\s*", between)
        if sign and (known != "fade" or found is None or found[1] == found[2] or "0" in found.groups()):
            raise OptionError(
                "--plan fade:2-5 goes between two colours of the photo by their numbers; got "
                f"{asked.plan_file}"
            )
        return PlanWish(known, (int(found[1]) - 1, int(found[2]) - 1) if found else None, steps)
    if steps is not None:
        raise OptionError("--steps is for a plan to propose: --plan fade or --plan bands")
    return plan_of(asked)


def check(asked: PlanRequest, colourways: Sequence[str]) -> None:
    """Refuse a faulty plan, and a plan for several colourways, before anything else is done.

    Raises
    ------
    OptionError, PlanError
        As ``plan_of``; also if there are colourways beside the plan.
    """
    if plan_of(asked) is not None and colourways:
        raise OptionError("a plan names the beads of one colourway; leave --colourway out, or --plan")


def count_planned(
    asked: PieceRequest, motif: Motif, ways: Sequence[Way], stock: Stock | None, spare: float | None
) -> tuple[KitColourway, PlannedPiece | None]:
    """A piece or a class of one colourway, counted; with a plan also bead by bead.

    Parameters
    ----------
    asked : PieceRequest and PlanRequest
    motif, stock, spare
        As of ``piece_request.counted``.
    ways : sequence of Way
        The one colourway.
    """
    from analyser.piece import planned_piece
    from analyser.piece.kits import KitColourway

    assert isinstance(asked, PlanRequest)
    ((name, named, kits),) = ways
    plan = plan_of(asked)
    if plan is None:
        return piece_request.counted(asked, motif, ways, spare)[0], None
    usual = planned_piece.usual_lots(plan, named, stock, motif)
    (made,) = piece_request.counted(asked, motif, [(name, usual, kits)], spare)
    piece = planned_piece.planned_piece(plan, made.count, named, stock)
    return KitColourway(name, piece.planned.count, named, kits), piece


def write_chart(piece: PlannedPiece, folder: Path | None) -> str | None:
    """Write the chart to weave by into a folder, where one was asked for; the page's path."""
    if folder is None:
        return None
    from analyser.files import write_whole
    from analyser.report.plan_answers import chart_of

    path = folder / "chart.html"
    write_whole(path, chart_of(piece), make_folders=True)
    remark(f"the chart to weave by: {path}")
    return str(path)
