"""``analyser stock use``: book out what a piece took, and write its piece card."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

import click

from analyser.cli import piece_request
from analyser.cli.options import asking, common, options, options_told
from analyser.cli.output import remark, show_done
from analyser.cli.piece_request import PieceRequest
from analyser.cli.register import PIECE, PIECE_DEFAULTS
from analyser.cli.values import FILE
from analyser.errors import OptionError
from analyser.files import write_whole

if TYPE_CHECKING:
    from rich.console import Console


@dataclass(frozen=True, kw_only=True)
class UseRequest(PieceRequest):
    """What ``analyser stock use`` was asked for."""

    file: Path
    notes: str
    card_file: Path | None
    skip_faulty: bool


@click.command()
@click.argument("file", type=FILE)
@options(*PIECE, "notes", "card_file", "skip_faulty", **PIECE_DEFAULTS)
@common
@asking(UseRequest)
def use(asked: UseRequest) -> None:
    """Book out of the stock list FILE what a piece took, and write its piece card.

    A bead of several lots is named as ID@LOT; without a lot the one that holds most is taken. `analyser stock
    undo FILE` takes the booking back.
    """
    from analyser.motif import parsing
    from analyser.piece import piece_cards
    from analyser.piece.counting import END_BEADS
    from analyser.report import answers, pieces
    from analyser.stock.list import booking as stock_booking
    from analyser.stock.list import stock_list as stocks
    from analyser.stock.lots import largest

    file = asked.file
    named = piece_request.roles_of(asked)
    if not named:
        raise OptionError("say which beads it took: --accent BEAD --body BEAD")
    motif = parsing.load(asked.motif)
    held = stocks.read(file, skip_faulty=asked.skip_faulty)
    lots: piece_request.Lots = {
        role: (largest(found),) for role, found in piece_request.lots(named, held, motif).items()
    }
    counted = piece_request.counted(asked, motif, [("", lots, 1)], asked.spare)[0].count
    taken = {role: counted.beads.get(role, END_BEADS) for role in lots}
    card = piece_cards.piece_card(
        counted, {role: held[0] for role, held in lots.items()}, date.today(), asked.notes
    )
    where = asked.card_file or _card_name(file, [held[0].id for held in lots.values()])
    if where.exists():
        raise OptionError(f"{where} exists already; name another place with --card")
    # The card first: a booking whose card cannot be written would be half done.
    write_whole(where, card.text() + "\n")
    try:
        booking = stock_booking.book_out(file, [(held[0], taken[role]) for role, held in lots.items()])
    except BaseException:
        where.unlink(missing_ok=True)
        raise
    answer = {**answers.head(options_told()), **pieces.booking_fields(booking, card, where)}

    def readable(console: Console) -> None:
        console.print(card.text(), markup=False)
        for line in booking.lines:
            lot = f" lot {line.lot}" if line.lot else ""
            console.print(
                f"booked out: {line.beads} of {line.id}{lot}: {line.before} → {line.after}", markup=False
            )

    show_done(answer, asked.json_file, readable)
    for role in counted.beads:
        if role not in lots:
            remark(f"the {role} beads are not booked out: name their bead with --{role}")
    remark(f"card in {where}; the list as it was in {booking.backup}; analyser stock undo takes it back")


def _card_name(file: Path, ids: list[str]) -> Path:
    """A free name beside the list, told by the day and the beads."""
    words = "-".join("".join(c if c.isalnum() else "-" for c in name) for name in ids)[:60]
    stem = f"piece-{date.today().isoformat()}-{words}"
    names = [f"{stem}.txt", *(f"{stem}-{n}.txt" for n in range(2, 1000))]
    return next(path for name in names if not (path := file.with_name(name)).exists())
