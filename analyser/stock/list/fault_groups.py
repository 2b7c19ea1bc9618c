"""Faults of a list by kind: how many cells share one, and what mends all of them at once."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass

from analyser.stock import units
from analyser.stock.list.agreed import WORD_FIELDS
from analyser.stock.stock import Fault

_WORD = re.compile(r"[^\W\d_]")


@dataclass(frozen=True, slots=True)
class FaultGroup:
    """Faults of one column that are of one kind.

    Attributes
    ----------
    column : str
        The heading as written; ``""`` where whole rows are meant.
    says, mend : str
        What is wrong with each, and what mends one.
    rows : tuple of int
    values : tuple of (str, int)
        What stands there and how often, the most frequent first.
    used : bool
        Whether the rows are used all the same.
    takes : tuple of str
        What could be agreed of the list to mend them all: ``"unit"``, ``"dates"``, or ``FIELD:WORD`` for each
        of the values that are words.
    """

    column: str
    says: str
    mend: str
    rows: tuple[int, ...]
    values: tuple[tuple[str, int], ...]
    used: bool
    takes: tuple[str, ...]


def grouped(faults: Iterable[Fault]) -> tuple[FaultGroup, ...]:
    """The faults by column and kind, the most frequent first."""
    found: dict[tuple[str, str, bool], list[Fault]] = {}
    for fault in faults:
        found.setdefault((fault.column, kind_of(fault.says), fault.used), []).append(fault)
    groups = [
        FaultGroup(
            column,
            says,
            of[0].mend if len({fault.mend for fault in of}) == 1 else "",
            tuple(fault.row for fault in of),
            tuple(Counter(fault.value for fault in of).most_common()),
            used,
            _takes(of),
        )
        for (column, says, used), of in found.items()
    ]
    return tuple(sorted(groups, key=lambda group: -len(group.rows)))


def kind_of(says: str) -> str:
    """A fault's words without the values in them: an unknown word is a kind with the other words."""
    words = re.sub(r"'[^']*'|\"[^\"]*\"", "…", says)
    return "can be read two ways" if re.match(r"can be [\d.,]+ or ", words) else words


def _takes(faults: list[Fault]) -> tuple[str, ...]:
    field = faults[0].field
    if not faults[0].used or field not in WORD_FIELDS:
        return ()
    if field == "quantity" and faults[0].says == "has no unit":
        return ("unit",)
    values = Counter(fault.value for fault in faults)
    if field == "size" and all(units.looks_like_date(value) for value in values):
        return ("dates",)
    words = [value for value, _ in values.most_common() if _WORD.search(value) and "=" not in value]
    return tuple(f"{field}:{word}" for word in words)
