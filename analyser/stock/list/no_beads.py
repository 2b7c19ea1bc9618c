"""Rows of a maker's list that hold no bead: section headings, sums, the headings once more."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence

from analyser.stock.list.table import CellTable

_SUM = re.compile(
    r"(?:(?:grand |sub)?totals?|totaal|(?:zwischen|gesamt)?summe|gesamt|sum|somme|suma)"
    r"\s*(?:all|beads|perlen|stock|g|grams?|gramm)?\s*[:=]?",
    re.IGNORECASE,
)
_COLUMNS_OF_A_TABLE = 3
_ROWS_NAMED = 6
"""Enough to look whether they were taken rightly."""


def has_section_headings(rows: Sequence[Sequence[str]], columns: int) -> bool:
    """Whether a cell alone in its row heads a section.

    In a list of names that are not described yet, or of few columns, it is all that is known of a bead.
    """
    alone = sum(sum(map(bool, texts)) == 1 for texts in rows)
    return columns >= _COLUMNS_OF_A_TABLE and 2 * alone < len(rows)


def no_bead(sheet: CellTable, texts: Sequence[str], sections: bool) -> str:
    """What a row is that holds no bead.

    Parameters
    ----------
    sheet : CellTable
        The list.
    texts : sequence of str
        The row's cells.
    sections : bool
        See ``has_section_headings``.

    Returns
    -------
    str
        ``"section heading"``, ``"sum"``, ``"headings again"``, or empty for a bead.
    """
    filled = [at for at, text in enumerate(texts) if text]
    held = {field for field, at in sheet.columns.items() if at in filled}
    if list(texts[: len(sheet.headings)]) == list(sheet.headings):
        return "headings again"
    named = next((texts[at] for at in filled if re.search(r"[^\W\d_]", texts[at])), "")
    # Of a bead at least its colour, size, lot or finish is known; a sum adds amounts and prices up.
    if held <= {"id", "name", "quantity", "unit", "cost", "gross", "tare"} and (
        _SUM.fullmatch(named) or (not held & {"id", "name"} and held & {"quantity", "cost"})
    ):
        return "sum"
    alone = sections and len(filled) == 1 and named and filled[0] in (0, *_naming(sheet))
    return "section heading" if alone else ""


def _naming(sheet: CellTable) -> list[int]:
    return [sheet.columns[field] for field in ("id", "name") if field in sheet.columns]


def passed_over(passed: Mapping[str, Sequence[int]]) -> list[str]:
    """Which rows were taken for no bead, so that the maker can see where that is wrong."""
    told = []
    for kind, numbers in passed.items():
        what = kind if len(numbers) == 1 or kind == "headings again" else f"{kind}s"
        rows = ", ".join(map(str, numbers[:_ROWS_NAMED])) + (", …" if len(numbers) > _ROWS_NAMED else "")
        told.append(f"{what} passed over: row{'s' * (len(numbers) > 1)} {rows}")
    return told
