"""What was and was not read of a stock list, in words: counts by kind, never a line for each row."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

from analyser.stock.list.fault_groups import grouped

if TYPE_CHECKING:
    from pathlib import Path

    from analyser.stock.list.agreed import Agreed, Question
    from analyser.stock.list.fault_groups import FaultGroup
    from analyser.stock.stock import Fault, Stock

_KINDS = 4
"""Kinds of fault that are named; a list of one hundred faults has few kinds, and the others are counted."""

_FIELD_NAMES = {
    "quantity": "amount",
    "size": "size",
    "finish": "finish",
    "shape": "shape",
    "unit": "unit",
    "cost": "price",
}


def told(stock: Stock) -> list[str]:
    """How a list was read: rows used and left out, what was not asked, rules it gave itself."""
    return [
        *filter(None, [rows_used(stock)]),
        *(assumed(one, stock.path) for one in stock.questions),
        *stock.notes,
    ]


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


def rows_in_short(stock: Stock) -> str:
    """The same in one short line, without the kinds."""
    if not stock.left_out and not stock.unread:
        return ""
    parts = [f"{stock.path.name}: {len(stock.beads)} row{'s' * (len(stock.beads) != 1)} used"]
    if stock.unread:
        parts.append(f"{len({fault.row for fault in stock.unread})} of them in part")
    if stock.left_out:
        parts.append(f"{len({fault.row for fault in stock.left_out})} left out")
    return f"{', '.join(parts)}; see: analyser stock check {stock.path}"


def question(one: Question) -> str:
    """What is asked of a list, once."""
    shown = ", ".join(one.shown) + (", …" if one.cells > len(one.shown) else "")
    return {
        "sheet": f"{one.cells} sheets can be your list ({shown}). Which one is it?",
        "unit": f"{_amounts(one.cells)} without a unit ({shown}). What do these numbers count?",
        "dates": f"{_sizes(one.cells)} ({shown}). {'Are they' if one.cells > 1 else 'Is it'} meant so?",
        "fills": f"{_painted(one.cells)} ({shown}). Is the fill a first guess of the bead's colour?",
    }[one.kind]


def choice(kind: str, value: str | bool) -> str:
    """An answer to a question, as a button says it."""
    if kind == "fills":
        return "yes, as a first guess" if value else "no"
    if kind == "dates":
        return "yes" if value == "sizes" else "no"
    return "not known" if value == "unknown" else str(value)


def assumed(one: Question, path: Path) -> str:
    """What is taken while nobody has said otherwise, and how to say it."""
    safe, example = {
        "sheet": (f"{one.cells} sheets can be the list: {one.shown[0]!r} is read", f"sheet={one.shown[-1]}"),
        "unit": (f"{_amounts(one.cells)} without a unit: how much there is is not known", "unit=grams"),
        "dates": (f"{_sizes(one.cells)}: the size is not known", "dates=sizes"),
        "fills": (f"{_painted(one.cells)}: not taken for the bead's colour", "fills=true"),
    }[one.kind]
    return f"{safe}; say otherwise by: analyser stock check {path} --take {example}"


def agreed(held: Agreed) -> list[str]:
    """How a list is read by what its maker said."""
    return [says for _, says in agreed_by_kind(held)]


def agreed_by_kind(held: Agreed) -> list[tuple[str, str]]:
    """How a list is read by what its maker said, each with its kind, or FIELD:WORD."""
    said = []
    if held.sheet is not None:
        said.append(("sheet", f"the list is the sheet {held.sheet!r}"))
    if held.unit is not None:
        unit = "say nothing" if held.unit == "unknown" else f"are {held.unit}"
        said.append(("unit", f"numbers without a unit {unit}"))
    if held.dates is not None:
        read = "are the sizes they were typed as" if held.dates == "sizes" else "are no sizes"
        said.append(("dates", f"dates among the sizes {read}"))
    if held.fills is not None:
        is_guess = "a first guess of" if held.fills else "not"
        said.append(("fills", f"cells' fill colours are {is_guess} the beads' colours"))
    for field, words in held.words.items():
        for word, text in words.items():
            said.append((f"{field}:{word}", f"{_FIELD_NAMES[field]} {word!r} is read as {text!r}"))
    return said


def columns_added(headings: Sequence[str]) -> str:
    """Which columns a list is given when a colour is written in it, said before."""
    named = " and ".join(repr(heading) for heading in headings)
    plural = len(headings) != 1
    return (
        f"the list has no column{'s' * plural} {named}: {'they are' if plural else 'it is'} added behind the "
        "last one, for the colours and how sure they are"
    )


def kept_in(file: Path, path: Path) -> str:
    """Where answers about a list are kept, and how they are changed."""
    return f"kept in {file}; seen and changed by: analyser stock check {path} --take unit=grams, and so on"


def group(one: FaultGroup) -> str:
    """Faults of one kind in a line: how many, where, what."""
    rows = f"row{'s' * (len(one.rows) > 1)} {', '.join(map(str, one.rows[:6]))}" + ", …" * (len(one.rows) > 6)
    values = ", ".join(
        f"{value!r}" + (f" ({count})" if count > 1 else "") for value, count in one.values[:4] if value
    )
    values += ", …" * (len(one.values) > 4)
    shown = f": {values}" if values else ""
    out = "" if one.used else "; left out"
    return f"{len(one.rows)} x {one.column or 'the row'} {one.says}{shown} ({rows}{out})"


def mend_all(one: FaultGroup) -> list[str]:
    """What to give ``--take`` to mend all faults of a kind at once."""
    return [f"{key}={_EXAMPLES[key.partition(':')[0]]}" for key in one.takes]


_EXAMPLES = {
    "unit": "grams",
    "dates": "sizes",
    "finish": "lustre",
    "size": "11/0",
    "shape": "round",
    "quantity": "10 g",
    "cost": "0",
}


def _amounts(count: int) -> str:
    return f"{count} amount{'s' * (count != 1)} stand{'s' * (count == 1)}"


def _sizes(count: int) -> str:
    return f"{count} sizes have become dates" if count != 1 else "1 size has become a date"


def _painted(count: int) -> str:
    return f"{count} bead{'s' * (count != 1)} without a colour ha{'ve' if count != 1 else 's'} a painted cell"


def _kinds(faults: Iterable[Fault]) -> str:
    """Faults by column and kind, the most frequent first."""
    groups: Sequence[FaultGroup] = grouped(faults)
    parts = [f"{len(one.rows)} x {one.column or 'the row'} {one.says}" for one in groups[:_KINDS]]
    if others := sum(len(one.rows) for one in groups[_KINDS:]):
        parts.append(f"{others} other{'s' * (others != 1)}")
    return "; ".join(parts)
