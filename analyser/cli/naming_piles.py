"""What a maker is asked of a tray's piles on the terminal: names, or which beads of the list they are."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from analyser.cli.output import remark
from analyser.errors import OptionError, StockError

if TYPE_CHECKING:
    from analyser.stock.bead import Bead
    from analyser.stock.stock import Stock
    from analyser.tray.measuring import Pile, Tray
    from analyser.tray.naming import PileName

_NEAREST = 6
"""Beads of the list that are shown for a pile: what fits the screen a dozen times."""


def confirms(says: str) -> bool:
    """Whether the maker says yes; without a terminal nobody does."""
    return sys.stdin.isatty() and bool(click.confirm(says, default=False, err=True))


def ask_names(tray: Tray, held: Stock | None, picture: Path | None) -> list[PileName | None]:
    """Ask for each pile's id and name.

    Raises
    ------
    OptionError
        If there is no terminal to ask on.
    """
    from analyser.tray.naming import SKIP, PileName, suggested_id

    _check_terminal(tray, "ids", "with a line for each (id or id;name)")
    if picture is not None:
        remark(f"the numbers are in {picture}")
    taken = [bead.id for bead in held.beads] if held is not None else []
    names: list[PileName | None] = []
    for pile in tray.piles:
        word = click.prompt(
            f"{_pile(pile)}: id ({SKIP} leaves it out)", default=suggested_id(_colour(pile), taken), err=True
        )
        if word == SKIP:
            names.append(None)
            continue
        taken.append(word)
        name = click.prompt("  name", default=word.replace("-", " ").capitalize(), err=True)
        names.append(PileName(" ".join(word.split()), " ".join(name.split())))
    return names


def ask_rows(
    tray: Tray, held: Stock, picture: Path | None, replace_all: bool
) -> tuple[list[Bead | None], list[bool]]:
    """Ask for each pile which bead of the list it is, and whether a colour it has may be replaced.

    Raises
    ------
    OptionError
        If there is no terminal to ask on.
    """
    from analyser.tray import filling

    _check_terminal(tray, "beads of the list", "with a line for each (id or id;;lot)")
    if picture is not None:
        remark(f"the numbers are in {picture}")
    rows: list[Bead | None] = []
    replace: list[bool] = []
    left = list(held.beads)
    for pile in tray.piles:
        row = _ask_row(pile, left, held)
        may = replace_all
        if row is not None:
            left.remove(row)
            if not filling.without_colour(row) and not may:
                may = confirms(f"  {row.name} has a colour; replace it, the old one stays in its notes?")
                row = row if may else None
        rows.append(row)
        replace.append(may)
    return rows, replace


def _ask_row(pile: Pile, beads: list[Bead], held: Stock) -> Bead | None:
    from analyser.tray import filling
    from analyser.tray.naming import SKIP, PileName

    nearest = filling.candidates(pile.lab, beads)[:_NEAREST]
    click.echo(f"{_pile(pile)}: which bead is it?", err=True)
    for number, bead in enumerate(nearest, start=1):
        about = ", ".join(part for part in (bead.size, bead.lot and f"lot {bead.lot}") if part)
        has = "" if filling.without_colour(bead) else " (has a colour)"
        click.echo(f"  {number}  {bead.name}{f', {about}' if about else ''}{has}", err=True)
    while True:
        word = click.prompt(f"  number, id or name ({SKIP} leaves it out)", default=SKIP, err=True).strip()
        if word == SKIP:
            return None
        if word.isdigit() and 1 <= int(word) <= len(nearest):
            return nearest[int(word) - 1]
        try:
            name = PileName.parse(word)
            row = None if name is None else filling.row_named(held, name)
        except (StockError, OptionError) as error:
            click.echo(f"  {error}", err=True)
            continue
        if row is None or row in beads:
            return row
        click.echo(f"  {row.id!r} is another pile already", err=True)


def _check_terminal(tray: Tray, what: str, how: str) -> None:
    if not sys.stdin.isatty():
        raise OptionError(
            f"{len(tray.piles)} piles need {what}: give --names FILE {how}, "
            "or run it on a terminal to be asked"
        )


def _colour(pile: Pile) -> str:
    import numpy as np

    from analyser.colour.names import everyday_name

    return everyday_name(np.asarray(pile.lab))


def _pile(pile: Pile) -> str:
    from analyser.colour.gamut import lab_to_hex

    return f"pile {pile.number}, {_colour(pile)} {lab_to_hex(pile.lab)[0]}"
