"""Heaps that are tubes of the list already: which tube a heap may be, and its colour for the tube's row."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from analyser.arrays import FloatArray, Lab
from analyser.colour.difference import delta_e_2000
from analyser.colour.names import labs_named_in
from analyser.errors import OptionError, StockError
from analyser.stock.bead import Bead
from analyser.stock.list.adding import Fill
from analyser.stock.stock import Stock
from analyser.tray.measuring import Tray
from analyser.tray.naming import PileName


def candidates(lab: Lab, beads: Sequence[Bead]) -> list[Bead]:
    """The beads of a list in the order in which a heap may be them.

    Those without a colour come first, the one whose words (name, id, notes, the maker's own columns) name the
    colour nearest to the heap's before the others; then those with a colour, the nearest first.

    Parameters
    ----------
    lab : tuple of 3 float
        The heap's colour.
    beads : sequence of Bead
    """
    told = [_colours_of(bead) for bead in beads]
    owner = np.repeat(np.arange(len(beads)), [len(labs) for labs in told])
    apart = np.full(len(beads), np.inf)
    if len(owner):
        np.minimum.at(apart, owner, delta_e_2000(np.concatenate(told), lab))
    known = np.array([not without_colour(bead) for bead in beads], bool)
    return [beads[at] for at in np.lexsort((apart, known))]  # of the keys the last one goes first


def _colours_of(bead: Bead) -> FloatArray:
    """Its colour, or those that its words name, shape (n, 3)."""
    if bead.lab is not None:
        return np.array([bead.lab])
    return labs_named_in(" ".join((bead.name, bead.id, bead.notes, *bead.extra.values())))


def without_colour(bead: Bead) -> bool:
    """Whether a heap's colour is simply filled in: there is none yet, or a first guess."""
    return bead.lab is None or bead.guessed


def row_named(held: Stock, name: PileName) -> Bead:
    """The row of a list that a line of names means.

    Raises
    ------
    StockError
        If there is none, or several, of which not just one is without a colour.
    """
    found = tuple(bead for bead in held.beads if bead.id.casefold() == name.id.casefold())
    found = found or held.lots(name.id)
    if name.lot:
        found = tuple(bead for bead in found if bead.lot.casefold() == name.lot.casefold())
        if not found:
            raise StockError(f"{held.path} has no lot {name.lot!r} of {name.id!r}")
    empty = [bead for bead in found if without_colour(bead)]
    if len(found) > 1 and len(empty) != 1:
        lots = ", ".join(f"{bead.id};;{bead.lot}" for bead in found)
        raise StockError(f"{held.path} has {name.id!r} in {len(found)} lots; write which is meant: {lots}")
    return empty[0] if len(found) > 1 else found[0]


def as_fills(tray: Tray, rows: Sequence[Bead | None], replace: Sequence[bool]) -> tuple[Fill, ...]:
    """The heaps' colours for rows of the list.

    Parameters
    ----------
    tray : Tray
    rows : sequence of Bead or None
        One for each pile; None leaves it out.
    replace : sequence of bool
        Whether the row's colour may be replaced, if it has one.

    Raises
    ------
    OptionError
        If two heaps are to be one row.
    """
    numbers: dict[int, int] = {}
    fills = []
    for pile, row, may in zip(tray.piles, rows, replace, strict=True):
        if row is None:
            continue
        if row.row in numbers:
            says = f"piles {numbers[row.row]} and {pile.number} are both to be {row.id!r}"
            raise OptionError(f"{says}; one tube has one colour")
        numbers[row.row] = pile.number
        fills.append(Fill(row, pile.lab, pile.uncertainty_de00, may))
    return tuple(fills)
