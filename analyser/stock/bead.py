"""One bead of a maker's stock, its quantity, and a fault in its row.

A row of the list is one lot of one bead: several lots are several ``Bead``. Lab always means CIE 1976
L*a*b*, D65, 2 degree observer.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal, NamedTuple

from analyser.arrays import Lab
from analyser.stock import sizes

FINISHES = (
    "galvanised",
    "metallic",
    "silver-lined",
    "colour-lined",
    "iridescent",
    "lustre",
    "matte",
    "transparent",
    "opaque",
    "dyed",
)
"""The finishes, the one that governs the look first: matte metallic reads as metallic."""

SHAPES = ("round", "cylinder", "large", "cube", "triangle", "hexagonal", "bugle", "drop")
"""``round`` and ``cylinder`` are seed beads; ``large`` is a larger bead given by its mm."""

Unit = Literal["grams", "beads", "strands", "hanks", "tubes"]
UNITS: tuple[Unit, ...] = ("grams", "beads", "strands", "hanks", "tubes")


class Amount(NamedTuple):
    """Beads in a lot: the fewest, the likely number and the most it can be."""

    low: int
    likely: int
    high: int


@dataclass(frozen=True, slots=True)
class Quantity:
    """How much of a lot there is, as the maker counts it.

    Attributes
    ----------
    amount : float
        Number of units, at least 0; net of the tare.
    unit : str
        ``grams``, ``beads``, ``strands``, ``hanks`` or ``tubes``.
    grams_each, beads_each, mm_each : float or None
        What one strand, hank or tube holds, in the terms the maker states it; None if not stated.
    gross_grams, tare_grams : float or None
        Set when the lot was weighed in its tube: ``amount`` is gross less tare.
    """

    amount: float
    unit: Unit
    grams_each: float | None = None
    beads_each: float | None = None
    mm_each: float | None = None
    gross_grams: float | None = None
    tare_grams: float | None = None

    @property
    def grams(self) -> float | None:
        """Net grams, None where neither the unit nor its contents say so."""
        if self.unit == "grams":
            return self.amount
        return None if self.grams_each is None else self.amount * self.grams_each

    def __str__(self) -> str:
        text = f"{self.amount:g} {self.unit if self.amount != 1 else self.unit[:-1]}"
        if self.grams_each is not None:
            text += f" of {self.grams_each:g} g"
        elif self.beads_each is not None:
            text += f" of {self.beads_each:g} beads"
        elif self.mm_each is not None:
            text += f" of {self.mm_each:g} mm"
        return text


@dataclass(frozen=True, slots=True)
class Cost:
    """What a lot cost.

    Attributes
    ----------
    amount : float
        In ``currency``, at least 0.
    currency : str
        As written, ``""`` if not.
    per_amount, per_unit : float and str, or None
        The price holds for so many of a unit (10 grams, 1 tube); None: for the row as a whole.
    """

    amount: float
    currency: str = ""
    per_amount: float | None = None
    per_unit: Unit | None = None


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
    """

    row: int
    column: str
    value: str
    says: str
    mend: str

    def __str__(self) -> str:
        place = f"row {self.row}" + (f", column {self.column!r}" if self.column else "")
        shown = self.value if len(self.value) <= 40 else self.value[:39] + "…"
        return f"{place}: {shown!r} {self.says}; {self.mend}"


