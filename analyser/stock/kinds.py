"""The kinds of bead a rope is made of: how large, how heavy.

Sources
-------
Seed beads: the table of ``sizes``. Larger beads: balls of soda-lime glass, 2.5 g/cm3, from memory.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from analyser.errors import OptionError
from analyser.stock import sizes
from analyser.stock.bead import Bead

_GLASS_G_MM3 = 0.0025


@dataclass(frozen=True, slots=True)
class BeadKind:
    """What counting needs to know of a role's bead.

    Attributes
    ----------
    size, shape : str
        ``"11/0"`` or ``"4mm"``; ``"round"``, ``"cylinder"`` ...
    diameter_mm, length_mm : float
        Across the hole and along it.
    per_gram : (float, float, float)
        Beads to the gram: low, likely, high.
    note : str
        How far the numbers can be trusted, where that needs saying; else empty.
    """

    size: str
    shape: str
    diameter_mm: float
    length_mm: float
    per_gram: tuple[float, float, float]
    note: str = ""

    def __str__(self) -> str:
        return f"{self.size} {self.shape}"


def kind_of(size: str, shape: str = "round", per_gram: tuple[float, float, float] | None = None) -> BeadKind:
    """The kind of a bead by its size and shape; ``per_gram`` is the maker's own count.

    Raises
    ------
    OptionError
        If neither the size table nor millimetres tell how large it is.

    Examples
    --------
    >>> kind_of("11/0").diameter_mm, kind_of("11/0", "cylinder").per_gram
    (2.1, (190.0, 200.0, 210.0))
    """
    row = sizes.of(shape, size) or sizes.of("round", size)
    if row:
        note = (
            ""
            if row.shape == shape
            else f"{size} {shape}: counted as round, for want of a table; gauge and weigh your own"
        )
        held = (row.per_gram_low, (row.per_gram_low + row.per_gram_high) / 2, row.per_gram_high)
        return BeadKind(size, shape, row.diameter_mm, row.length_mm, per_gram or held, note)
    if not size.endswith("mm"):
        known = ", ".join(name for kind, name in sizes.table() if kind == "round")
        raise OptionError(
            f"no bead size {size!r} in the table; known are {known}, or give millimetres such as 2.5mm"
        )
    diameter = float(size[:-2])
    # A ball of glass, a tenth of it hole; bead makers' finishes and holes move it by a fifth.
    likely = 1.0 / (0.9 * math.pi / 6.0 * diameter**3 * _GLASS_G_MM3)
    note = (
        ""
        if per_gram
        else f"{size}: beads to the gram reckoned for glass balls; count a weighed gram of your own"
    )
    return BeadKind(size, shape, diameter, diameter, per_gram or (likely * 0.8, likely, likely * 1.2), note)


def kind_of_bead(bead: Bead, size: str) -> BeadKind:
    """The kind of a bead of the stock; ``size`` stands in where its row has none."""
    return kind_of(bead.size or size, bead.shape, bead.per_gram_range() if bead.per_gram else None)
