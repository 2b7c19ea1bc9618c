"""Bead sizes: millimetres, beads to the gram and to the inch, from the trade's table.

The table (``data/bead-sizes.csv``) holds ranges: maker and finish move a count by 10 %. A gram that the
maker weighed and counted beats it.

Sources
-------
``data/bead-sizes.csv``: compiled from trade pages that agree within its ranges, or from memory, as its
last column says row by row. No standard exists: N/0 is a name, not a measure.
"""

from __future__ import annotations

import csv
from dataclasses import dataclass
from functools import cache
from pathlib import Path


@dataclass(frozen=True, slots=True)
class BeadSize:
    """One row of the size table.

    Attributes
    ----------
    shape : str
        ``"round"`` or ``"cylinder"``.
    size : str
        Such as ``"11/0"``.
    diameter_mm, diameter_low_mm, diameter_high_mm : float
        Across the hole's axis.
    length_mm : float
        Along the hole.
    hole_mm : float
        Diameter of the hole.
    per_gram_low, per_gram_high, per_inch_low, per_inch_high : float
        Beads to the gram, and to the inch when strung.
    status : str
        How well the row is known.
    """

    shape: str
    size: str
    diameter_mm: float
    diameter_low_mm: float
    diameter_high_mm: float
    length_mm: float
    hole_mm: float
    per_gram_low: float
    per_gram_high: float
    per_inch_low: float
    per_inch_high: float
    status: str

    @property
    def per_gram(self) -> float:
        """Likely beads to the gram: the middle of the range."""
        return (self.per_gram_low + self.per_gram_high) / 2

    @property
    def per_inch(self) -> float:
        """Likely beads to the inch: the middle of the range."""
        return (self.per_inch_low + self.per_inch_high) / 2


@cache
def table() -> dict[tuple[str, str], BeadSize]:
    """Return the whole size table by shape and size.

    Examples
    --------
    >>> table()["round", "11/0"].diameter_mm
    2.1
    """
    text = (Path(__file__).with_name("data") / "bead-sizes.csv").read_text(encoding="utf-8")
    rows = {}
    for row in csv.reader(text.splitlines()[1:]):
        a, b, c, d, e, f, g, h, i = map(float, row[2:11])
        rows[row[0], row[1]] = BeadSize(row[0], row[1], a, b, c, d, e, f, g, h, i, row[11])
    return rows


def of(shape: str, size: str | None) -> BeadSize | None:
    """Row of the size table for a bead, None where the table has none (beads in mm, rare sizes).

    Examples
    --------
    >>> of("cylinder", "11/0").per_gram
    200.0
    >>> of("round", "4mm") is None
    True
    """
    return table().get((shape, size)) if size else None