@dataclass(frozen=True, slots=True)
class Bead:
    """One lot of one bead: a row of the list.

    Attributes
    ----------
    id, name : str
        As written; without a column of ids the name is the id, and the other way round.
    size : str or None
        ``"11/0"`` or ``"4mm"``.
    finish : str or None
        The one of ``FINISHES`` that governs the look.
    finishes : tuple of str
        All that are stated, in the order of ``FINISHES``: ``("metallic", "matte")``.
    lab : tuple of 3 float, or None
        Colour of a pile (L* in [0, 100]); None: not measured yet.
    shape : str
        One of ``SHAPES``.
    quantity : Quantity or None
        None: not stated.
    per_gram : float or None
        Beads to the gram as the maker counted them; beats the size table.
    lot, notes : str
        As written, ``""`` if nothing is.
    cost : Cost or None
        What it cost.
    uncertainty_de00 : float or None
        Stated uncertainty of ``lab`` in CIEDE2000.
    row : int
        Its row in the file, 1 the first.
    extra : mapping of str to str
        The maker's other columns by their headings.
    """

    id: str
    name: str
    size: str | None = None
    finish: str | None = None
    finishes: tuple[str, ...] = ()
    lab: Lab | None = None
    shape: str = "round"
    quantity: Quantity | None = None
    per_gram: float | None = None
    lot: str = ""
    cost: Cost | None = None
    notes: str = ""
    uncertainty_de00: float | None = None
    row: int = 0
    extra: Mapping[str, str] = field(default_factory=dict, hash=False)

    @property
    def diameter_mm(self) -> float | None:
        """Across the hole: from the size table, or the mm of a larger bead; None where neither says."""
        if self.size and self.size.endswith("mm"):
            return float(self.size[:-2])
        known = sizes.of(self.shape, self.size)
        return known.diameter_mm if known else None

    def per_gram_range(self) -> tuple[float, float, float] | None:
        """Beads to the gram, low, likely, high; the maker's own count stands within 3 %."""
        if self.per_gram is not None:
            # A maker counts one weighed gram or more: a bead or two, and the scale's last digit.
            return self.per_gram * 0.97, self.per_gram, self.per_gram * 1.03
        known = sizes.of(self.shape, self.size)
        return (known.per_gram_low, known.per_gram, known.per_gram_high) if known else None

    def amount(self) -> Amount | None:
        """Beads in this lot, None where it cannot be known (no quantity, or a tube of unknown contents)."""
        held = self.quantity
        if held is None:
            return None
        if held.unit == "beads":
            return Amount(int(held.amount), int(held.amount), int(held.amount))
        if held.beads_each is not None:
            each = int(held.amount * held.beads_each)
            return Amount(each, each, each)
        grams, rates = held.grams, self.per_gram_range()
        if grams is not None and rates is not None:
            low, likely, high = (int(grams * rate + 1e-9) for rate in rates)
            return Amount(low, likely, high)
        known = sizes.of(self.shape, self.size)
        if held.mm_each is not None and known is not None:
            inches = held.amount * held.mm_each / 25.4
            low, likely, high = (
                int(inches * rate + 1e-9)
                for rate in (known.per_inch_low, known.per_inch, known.per_inch_high)
            )
            return Amount(low, likely, high)
        return None

    def grams_of(self, beads: float) -> tuple[float, float, float] | None:
        """Weight in grams of so many of these beads, low, likely, high; None where no table has them."""
        rates = self.per_gram_range()
        return None if rates is None else (beads / rates[2], beads / rates[1], beads / rates[0])

    def cost_of(self, beads: float) -> float | None:
        """What so many of these beads cost in ``cost.currency``, None where the list does not say."""
        if self.cost is None:
            return None
        per_unit, per_amount = self.cost.per_unit, self.cost.per_amount
        if per_unit is None or per_amount is None:
            held = self.amount()
            return self.cost.amount * beads / held.likely if held and held.likely else None
        if per_unit == "beads":
            return self.cost.amount * beads / per_amount
        grams = self.grams_of(beads)
        if per_unit == "grams":
            return None if grams is None else self.cost.amount * grams[1] / per_amount
        held_q = self.quantity
        if held_q is None or held_q.unit != per_unit:
            return None
        if held_q.beads_each:
            return self.cost.amount * beads / (held_q.beads_each * per_amount)
        if held_q.grams_each and grams is not None:
            return self.cost.amount * grams[1] / (held_q.grams_each * per_amount)
        return None
