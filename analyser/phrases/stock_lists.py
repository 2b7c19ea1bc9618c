"""What was and was not read of a stock list, in words: counts by kind, never a line for each row."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from analyser.stock.stock import Fault, Stock

_KINDS = 4
"""Kinds of fault that are named; a list of one hundred faults has few kinds, and the others are counted."""


def rows_used(stock: Stock) -> str:
    """How many rows of a list are used, in part or left out, and why; empty where all are used wholly."""
    if not stock.left_out and not stock.unread:
        return ""
    parts = [f"{stock.path}: {len(stock.beads)} row{'s' * (len(stock.beads) != 1)} used"]
    if stock.unread:
        rows = len({fault.row for fault in stock.unread})
        parts.append(f"{rows} of them without what cannot be read ({_kinds(stock.unread)})")
    if stock.left_out:
        parts.append(f"{len({fault.row for fault in stock.left_out})} left out ({_kinds(stock.left_out)})")
    return f"{', '.join(parts)}; each is told by: analyser stock check {stock.path}"


def _kinds(faults: Iterable[Fault]) -> str:
    """Faults by column and kind, the most frequent first.

    What a fault says of its value is taken as its kind; an unknown word is a kind with the other words.
    """
    counted = Counter(f"{fault.column or 'the row'} {_kind(fault.says)}" for fault in faults)
    told = [f"{count} x {kind}" for kind, count in counted.most_common(_KINDS)]
    if (others := counted.total() - sum(count for _, count in counted.most_common(_KINDS))) > 0:
        told.append(f"{others} other{'s' * (others != 1)}")
    return "; ".join(told)


def _kind(says: str) -> str:
    """A fault's words without the values in them."""
    words = re.sub(r"'[^']*'|\"[^\"]*\"", "…", says)
    return "can be read two ways" if re.match(r"can be [\d.,]+ or ", words) else words
