"""A bead's colour as a list writes it: hex, Lab in one cell, Lab in three; and where two of them disagree."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import replace

from analyser.arrays import Lab
from analyser.colour.codes import hex_to_lab
from analyser.stock import units
from analyser.stock.bead import Bead
from analyser.stock.list.table import Cell
from analyser.stock.words import UnclearError

HEX = re.compile(r"#?([0-9A-Fa-f]{6})|#([0-9A-Fa-f]{3})")
MANGLED = re.compile(r"\d(?:[.,]\d+)?[eE]\+?\d+")
"""A number that a spreadsheet made of an id or a hex colour."""

_ROUNDING_DE00 = 2.0
"""CIEDE2000 that rounding explains: Lab to whole numbers and hex to eight bits come to 1.5 at most, of
100,000 colours drawn evenly from sRGB."""

_MEND = "write it as #rrggbb or lab:L,a,b, in a column formatted as text"


def lab_part(part: str, cell: Cell, shown: str, sign: str) -> float:
    """One of L, a and b.

    Parameters
    ----------
    part : str
        Which.
    cell, shown
        What stands there, and as text.
    sign : str
        The list's decimal sign, ``""`` where it is not known.

    Raises
    ------
    UnclearError
        If it is no number, or out of range.
    """
    if isinstance(cell, int | float):
        value = float(cell)
    else:
        # No L, a or b reaches 1000, so a comma before three digits can only be the decimal sign.
        value = units.number(shown, sign or ("," if "," in shown else "."))
    low, high = (0.0, 100.0) if part == "L" else (-200.0, 200.0)
    if not low <= value <= high:
        raise UnclearError(
            shown, f"is outside {low:g} to {high:g}", "write CIE Lab: L* 0 to 100, a* and b* about ±128"
        )
    return value


def one_cell(cell: Cell, shown: str, sign: Callable[[str, str], str]) -> tuple[str, Lab | None]:
    """A colour in one cell: hex digits, or Lab.

    Raises
    ------
    UnclearError
        If it is none.
    """
    if not isinstance(cell, str) and len(shown) != 6:
        raise UnclearError(shown, "is a number that a spreadsheet made of a hex colour", _MEND)
    if digits := hex_digits(shown):
        return digits, None
    if MANGLED.fullmatch(shown):
        raise UnclearError(shown, "is a number that a spreadsheet made of a hex colour", _MEND)
    lab = re.fullmatch(r"(?:cie)?lab\s*[:(]\s*(.+?)\)?", shown, re.IGNORECASE)
    if lab:
        divider = (
            ";" if ";" in lab[1] else r"\s+(?![;,])" if re.search(r"\d,\d+\s", lab[1]) else r"\s*,\s*|\s+"
        )
        parts = [part.strip() for part in re.split(divider, lab[1].strip())]
        if len(parts) == 3:
            at = [
                lab_part(name, part, part, sign(name, part)) for name, part in zip("Lab", parts, strict=True)
            ]
            return "", (at[0], at[1], at[2])
    raise UnclearError(shown, "is not a colour", _MEND)


def hex_digits(text: str) -> str:
    """The six hex digits of a colour, empty where it is none.

    >>> hex_digits("#abc"), hex_digits("102030"), hex_digits("teal")
    ('aabbcc', '102030', '')
    """
    found = HEX.fullmatch(text)
    return (found[1] or "".join(digit * 2 for digit in found[2])) if found else ""


def with_hexes(beads: Sequence[Bead], digits: Sequence[str]) -> list[Bead]:
    """The beads with those colours that were written as hex."""
    return [
        replace(bead, lab=hex_to_lab(text)) if text else bead
        for bead, text in zip(beads, digits, strict=True)
    ]


def apart(digits: str, lab: Lab) -> float:
    """By how much a hex and the Lab beside it contradict each other, in CIEDE2000; 0 where they do not.

    Rounding explains a little, and where Lab lies outside what sRGB holds its nearest hex is another colour:
    by twice that, because a program may cut it off instead of looking for the nearest.

    Examples
    --------
    >>> apart("ff0000", (53, 80, 67)), round(apart("ff0000", (33, 80, 67)))
    (0.0, 19)
    """
    from analyser.colour.difference import delta_e_2000
    from analyser.colour.gamut import lab_to_hex

    nearest, in_srgb = lab_to_hex(lab)
    explained = 0.0 if in_srgb else 2 * float(delta_e_2000(hex_to_lab(nearest), lab))
    de00 = float(delta_e_2000(hex_to_lab(digits), lab))
    return 0.0 if de00 <= _ROUNDING_DE00 + explained else de00
