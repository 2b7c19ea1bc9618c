"""Dates that a spreadsheet made of sizes: of 11/0 becomes November, shown as ``Nov 00`` or ``11. Nov``."""

from __future__ import annotations

import datetime
import re

from analyser.stock import units
from analyser.stock.list.table import Cell

_SIZES = (6, 8, 10, 11, 13, 15)
"""Of the sizes that are sold most those that can be a month or a day."""

_NAMES = (
    *("jan ene", "feb fev", "mar maerz", "apr avr abr", "may mai mei", "jun juin", "jul juil"),
    *("aug aou ago", "sep", "oct okt", "nov", "dec dez dic"),
)
_MONTHS = {word: number for number, names in enumerate(_NAMES, start=1) for word in names.split()}
"""Beginnings of the months' names in a few languages."""


def is_date(cell: Cell) -> bool:
    """Whether a cell holds a date, as a value or as a text of one."""
    if isinstance(cell, datetime.date | datetime.time | datetime.timedelta):
        return True
    return isinstance(cell, str) and units.looks_like_date(cell)


def size_of(cell: Cell) -> str | None:
    """The size that a date was typed as, None where none of its numbers is one.

    The month comes first: of ``11/0`` a spreadsheet makes the first of November 2000.

    Examples
    --------
    >>> size_of("Nov 00"), size_of("01.08.2000"), size_of(datetime.date(2026, 3, 4)), size_of("11. Nov")
    ('11/0', '8/0', None, '11/0')
    """
    if isinstance(cell, datetime.date):
        numbers = [cell.month, cell.day]
    elif isinstance(cell, str):
        months = [_MONTHS[word] for word in re.findall(r"[a-z]+", _bare(cell)) if word in _MONTHS]
        short = [int(text) for text in re.findall(r"(?<!\d)\d{1,2}(?!\d)", cell)]
        # Of 01.08.2000 and 8/1/2000 alike: the number that is a size.
        numbers = [*months, *short]
    else:
        return None
    return next((f"{number}/0" for number in numbers if number in _SIZES), None)


def says_of(cell: datetime.date | datetime.time | datetime.timedelta) -> str:
    """That a date stands where none belongs, and which size it was if that can be told."""
    size = size_of(cell) if isinstance(cell, datetime.date) else None
    if size:
        return f"is a date that a spreadsheet made of what was typed (perhaps {size})"
    return "is a date or time that a spreadsheet made of what was typed"


def _bare(text: str) -> str:
    """Month names by their beginnings: ``November`` as ``nov``."""
    plain = text.casefold().replace("é", "e").replace("û", "u").replace("ä", "ae")
    return re.sub(r"[a-z]+", lambda word: _beginning(word[0]), plain)


def _beginning(word: str) -> str:
    return next((known for known in sorted(_MONTHS, key=len, reverse=True) if word.startswith(known)), word)
