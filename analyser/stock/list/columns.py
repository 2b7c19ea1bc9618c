"""Columns that a write needs and a list may lack: added behind its last one, never in between."""

from __future__ import annotations

import re

from analyser.stock import words
from analyser.stock.list.splicing import Value
from analyser.stock.list.table import CellTable, is_blank, text_of

_HEADINGS = {"colour": "hex", "uncertainty": "uncertainty", "notes": "notes", "bought": "bought"}


class Columns:
    """The columns of a list by field, and those that are added to it.

    Attributes
    ----------
    added : list of str
        Headings of the columns that are added.
    changes : dict
        Their headings, as changes of the list.
    """

    def __init__(self, sheet: CellTable) -> None:
        self._sheet = sheet
        self._at = dict(sheet.columns)
        if holds_words(sheet):
            del self._at["colour"]  # words stay; measured colours go beside them
        self.added: list[str] = []
        self.changes: dict[tuple[int, int], Value] = {}

    def __contains__(self, field: str) -> bool:
        return field in self._at

    def __getitem__(self, field: str) -> int:
        return self._at[field]

    def need(self, field: str) -> int:
        """The column of a field, added where the list has none."""
        if field not in self._at:
            longest = max((len(cells) for _, cells in self._sheet.rows), default=0)
            at = max(longest, len(self._sheet.headings)) + len(self.added)
            heading = _HEADINGS[field]
            self._at[field] = at
            self.added.append(heading)
            self.changes[self._sheet.heading_row, at] = heading
        return self._at[field]


def holds_words(sheet: CellTable) -> bool:
    """Whether the column of colours holds words alone: it describes beads and measures none."""
    at = sheet.columns.get("colour")
    if at is None or words.plain(sheet.headings[at]).startswith(("hex", "lab", "rgb", "srgb")):
        return False
    held = [cells[at] for _, cells in sheet.rows if at < len(cells) and not is_blank(cells[at : at + 1])]
    return bool(held) and all(re.fullmatch(r"[^\W\d_][^\d#]*", text_of(cell)) for cell in held)
