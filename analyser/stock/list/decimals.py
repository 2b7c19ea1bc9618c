"""The decimal sign of each column of numbers, learnt from the list itself.

``1,234`` may be a thousand and more, or a bit above one. A column whose other cells leave no doubt
(``2,5``) gives its rule; else the other columns of the list do, if they agree; else there is none.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from analyser.errors import quoted
from analyser.stock import units
from analyser.stock.list.table import CellTable

NUMBERS = ("L", "a", "b", "quantity", "contents", "gross", "tare", "per_gram", "cost", "uncertainty")
"""Fields that hold numbers."""

_WORDS = {",": "comma", ".": "point"}


@dataclass(frozen=True, slots=True)
class _Rule:
    sign: str
    heading: str
    cell: str
    row: int


class Decimals:
    """Decimal signs of one sheet; ``rules`` tells those that decided how a number was read."""

    def __init__(self, sheet: CellTable, columns: Mapping[str, int]) -> None:
        shown: dict[str, dict[str, _Rule]] = {}
        for field in NUMBERS:
            at = columns.get(field)
            if at is None:
                continue
            own = shown.setdefault(field, {})
            for number, cells in sheet.rows:
                cell = cells[at] if at < len(cells) else None
                if isinstance(cell, str) and ("," in cell or "." in cell):
                    sign = units.decimal_sign_shown(cell)
                    if sign and sign not in own:
                        own[sign] = _Rule(sign, sheet.headings[at], cell.strip(), number)
        together = {sign: rule for own in shown.values() for sign, rule in own.items()}
        self._rules = {
            field: next(iter(evidence.values()))
            for field, own in shown.items()
            if len(evidence := own or together) == 1
        }
        # Lists divided by semicolons mostly come from where the comma is the decimal sign: no rule then.
        semicolons = sheet.csv_text is not None and sheet.csv_text.delimiter == ";"
        self._point_by_default = not together and not semicolons
        every = {rule.sign for rule in self._rules.values()}
        self._written = every.pop() if len(every) == 1 else "," if semicolons and not every else "."
        self._headings = {field: sheet.headings[at] for field, at in columns.items()}
        self._used: set[str] = set()

    def sign(self, field: str, text: str) -> str:
        """The decimal sign to read a text of a column by, ``""`` where there is no rule."""
        rule = self._rules.get(field)
        if rule is not None:
            if units.can_be_two(text):
                self._used.add(field)
            return rule.sign
        return "." if self._point_by_default and "," not in text else ""

    def sign_to_write(self, field: str) -> str:
        """The decimal sign to write numbers of a column with: its own, else the list's."""
        rule = self._rules.get(field)
        return rule.sign if rule else self._written

    def rules(self) -> list[str]:
        """The rules that decided, in words."""
        told = []
        for field, rule in self._rules.items():
            if field in self._used:
                seen = f"as {quoted(rule.cell)} in row {rule.row} of {quoted(rule.heading)}"
                told.append(f"column {quoted(self._headings[field])}: decimal {_WORDS[rule.sign]}, {seen}")
        return told
