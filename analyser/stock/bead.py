"""One bead of a maker's stock.

A row of the list is one lot of one bead: several lots are several ``Bead``. Lab always means CIE 1976
L*a*b*, D65, 2 degree observer.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from analyser.arrays import Lab
from analyser.stock import sizes
from analyser.stock.quantity import Amount, Cost, Quantity

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
    guessed : bool
        Whether ``lab`` is but a first guess: the fill of its cell, not a colour that was measured or written.
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
    guessed: bool = False

    @property
    def diameter_mm(self) -> float | None:
        """Across the hole: from the size table, or the mm of a larger bead; None where neither says."""
        if self.size and self.size.endswith("mm"):
            return float(self.size[:-2])
        known = sizes.of(self.shape, self.size)
        return known.diameter_mm if known else None

    @property
    def used_up(self) -> bool:
        """Whether the list says that nothing is left; a lot of unknown content is not used up."""
        return self.quantity is not None and self.quantity.amount == 0

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
        """What so many of these beads cost in ``cost.currency``, None where the list does not say.

        The price of a row as a whole is that of what the row holds; ``booking`` writes beside it what it
        was paid for before the first beads are taken out.
        """
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
        held = self.amount()
        if held is None or not held.likely:
            return None
        return self.cost.amount * beads * held_q.amount / (held.likely * per_amount)
