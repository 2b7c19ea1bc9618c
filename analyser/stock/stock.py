"""A stock list as read: its beads found by what the maker calls them, and what is wrong in its rows."""

from __future__ import annotations

import difflib
from dataclasses import dataclass, field
from pathlib import Path

from analyser.arrays import FloatArray
from analyser.errors import StockError, quoted
from analyser.stock import lots as dye_lots
from analyser.stock import units
from analyser.stock.bead import Bead
from analyser.stock.list.agreed import Agreed, Question
from analyser.stock.words import UnclearError


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing wrong in a stock list.

    Attributes
    ----------
    row : int
        As a spreadsheet numbers it: 1 is the first row of the file, headings and blanks counted.
    column : str
        The heading as written; ``""`` when the whole row is meant.
    value : str
        What stands there.
    says, mend : str
        What is wrong, and what to do.
    used : bool
        Whether the row is used all the same, without what cannot be read.
    field : str
        What the column holds, ``""`` where the whole row or a column of none is meant.
    """

    row: int
    column: str
    value: str
    says: str
    mend: str
    used: bool = False
    field: str = ""

    def __str__(self) -> str:
        place = f"row {self.row}" + (f", column {quoted(self.column)}" if self.column else "")
        return f"{place}: {quoted(self.value)} {self.says}; {self.mend}"


@dataclass(frozen=True, slots=True)
class Stock:
    """A stock list as read.

    Attributes
    ----------
    path : Path
        The file.
    beads : tuple of Bead
        Its rows in their order, one a lot.
    left_out : tuple of Fault
        Why rows were left out, when that was asked for; empty otherwise.
    unread : tuple of Fault
        What could not be read in rows that are used without it.
    notes : tuple of str
        Rules that the list itself gave, such as its decimal sign.
    agreed : Agreed
        How its maker said that it is read.
    questions : tuple of Question
        What is open until its maker says.
    """

    path: Path
    beads: tuple[Bead, ...]
    left_out: tuple[Fault, ...] = ()
    notes: tuple[str, ...] = ()
    unread: tuple[Fault, ...] = ()
    agreed: Agreed = field(default_factory=Agreed)
    questions: tuple[Question, ...] = ()

    @property
    def faults(self) -> tuple[Fault, ...]:
        """Every fault, in the order of the rows; in a row what leaves it out comes first."""
        return tuple(sorted((*self.left_out, *self.unread), key=lambda fault: fault.row))

    @property
    def coloured(self) -> tuple[Bead, ...]:
        """The beads whose colour is known: those that can be matched."""
        return tuple(bead for bead in self.beads if bead.lab is not None)

    @property
    def owned(self) -> tuple[Bead, ...]:
        """Of ``coloured`` those that are not used up: what can be offered as the maker's own."""
        return tuple(bead for bead in self.coloured if not bead.used_up)

    @property
    def labs(self) -> FloatArray:
        """Lab (D65, 2 degree) of ``coloured`` (not of ``beads``), shape (n, 3)."""
        import numpy as np

        return np.array([bead.lab for bead in self.coloured], dtype=np.float64).reshape(-1, 3)

    def lots(self, text: str) -> tuple[Bead, ...]:
        """All lots of one bead, in the list's order.

        Parameters
        ----------
        text : str
            An id, or a name that only one id has; capitals and double blanks do not matter. ``ID@LOT`` or
            ``ID@11/0`` picks by lot or size.

        Raises
        ------
        StockError
            If there is none, or the text fits several beads.
        """
        found = self._fitting(text)
        if not found and "@" in text:
            base, _, pick = text.rpartition("@")
            found = tuple(bead for bead in self._fitting(base) if _fits_pick(bead, pick))
        if not found:
            raise StockError(f"{self.path} has no bead {quoted(text)}{self._near(text)}")
        if len({bead.id.casefold() for bead in found}) > 1:
            ids = ", ".join(dict.fromkeys(bead.id for bead in found))
            raise StockError(f"{self.path}: {quoted(text)} is the name of several beads; give an id: {ids}")
        kinds = dict.fromkeys((bead.size, bead.shape) for bead in found)
        if len(kinds) > 1:
            sizes = ", ".join(f"{found[0].id}@{size}" for size, _ in kinds if size)
            raise StockError(
                f"{self.path}: {quoted(text)} is there in several sizes or shapes; pick one: {sizes}"
            )
        return found

    def find(self, text: str) -> Bead:
        """The bead with that id or unique name; of several lots the one of ``lots.largest``.

        Raises
        ------
        StockError
            As ``lots``.
        """
        return dye_lots.largest(self.lots(text))

    def _fitting(self, text: str) -> tuple[Bead, ...]:
        wanted = _fold(text)
        by_id = tuple(bead for bead in self.beads if _fold(bead.id) == wanted)
        return by_id or tuple(bead for bead in self.beads if _fold(bead.name) == wanted)

    def _near(self, text: str) -> str:
        known = {_fold(word): word for bead in self.beads for word in (bead.name, bead.id)}
        near = difflib.get_close_matches(_fold(text), known, 3, 0.6)
        if near:
            return f"; is {' or '.join(repr(known[word]) for word in near)} meant?"
        return "; the column of ids or names says what there is"


def _fold(text: str) -> str:
    return " ".join(text.split()).casefold()


def _fits_pick(bead: Bead, pick: str) -> bool:
    if _fold(bead.lot) == _fold(pick) or bead.shape == _fold(pick):
        return True
    try:
        return bead.size == units.size(pick)
    except UnclearError:
        return False
