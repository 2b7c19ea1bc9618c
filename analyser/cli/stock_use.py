"""``analyser stock use``: book out what a piece took, and write its piece card."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click
from click.core import ParameterSource

from analyser.cli import piece_request
from analyser.cli.options import FILE, common
from analyser.cli.output import remark, show, write_whole
from analyser.cli.piece_request import of_a_piece
from analyser.errors import OptionError

if TYPE_CHECKING:
    from rich.console import Console


@click.command()
@click.argument("file", type=FILE)
@of_a_piece
@click.option("--notes", default="", help="Free text for the card.")
@click.option(
    "--card",
    "card_file",
    type=FILE,
    metavar="FILE",
    help="Where the piece card goes.  [default: beside the list, named by date and beads]",
)
@click.option("--skip-faulty", is_flag=True, help="Use a list with faults, without its faulty rows.")
@common
@click.pass_context
def use(
    ctx: click.Context,
    /,
    file: Path,
    notes: str,
    card_file: Path | None,
    skip_faulty: bool,
    json_file: Path | None,
    **told: Any,
) -> None:
    """Book out of the stock list FILE what a piece took, and write its piece card.

    A bead of several lots is named as ID@LOT; without a lot the one that holds most is taken. `analyser stock
    undo FILE` takes the booking back.
    """
    from analyser.cli import settings
    from analyser.motif import motif as motifs
    from analyser.piece import piece_cards
    from analyser.piece.counting import END_BEADS
    from analyser.report import answers, pieces
    from analyser.stock import units
    from analyser.stock.list import booking as stock_booking
    from analyser.stock.list import stock_list as stocks
    from analyser.stock.lots import largest

    named = piece_request.roles_of(told)
    if not named:
        raise OptionError("say which beads it took: --accent BEAD --body BEAD")
    given = {name for name in told if ctx.get_parameter_source(name) is ParameterSource.COMMANDLINE}
    motif = motifs.load(told["motif"])
    lots: piece_request.Lots = {
        role: (largest(held),)
        for role, held in piece_request.lots(named, stocks.read(file, skip_faulty=skip_faulty), motif).items()
    }
    size = units.size(told["size"]) if told["size"] else None
    kinds = piece_request.kinds(told)
    settings_file = settings.find() or Path(settings.NAME)
    gauge, gauge_key = piece_request.gauge(
        told["gauge_text"], settings_file, motif, size, told["shape"], kinds, lots
    )
    if told["keep_gauge"]:
        piece_request.keep(settings_file, gauge_key, gauge)
    counted = piece_request.counted(
        motif, piece_request.length_of(told, given), size, kinds, gauge, lots, told, 1
    )
    taken = {role: counted.beads.get(role, END_BEADS) for role in lots}
    card = piece_cards.piece_card(
        counted, {role: held[0] for role, held in lots.items()}, date.today(), notes
    )
    where = card_file or _card_name(file, [held[0].id for held in lots.values()])
    if where.exists():
        raise OptionError(f"{where} exists already; name another place with --card")
    # The card first: a booking whose card cannot be written would be half done.
    write_whole(where, card.text() + "\n")
    try:
        booking = stock_booking.book_out(file, [(held[0], taken[role]) for role, held in lots.items()])
    except BaseException:
        where.unlink(missing_ok=True)
        raise
    options = {"motif": told["motif"], "notes": notes, "card": str(where)}
    answer = {**answers.head(options), **pieces.booking_fields(booking, card, where)}

    def readable(console: Console) -> None:
        console.print(card.text(), markup=False)
        for line in booking.lines:
            lot = f" lot {line.lot}" if line.lot else ""
            console.print(
                f"booked out: {line.beads} of {line.id}{lot}: {line.before} → {line.after}", markup=False
            )

    show(answer, json_file, readable)
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
