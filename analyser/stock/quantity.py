"""How much of a lot there is, and what it cost."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, NamedTuple

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
