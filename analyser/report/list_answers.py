"""What is said of a stock list, as JSON objects: faults, open questions, what its maker said."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from analyser.phrases import stock_lists
from analyser.report.answers import Answer, head
from analyser.stock.list.fault_groups import FaultGroup, grouped

if TYPE_CHECKING:
    from analyser.stock.list.agreed import Agreed, Question
    from analyser.stock.stock import Fault, Stock


def stock_check_answer(held: Stock, faults: Sequence[Fault]) -> Answer:
    """The answer of ``analyser stock check``: how many beads can be used, and every fault."""
    return {
        **head({}),
        "file": str(held.path),
        "beads": len(held.beads),
        "faults": [
            {"row": f.row, "column": f.column, "value": f.value, "says": f.says, "mend": f.mend}
            for f in faults
        ],
        "groups": [fault_group(one) for one in grouped(faults)],
        "questions": [open_question(one) for one in held.questions],
        "agreed": stock_lists.agreed(held.agreed),
        "notes": stock_notes(held),
    }


def fault_group(one: FaultGroup) -> Answer:
    """Faults of one kind, with what mends them all."""
    return {
        "column": one.column,
        "count": len(one.rows),
        "rows": list(one.rows),
        "values": [{"value": value, "count": count} for value, count in one.values],
        "used": one.used,
        "takes": list(one.takes),
        "mends": stock_lists.mend_all(one),
        "says": stock_lists.group(one),
        "mend": one.mend,
    }


def agreed_fields(agreed: Agreed) -> list[Answer]:
    """How a list is read by what its maker said, each with the key that changes it."""
    return [{"kind": kind, "says": says} for kind, says in stock_lists.agreed_by_kind(agreed)]


def open_question(one: Question) -> Answer:
    """What a list leaves open, with its answers."""
    return {
        "kind": one.kind,
        "cells": one.cells,
        "shown": list(one.shown),
        "says": stock_lists.question(one),
        "choices": [{"value": value, "says": stock_lists.choice(one.kind, value)} for value in one.choices],
    }


def stock_notes(stock: Stock) -> list[str]:
    """What was assumed or left out when the list was read."""
    return stock_lists.told(stock)
