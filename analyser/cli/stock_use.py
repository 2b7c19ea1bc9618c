"""``analyser stock use``: book out what a piece or a whole class took, and write the cards."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from analyser.cli import piece_request, plan_request
from analyser.cli.kept_request import kept_kits
from analyser.cli.options import asking, common, options, options_told
from analyser.cli.output import remark, show_done
from analyser.cli.piece_request import ClassRequest
from analyser.cli.plan_request import PlanRequest
from analyser.cli.register import PIECE, PIECE_DEFAULTS, PLAN
from analyser.cli.values import FILE
from analyser.errors import OptionError, StockError
from analyser.files import write_whole

if TYPE_CHECKING:
    from rich.console import Console

    from analyser.motif.motif import Motif
    from analyser.stock.bead import Bead
    from analyser.stock.stock import Stock


@dataclass(frozen=True, kw_only=True)
class UseRequest(ClassRequest, PlanRequest):
    """What ``analyser stock use`` was asked for."""

    file: Path
    notes: str
    card_file: Path | None
    skip_faulty: bool


@dataclass(frozen=True, slots=True)
class Taking:
    """What is to be booked out, and what is told of it.

    Attributes
    ----------
    takes : tuple of (Bead, int)
        Lots and beads.
    text, in_short : str
        The card, or the cards of a class, as they are kept; and as they are told, alike ones together.
    fields : dict
        The same for JSON.
    remarks : tuple of str
    """

    takes: tuple[tuple[Bead, int], ...]
    text: str
    in_short: str
    fields: dict[str, Any]
    remarks: tuple[str, ...] = ()


@click.command()
@click.argument("file", type=FILE)
@options(*PIECE, *PLAN, "kits", "colourway", "kept", "notes", "card_file", "skip_faulty", **PIECE_DEFAULTS)
@common
@asking(UseRequest)
def use(asked: UseRequest) -> None:
    """Book out of the stock list FILE what a piece took, and write its piece card.

    With --kits or --colourway the beads of a whole class are booked out at once, spare included, each kit's
    from one lot. A bead of several lots is named as ID@LOT; without a lot the one that holds most is taken.
    `analyser stock undo FILE` takes the booking back, all of it.
    """
    from analyser.cli.lists import read_list
    from analyser.motif import parsing
    from analyser.phrases import reckoning
    from analyser.report import answers, pieces
    from analyser.stock.list import booking as stock_booking

    plan_request.check(asked, asked.colourways)
    asked.check_kept()
    planned = plan_request.plan_of(asked) is not None
    named = piece_request.roles_of(asked) or asked.colourways or asked.kept_names
    if not named and not planned:
        raise OptionError("say which beads it took: --accent BEAD --body BEAD")
    motif = parsing.load(asked.motif)
    held = read_list(asked.file, skip_faulty=asked.skip_faulty)
    taking = (_a_class if asked.of_a_class else _by_plan if planned else _a_piece)(asked, motif, held)
    kind = "class" if asked.of_a_class else "piece"
    ids = list(dict.fromkeys(bead.id for bead, _ in taking.takes))
    where = asked.card_file or _card_name(asked.file, kind, ids)
    if where.exists():
        raise OptionError(f"{where} exists already; name another place with --card")
    # The card first: a booking whose card cannot be written would be half done.
    write_whole(where, taking.text + "\n")
    try:
        booking = stock_booking.book_out(asked.file, taking.takes)
    except BaseException:
        where.unlink(missing_ok=True)
        raise
    answer = {**answers.head(options_told()), **pieces.booking_fields(booking, where), **taking.fields}

    def readable(console: Console) -> None:
        console.print(taking.in_short, markup=False)
        for line in booking.lines:
            console.print(f"booked out: {reckoning.booked(line)}", markup=False)

    show_done(answer, asked.json_file, readable)
    for says in taking.remarks:
        remark(says)
    cards = "cards" if asked.of_a_class else "card"
    remark(f"{cards} in {where}; the list as it was in {booking.backup}; analyser stock undo takes it back")


def _a_piece(asked: UseRequest, motif: Motif, held: Stock) -> Taking:
    """One piece, as it was woven: what is in it, without spare."""
    from analyser.piece import piece_cards
    from analyser.piece.counting import END_BEADS
    from analyser.report import pieces
    from analyser.stock.lots import largest

    named = piece_request.roles_of(asked)
    lots: piece_request.Lots = {
        role: (largest(found),) for role, found in piece_request.lots(named, held, motif).items()
    }
    counted = piece_request.counted(asked, motif, [("", lots, 1)], asked.spare)[0].count
    card = piece_cards.piece_card(
        counted, {role: found[0] for role, found in lots.items()}, date.today(), asked.notes
    )
    return Taking(
        tuple((found[0], counted.beads.get(role, END_BEADS)) for role, found in lots.items()),
        *(card.text(),) * 2,
        {"card": pieces.card_fields(card), "kits": 1, "cards": []},
        tuple(
            f"the {role} beads are not booked out: name their bead with --{role}"
            for role in counted.beads
            if role not in lots
        ),
    )


def _by_plan(asked: UseRequest, motif: Motif, held: Stock) -> Taking:
    """One piece made to a plan: what is in it of each bead, without spare."""
    from analyser.piece import piece_cards
    from analyser.piece.counting import END_BEADS
    from analyser.piece.planned_count import by_bead
    from analyser.report import pieces
    from analyser.stock.lots import largest

    ways = piece_request.ways(asked, held, motif)
    _, piece = plan_request.count_planned(asked, motif, ways, held, asked.spare)
    assert piece is not None
    piece.require_beads()
    lots = {key: largest(of_one) for key, of_one in piece.lots.items()}
    ends = ((lots["end"], END_BEADS),) if "end" in lots else ()
    card = piece_cards.piece_card(by_bead(piece.planned, piece.lots), lots, date.today(), asked.notes)
    return Taking(
        (*piece.takes, *ends),
        *(card.text(),) * 2,
        {"card": pieces.card_fields(card), "kits": 1, "cards": []},
        tuple(
            f"the {need.bead.role} beads are not booked out: name their bead with --{need.bead.role}"
            for need in piece.planned.needs
            if need.bead.key not in lots
        ),
    )


def _a_class(asked: UseRequest, motif: Motif, held: Stock) -> Taking:
    """The kits of a class, as they are packed: spare included, each kit's beads of one lot.

    Raises
    ------
    StockError
        If the stock does not serve every kit for sure.
    """
    from analyser.piece import counting, piece_cards
    from analyser.piece import kits as classes
    from analyser.report import counts

    spare = counting.SPARE_KIT if asked.spare is None else asked.spare
    ways = [] if asked.kept_names else piece_request.ways(asked, held, motif)
    if asked.kept_names:
        made = kept_kits(asked.kept_names, held, asked.spare)
    elif plan_request.plan_of(asked) is None:
        made = piece_request.counted(asked, motif, ways, spare)
    else:
        _, piece = plan_request.count_planned(asked, motif, ways, held, spare)
        assert piece is not None
        piece.require_beads()
        made = [piece.kits]
    plan = classes.plan(made)
    for name, role, kits in (*plan.missing, *plan.unknown):
        of = f" of {name}" if name else ""
        beads = role.replace(":", " ", 1)
        raise StockError(
            f"{asked.file}: no lot is sure to hold the {beads} beads for {kits} of the kits{of}; nothing is "
            "booked. analyser count with the same options says what is short"
        )
    fields = {
        "card": None,
        "kits": len(plan.cards),
        "cards": [counts.kit_card_fields(card) for card in plan.cards],
    }
    text, in_short = (
        f"{cards}\n\n{asked.notes}".rstrip()
        for cards in ("\n\n".join(card.text() for card in plan.cards), piece_cards.in_short(plan.cards))
    )
    return Taking(plan.taken, text, in_short, fields)


def _card_name(file: Path, kind: str, ids: list[str]) -> Path:
    """A free name beside the list, told by the day and the beads."""
    words = "-".join("".join(c if c.isalnum() else "-" for c in name) for name in ids)[:60]
    stem = f"{kind}-{date.today().isoformat()}-{words}"
    names = [f"{stem}.txt", *(f"{stem}-{n}.txt" for n in range(2, 1000))]
    return next(path for name in names if not (path := file.with_name(name)).exists())
