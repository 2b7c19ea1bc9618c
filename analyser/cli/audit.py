"""``analyser audit``: whether a rope's colour is even from end to end."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import click

from analyser.cli.options import AskedOfPhoto, asking, common, options, options_told
from analyser.cli.output import remark, show, working
from analyser.cli.plan_request import PlanRequest, plan_of
from analyser.cli.register import PHOTO, PLAN, STOCK
from analyser.cli.values import FILE
from analyser.errors import AnalyserError, OptionError

if TYPE_CHECKING:
    from rich.console import Console

    from analyser.audit.comparing import AgainstStock
    from analyser.audit.verdict import Piece, Tolerances
    from analyser.photo.box import Box
    from analyser.rope.ends import Side
    from analyser.stock.bead import Bead
    from analyser.stock.stock import Stock


@dataclass(frozen=True, kw_only=True)
class AuditRequest(AskedOfPhoto, PlanRequest):
    """What ``analyser audit`` was asked for."""

    photos: tuple[Path, ...]
    motif: str | None
    length: str | None
    worked_to: Side | None
    stock_file: Path | None
    skip_faulty: bool
    accent: str | None
    body: str | None
    third: str | None
    other_roles: tuple[str, ...]
    planned: bool
    new_lot: Box | None
    old_lot: Box | None
    lot_tolerance: float
    uneven_from: float
    size: str | None
    keep_gauge: bool
    same_piece: bool
    strict: bool
    out_dir: Path | None


@click.command()
@click.argument("photos", nargs=-1, required=True, type=FILE, metavar="PHOTO...")
@options(
    "motif", "length", "worked_to", *STOCK, "accent", "body", "third", "role", "planned", "new_lot",
    "old_lot", "lot_tolerance", "uneven_from", "size", "keep_gauge", "same_piece", "strict", "out", *PLAN,
    *PHOTO,
    size={"help": "Bead size to keep the gauge for: 11/0, 11 or 4mm.", "show_default": "11/0"},
    keep_gauge={"help": "Keep the gauge told by a photo sheet in analyser.toml, for this motif and bead."},
    motif={"help": "The motif's name or file: its repeats are then known, and places told in rounds."},
    role={"help": "Bead of the stock for a further letter of the motif, as D=BEAD."},
    length={"help": "From end to end, such as 18.5cm: then places are told in cm."},
)  # fmt: skip
@common
@asking(AuditRequest)
def audit(asked: AuditRequest) -> int:
    """Judge every rope in each PHOTO: lot changes, stray beads, plain rounds; several are also compared."""
    from analyser.audit import comparing, new_lots
    from analyser.cli.corrected import save_if_wanted
    from analyser.report import audit_answers

    named = _named(asked)
    if named and asked.stock_file is None:
        raise OptionError(
            "--accent, --body, --third and --role name beads of a stock list; give it with --stock FILE"
        )
    if asked.old_lot is not None and asked.new_lot is None:
        raise OptionError("--old-lot is what a new lot is compared with; give that with --new-lot BOX")
    if asked.corrected is not None and len(asked.photos) > 1:
        raise OptionError("--corrected saves one photo; give it with a single PHOTO")
    if asked.keep_gauge and (asked.motif is None or len(asked.photos) > 1):
        raise OptionError("--keep-gauge keeps the gauge of one rope; give a single PHOTO and its --motif")
    stock = _stock(asked)
    beads = {} if stock is None else {role: stock.find(text) for role, text in named.items()}
    pieces, faulty = _judged(asked, stock)
    if asked.keep_gauge:
        _keep_gauge(pieces[0], asked)
    save_if_wanted(pieces[0].photo, pieces[0].calibration, asked.corrected)
    if asked.same_piece:
        from analyser.audit.same_piece import same_piece

        pieces = same_piece(pieces, _limits(asked))
    between = comparing.between(pieces)
    lots = (
        [new_lots.new_lot(piece, asked.new_lot, asked.old_lot) for piece in pieces] if asked.new_lot else []
    )
    against = [_against_stock(piece, beads) for piece in pieces]
    report = None
    if asked.out_dir is not None:
        from analyser.report import audit_page

        with working("drawing the page"):
            report = str(audit_page.write(asked.out_dir, pieces, between, new_lots=lots, stock=against))
    answer = audit_answers.audit_answer(
        pieces, between, options_told(), new_lots=lots, stock=against, faulty=faulty, report=report
    )

    def readable(console: Console) -> None:
        from analyser.cli.audit_readable import print_audit

        print_audit(console, answer)

    show(answer, asked.json_file, readable)
    if faulty:
        return 2
    return 3 if asked.strict and any(piece.verdict != "even" for piece in pieces) else 0


def _limits(asked: AuditRequest) -> Tolerances:
    from analyser.audit.verdict import Tolerances

    return Tolerances(lot_de00=asked.lot_tolerance, uneven_de00=asked.uneven_from)


def _judged(asked: AuditRequest, stock: Stock | None) -> tuple[list[Piece], list[dict[str, str]]]:
    """The pieces, and of the photos that could not be judged why; one photo alone must be."""
    from analyser.audit import running
    from analyser.audit.told_plan import told_plan
    from analyser.motif import parsing
    from analyser.stock import units

    limits = _limits(asked)
    woven = parsing.load(asked.motif) if asked.motif else None
    length_mm = units.length_mm(asked.length) if asked.length else None
    course = plan_of(asked)
    plan = told_plan(course, stock, woven) if course is not None else None
    pieces: list[Piece] = []
    faulty: list[dict[str, str]] = []
    for photo in asked.photos:
        try:
            with working(f"looking at {photo.name}"):
                pieces += running.audit_ropes(
                    photo,
                    limits=limits,
                    motif=woven,
                    length_mm=length_mm,
                    worked_to=asked.worked_to,
                    method=asked.calibration,
                    card=asked.card,
                    no_card=asked.no_card,
                    even_light=asked.even_light,
                    limit_mp=asked.limit_mp,
                    plan=plan,
                    planned=asked.planned,
                )
        except AnalyserError as error:
            if len(asked.photos) == 1:
                raise
            remark(str(error))
            faulty.append({"file": str(photo), "kind": error.kind, "says": str(error)})
    if not pieces:
        raise running.no_photo_judged(faulty)
    return pieces, faulty


def _keep_gauge(piece: Piece, asked: AuditRequest) -> None:
    """Keep the gauge that the sheet told, as ``count`` would look for it."""
    from analyser.cli import piece_request, settings
    from analyser.motif import parsing
    from analyser.piece.gauge import Gauge
    from analyser.piece.request import gauge_keys
    from analyser.stock import units

    told = piece.size.gauge if piece.size else None
    if told is None:
        raise OptionError(
            f"{piece.photo.file}: tells no gauge to keep; lay the rope on a photo sheet (analyser sheet) and "
            "name the motif it was woven in"
        )
    size = units.size(asked.size) if asked.size else None
    file = settings.find() or Path(settings.NAME)
    key = gauge_keys(parsing.load(asked.motif or ""), size, None, {}, {})[0]
    piece_request.keep(file, key, Gauge(round(told.rounds, 1), told.in_mm))


def _stock(asked: AuditRequest) -> Stock | None:
    from analyser.stock.list import stock_list

    return stock_list.read(asked.stock_file, skip_faulty=asked.skip_faulty) if asked.stock_file else None


def _named(asked: AuditRequest) -> dict[str, str]:
    """What names the beads that the rope was woven from, by role."""
    from analyser.piece.request import named

    wanted = {"accent": asked.accent, "body": asked.body, "third": asked.third}
    return {role: text for role, text in wanted.items() if text} | named(asked.other_roles, "--role")


def _against_stock(piece: Piece, beads: Mapping[str, Bead]) -> list[AgainstStock]:
    """Each role of a piece against the bead it was woven from, where both have a colour."""
    from analyser.audit import comparing
    from analyser.phrases.audits import not_told_apart

    found = [
        comparing.against_stock(piece, role, bead.name, bead.lab, bead.uncertainty_de00 or 0.0)
        for role, bead in beads.items()
        if bead.lab is not None
    ]
    told = [one for one in found if one is not None]
    shown = {one.role for one in told}
    for role, bead in beads.items():
        if bead.lab and role not in shown:
            remark(f"{piece.photo.file}: {not_told_apart(role, bead.name)}")
    return told
