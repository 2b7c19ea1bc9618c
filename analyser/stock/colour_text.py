"""A colour as the maker gives it: a code, Lab numbers, or a bead of the stock."""

from __future__ import annotations

import math
from dataclasses import dataclass

from analyser.arrays import Lab
from analyser.colour.codes import hex_to_lab
from analyser.errors import OptionError, StockError, quoted
from analyser.stock.bead import Bead
from analyser.stock.stock import Stock

_FORMS = "#rrggbb, lab:L,a,b or, with --stock, a bead's id or unique name"


@dataclass(frozen=True, slots=True)
class GivenColour:
    """A colour the maker named.

    Attributes
    ----------
    lab : tuple of 3 float
        Lab, D65, 2 degree observer.
    text : str
        As given.
    bead : Bead or None
        The bead it was named by.
    """

    lab: Lab
    text: str
    bead: Bead | None = None


def read_colour(text: str, stock: Stock | None = None) -> GivenColour:
    """Read ``#rrggbb``, ``rrggbb``, ``lab:L,a,b`` or, where a stock is given, a bead's id or unique name.

    Raises
    ------
    OptionError
        If it is none of these.
    StockError
        If the bead is not in the stock, or has no colour yet.
    """
    text = text.strip()
    if text.lower().startswith("lab:"):
        return GivenColour(_lab(text), text)
    if stock is not None:
        # A bead first: an id such as "101010" is the maker's own word, and wins over reading it as a code.
        try:
            bead = stock.find(text)
        except StockError:
            if not _is_hex(text):
                raise
        else:
            if bead.lab is None:
                raise StockError(
                    f"{stock.path}, row {bead.row}: {bead.id} has no colour yet; measure it from a tray photo"
                )
            return GivenColour(bead.lab, text, bead)
    if not _is_hex(text):
        raise OptionError(f"a colour is {_FORMS}; got {quoted(text)}")
    return GivenColour(hex_to_lab(text), text)


def _is_hex(text: str) -> bool:
    digits = text.removeprefix("#")
    return len(digits) == 6 and all(c in "0123456789abcdefABCDEF" for c in digits)


def _lab(text: str) -> Lab:
    try:
        lightness, a, b = (float(part) for part in text[4:].split(","))
    except ValueError as error:
        raise OptionError(
            f"lab:L,a,b takes three numbers, such as lab:52,40,-3; got {quoted(text)}"
        ) from error
    if not (0 <= lightness <= 100 and math.isfinite(a) and math.isfinite(b) and max(abs(a), abs(b)) <= 200):
        raise OptionError(f"lab:L,a,b takes L from 0 to 100 and a, b within 200; got {quoted(text)}")
    return lightness, a, b
