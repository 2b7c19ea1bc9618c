"""``analyser audit``: whether a rope's colour is even from end to end."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from analyser.cli.options import BOX, common, reading_photo, stock_option
from analyser.cli.output import remark, show, working
from analyser.errors import AnalyserError, OptionError

if TYPE_CHECKING:
    from rich.console import Console

    from analyser.audit.verdict import Piece
    from analyser.photo.box import Box
    from analyser.photo.calibration import Card
    from analyser.rope.ends import Side


@click.command()
@click.argument("photos", nargs=-1, required=True, type=click.Path(path_type=Path), metavar="PHOTO...")
@click.option(
    "--motif", help="The motif's name or file: its repeats are then known, and places told in rounds."
)
@click.option("--length", help="From end to end, such as 18.5cm: then places are told in cm.")
@click.option(
    "--worked-to",
    type=click.Choice(["left", "right", "top", "bottom"]),
    help="The end you worked last, as it lies in the photo: the rope is unpicked from there.",
)
@stock_option(required=False)
@click.option("--accent", help="The stock bead the accents were woven from.")
@click.option("--body", help="The stock bead the body was woven from.")
@click.option("--new-lot", "new_lot_box", type=BOX, help="A box round beads of a new lot beside the rope.")
@click.option(
    "--lot-tolerance",
    type=click.FloatRange(min=0),
    default=0.8,
    show_default=True,
    help="Least CIEDE2000 of a lot change to report.",
)
@click.option(
    "--uneven-from",
    type=click.FloatRange(min=0),
    default=2.0,
    show_default=True,
    help="CIEDE2000 from which a lot change makes a piece uneven.",
)
@click.option("--strict", is_flag=True, help="Leave with 3 unless every piece is even.")
@click.option(
    "--out", type=click.Path(path_type=Path), metavar="DIR", help="Write a page with pictures there."
)
@reading_photo
@common
def audit(
    photos: tuple[Path, ...],
    motif: str | None,
    length: str | None,
    worked_to: Side | None,
    stock_file: Path | None,
    skip_faulty: bool,
    accent: str | None,
    body: str | None,
    new_lot_box: Box | None,
    lot_tolerance: float,
    uneven_from: float,
    strict: bool,
    out: Path | None,
    calibration: str,
    card: Card | None,
    corrected: Path | None,
    limit_mp: float,
    json_file: Path | None,
) -> int:
    """Judge the rope in each PHOTO: lot changes, stray beads, plain rounds; several are also compared."""
    from analyser.audit import comparing, running
    from analyser.audit.verdict import Tolerances
    from analyser.cli.corrected import save_if_wanted
    from analyser.motif import motif as motifs
    from analyser.report import audits
    from analyser.stock import units

    if (accent or body) and stock_file is None:
        raise OptionError("--accent and --body name beads of a stock list; give it with --stock FILE")
    if corrected is not None and len(photos) > 1:
        raise OptionError("--corrected saves one photo; give it with a single PHOTO")
    limits = Tolerances(lot_de00=lot_tolerance, uneven_de00=uneven_from)
    woven = motifs.load(motif) if motif else None
    mm = units.length_mm(length) if length else None
    beads = _stock_beads(stock_file, skip_faulty, {"accent": accent, "body": body})
    pieces: list[Piece] = []
    faulty: list[dict[str, str]] = []
    for photo in photos:
        try:
            with working(f"looking at {photo.name}"):
                piece = running.judged(
                    photo,
                    limits=limits,
                    motif=woven,
                    length_mm=mm,
                    worked_to=worked_to,
                    method=calibration,
                    card=card,
                    limit_mp=limit_mp,
                )
            pieces.append(piece)
        except AnalyserError as error:
            if len(photos) == 1:
                raise
            remark(str(error))
            faulty.append({"file": str(photo), "kind": error.kind, "says": str(error)})
    if not pieces:
        raise running.nothing_judged(faulty)
    save_if_wanted(pieces[0].photo, pieces[0].calibration, corrected)
    between = comparing.between(pieces)
    lots = [comparing.new_lot(piece, new_lot_box) for piece in pieces] if new_lot_box else []
    stock_list = [
        [
            found
            for role, bead in beads.items()
            if bead.lab is not None
            and (
                found := comparing.against_stock(
                    piece, role, bead.name, bead.lab, bead.uncertainty_de00 or 0.0
                )
            )
        ]
        for piece in pieces
    ]
    report = None
    if out is not None:
        from analyser.report import audit_page

        with working("drawing the page"):
            report = str(audit_page.write(out, pieces, between, new_lots=lots, stock=stock_list))
    options: dict[str, Any] = {
        "motif": motif,
        "length": length,
        "worked_to": worked_to,
        "stock": str(stock_file) if stock_file else None,
        "accent": accent,
        "body": body,
        "new_lot": str(new_lot_box) if new_lot_box else None,
        "lot_tolerance": lot_tolerance,
        "uneven_from": uneven_from,
        "strict": strict,
        "calibration": calibration,
        "card": str(card) if card else None,
    }
    answer = audits.audit_answer(
        pieces, between, options, new_lots=lots, stock=stock_list, faulty=faulty, report=report
    )

    def readable(console: Console) -> None:
        from analyser.cli.audit_readable import print_audit

        print_audit(console, answer)

    show(answer, json_file, readable)
    if faulty:
        return 2
    return 3 if strict and any(piece.verdict != "even" for piece in pieces) else 0


def _stock_beads(stock_file: Path | None, skip_faulty: bool, wanted: dict[str, str | None]) -> dict[str, Any]:
    if stock_file is None:
        return {}
    from analyser.stock.list import stock_list

    held = stock_list.read(stock_file, skip_faulty=skip_faulty)
    return {role: held.find(text) for role, text in wanted.items() if text}
