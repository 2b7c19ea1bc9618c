"""The maker's stock list: read, checked, asked.

The list is the maker's own spreadsheet; what its columns may be called and hold is told in
``palettes/README.md``. It is written on by ``writing``.
"""

from __future__ import annotations

import difflib
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from analyser.arrays import FloatArray
from analyser.errors import StockError
from analyser.stock import lots as dye_lots
from analyser.stock import units
from analyser.stock.bead import FINISHES, SHAPES, UNITS, Amount, Bead, Cost, Fault, Quantity
from analyser.stock.list import cells, rows
from analyser.stock.words import UnclearError

__all__ = [
    "FINISHES",
    "SHAPES",
    "UNITS",
    "Amount",
    "Bead",
    "Cost",
    "Fault",
    "Quantity",
    "Stock",
    "check",
    "read",
]


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
    notes : tuple of str
        Rules that the list itself gave, such as its decimal sign.
    """

    path: Path
    beads: tuple[Bead, ...]
    left_out: tuple[Fault, ...] = ()
    notes: tuple[str, ...] = ()

    @property
    def coloured(self) -> tuple[Bead, ...]:
        """The beads whose colour is known: those that can be matched."""
        return tuple(bead for bead in self.beads if bead.lab is not None)

    @property
    def labs(self) -> FloatArray:
        """Lab (D65, 2 degree) of ``coloured`` (not of ``beads``), shape (n, 3)."""
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
            found = tuple(bead for bead in self._fitting(base) if _picked(bead, pick))
        if not found:
            raise StockError(f"{self.path} has no bead {text!r}{self._near(text)}")
        if len({bead.id.casefold() for bead in found}) > 1:
            ids = ", ".join(dict.fromkeys(bead.id for bead in found))
            raise StockError(f"{self.path}: {text!r} is the name of several beads; give an id: {ids}")
        kinds = dict.fromkeys((bead.size, bead.shape) for bead in found)
        if len(kinds) > 1:
            sizes = ", ".join(f"{found[0].id}@{size}" for size, _ in kinds if size)
            raise StockError(f"{self.path}: {text!r} is there in several sizes or shapes; pick one: {sizes}")
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
        wanted = _folded(text)
        by_id = tuple(bead for bead in self.beads if _folded(bead.id) == wanted)
        return by_id or tuple(bead for bead in self.beads if _folded(bead.name) == wanted)

    def _near(self, text: str) -> str:
        known = {_folded(word): word for bead in self.beads for word in (bead.name, bead.id)}
        near = difflib.get_close_matches(_folded(text), known, 3, 0.6)
        if near:
            return f"; is {' or '.join(repr(known[word]) for word in near)} meant?"
        return "; the column of ids or names says what there is"


def _folded(text: str) -> str:
    return " ".join(text.split()).casefold()


def _picked(bead: Bead, pick: str) -> bool:
    if _folded(bead.lot) == _folded(pick) or bead.shape == _folded(pick):
        return True
    try:
        return bead.size == units.size(pick)
    except UnclearError:
        return False


def read(path: str | Path, *, skip_faulty: bool = False) -> Stock:
    """Read a stock list (CSV, XLSX or ODS).

    Parameters
    ----------
    path : str or Path
        The file.
    skip_faulty : bool
        Leave rows with faults out, and say so in ``left_out``, instead of refusing the list.

    Raises
    ------
    StockError
        If the file is no stock list, or has faults and ``skip_faulty`` is false.
    """
    beads, faults, notes = _read(Path(path))
    if faults and not skip_faulty:
        count = "a fault" if len(faults) == 1 else f"{len(faults)} faults, the first"
        hint = f"all of it: analyser stock check {path}; without these rows: --skip-faulty"
        raise StockError(f"{path} has {count} in {faults[0]} ({hint})")
    return Stock(Path(path), tuple(beads), tuple(faults), tuple(notes))


def check(path: str | Path) -> tuple[Fault, ...]:
    """Every fault of a stock list, in the order of its rows; empty when it is sound.

    Raises
    ------
    StockError
        If the file is no stock list at all.
    """
    return tuple(_read(Path(path))[1])


def _read(path: Path) -> tuple[list[Bead], list[Fault], list[str]]:
    return rows.read_rows(cells.load(path))
