"""The bead drawer: the maker's list searched and changed, every change with its way back.

The list on disk is the truth. Of every change made here the list as it was is kept, also between runs; an
undo is refused where the list was changed elsewhere since, because it would take that change with it.
"""

from __future__ import annotations

import contextlib
import hashlib
import threading
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

from analyser.errors import AnalyserError, StockError, quoted
from analyser.files import lock
from analyser.phrases import reckoning
from analyser.report import list_answers, pair_answers
from analyser.stock.bead import Bead
from analyser.stock.list import adding, agreed, backups, opening, splicing, stock_list, writing
from analyser.stock.list import booking as stock_booking
from analyser.stock.list import cells as stock_cells
from analyser.stock.list.adding import Fill, Written
from analyser.stock.list.fault_groups import grouped
from analyser.stock.list.table import CellTable, text_of
from analyser.stock.lots import sure_beads
from analyser.stock.stock import Stock
from analyser.web import shown
from analyser.web.undo_steps import UndoSteps

PAGE = 60

_NOTHING: dict[str, Any] = {
    "headings": [],
    "in_all": 0,
    "found": 0,
    "start": 0,
    "page": PAGE,
    "sizes": [],
    "finishes": [],
    "rows": [],
    "faults": [],
    "groups": [],
    "questions": [],
    "agreed": [],
    "writable": True,
}
"""A page of a list that is not begun yet."""


class ChangedError(AnalyserError):
    """The list is not as it was seen."""

    kind = "changed"


class Drawer:
    """One stock list and the way back through its changes.

    Parameters
    ----------
    path : Path
        CSV or XLSX; begun at the first bead added where there is none.
    folder : Path, optional
        Where the way back is kept between runs.
    """

    def __init__(self, path: Path, folder: Path | None = None) -> None:
        self.path = path
        self._steps = UndoSteps(path, folder)
        self._changing = threading.RLock()
        self._read: tuple[Any, CellTable, Stock] | None = None

    @property
    def undo_says(self) -> str | None:
        """What an undo would take back, None if nothing."""
        with self._changing:
            step = self._steps.last()
        return step.says if step else None

    def held(self) -> tuple[CellTable, Stock]:
        """The list as it stands now; read again only where the file changed.

        Raises
        ------
        StockError
            If it cannot be read.
        """
        with self._changing:
            key = opening.stamp(self.path)
            if self._read is None or self._read[0] != key or key[0] is None:
                sheet = opening.load(self.path)
                self._read = key, sheet, stock_list.read(self.path, skip_faulty=True)
            return self._read[1], self._read[2]

    def page(
        self, search: str, size: str, finish: str, sort: str, start: int, at_least: int = 0
    ) -> dict[str, Any]:
        """A page of the list: beads that hold every word searched for, in the order asked for.

        With ``at_least`` only lots that are sure to hold so many beads.
        """
        if not self.path.exists():
            return {**_NOTHING, "file": self.path.name, "undo": self.undo_says}
        sheet, held = self.held()
        words = search.casefold().split()
        found = [
            bead
            for bead in held.beads
            if (not size or bead.size == size)
            and (not finish or finish == bead.finish or finish in bead.finishes)
            and all(word in _words_of(bead) for word in words)
            and (not at_least or (sure_beads(bead) or 0) >= at_least)
        ]
        found = _sorted(found, sort)
        cells = dict(sheet.rows)
        return {
            "file": self.path.name,
            "headings": list(sheet.headings),
            "in_all": len(held.beads),
            "found": len(found),
            "start": start,
            "page": PAGE,
            "sizes": sorted({bead.size for bead in held.beads if bead.size}),
            "finishes": sorted({name for bead in held.beads for name in bead.finishes}),
            "rows": [_row(bead, sheet, cells) for bead in found[start : start + PAGE]],
            "faults": [
                {
                    "row": f.row,
                    "column": f.column,
                    "value": f.value,
                    "says": f.says + (" (the row is used without it)" if f.used else ""),
                    "mend": f.mend,
                }
                for f in (*held.left_out, *held.unread)
            ],
            "groups": [list_answers.fault_group(one) for one in grouped((*held.left_out, *held.unread))],
            "questions": [list_answers.open_question(one) for one in held.questions],
            "agreed": list_answers.agreed_fields(held.agreed),
            "writable": sheet.kind != "ods",
            "undo": self.undo_says,
        }

    def set_cell(self, row: int, column: str, was: str, value: str) -> None:
        """Change one cell of the list.

        Raises
        ------
        ChangedError
            If the cell does not hold what was seen, or is not there.
        StockError
            If the new value is a fault, or the list cannot be written.
        """

        def plan(sheet: CellTable) -> writing.Plan:
            if column not in sheet.headings or all(number != row for number, _ in sheet.rows):
                raise ChangedError(
                    f"row {row}, column {quoted(column)} is not in the list any more; look again"
                )
            index = sheet.headings.index(column)
            stands = text_of(splicing.cell_at(sheet, row, index))
            if stands != was:
                raise ChangedError(
                    f"row {row}, {column} was changed elsewhere to {quoted(stands)}; look again"
                )
            return stock_cells.changed(sheet, row, index, value)

        with self._step(f"{column} of row {row}: {_short(was)} became {_short(value)}") as seen:
            writing.rewrite(self.path, plan, seen=seen)

    def bring_in(self, beads: Sequence[Bead]) -> dict[str, Any]:
        """Add the beads of another list that are not in this one yet.

        Returns
        -------
        dict
            ``added``: ids; ``filled``: ids that had no colour and have the other list's now; ``known``: ids
            that are in the list already, left as they are; ``left_out``: columns this list does not have.
        """
        with self._step("another list brought in") as seen:
            merged = adding.merge(self.path, beads, seen=seen)
        done = merged.written or Written(self.path, None)
        return {
            "added": list(done.added),
            "filled": list(done.filled),
            "known": list(merged.known),
            "left_out": list(done.left_out),
        }

    def add(self, beads: Sequence[Bead], fills: Sequence[Fill] = (), *, further: bool = False) -> Written:
        """Add measured beads, and colours to beads that are there; a list that is not there yet is begun.

        Raises
        ------
        FurtherLotError
            If one is in the list with another size or lot, and ``further`` is false.
        StockError
            If one is in the list already, or it cannot be written; it is then as it was.
        """
        done = [
            f"{len(part)} bead{'s' * (len(part) != 1)} of a tray {what}"
            for part, what in ((beads, "added"), (fills, "given a colour"))
            if part
        ]
        with self._step(" and ".join(done)) as seen:
            return adding.append(self.path, beads, fills=fills, further=further, seen=seen)

    def row(self, number: int, bead_id: str) -> Bead:
        """The bead of a row, as it was seen.

        Raises
        ------
        ChangedError
            If another one stands there now.
        """
        beads = self.held()[1].beads if self.path.exists() else ()
        found = next((bead for bead in beads if bead.row == number and bead.id == bead_id), None)
        if found is None:
            raise ChangedError(f"{quoted(bead_id)} is not in row {number} of the list any more; look again")
        return found

    def agree(self, kind: str, value: str | bool | None) -> None:
        """Say how the list is read from now on; None forgets it.

        Raises
        ------
        OptionError
            If there is no such answer, or it cannot be kept.
        """
        with self._changing:
            opening.contents(self.path)
            agreed.keep(self.path, kind, value)
            self._read = None

    def book_out(self, takes: Sequence[tuple[Bead, int]], says: str | None = None) -> list[dict[str, Any]]:
        """Take beads out of their lots; ``says`` names the step for the way back.

        Raises
        ------
        StockError
            If a lot holds too few or its amount is not known; nothing is booked then.
        """
        names = " and ".join(bead.name for bead, _ in takes)
        with self._step(says or f"a piece of {names} booked out") as seen:
            booking = stock_booking.book_out(self.path, takes, seen=seen)
        return [
            {
                "id": line.id,
                "lot": line.lot or None,
                "beads": line.beads,
                "before": line.before,
                "after": line.after,
                "unit": line.unit or None,
                "says": reckoning.booked(line),
                "left": line.left.likely,
            }
            for line in booking.lines
        ]

    def undo(self) -> str:
        """Put the list back as it was before the last change made here; what was undone, in words.

        Raises
        ------
        ChangedError
            If there is nothing to undo, or the list was changed elsewhere since.
        """
        with self._changing:
            step = self._steps.last()
            if step is None:
                raise ChangedError("there is nothing to undo")
            real = self.path.resolve()
            with lock(real, error=StockError):  # nobody writes between the look and the way back
                if _digest(real.read_bytes() if real.exists() else None) != step.after:
                    raise ChangedError(
                        f"{self.path.name} was changed elsewhere since; undoing here would lose "
                        "that. Its earlier versions lie beside it as .bak"
                    )
                if step.before is None:
                    real.unlink()
                else:
                    backups.replace(real, step.before)
            self._steps.drop(step)
            self._read = None
            return step.says

    @contextlib.contextmanager
    def _step(self, says: str) -> Iterator[writing.Seen]:
        """Keep the way back of a change; what is yielded must see the list before and after it."""

        def seen(before: bytes | None, after: bytes) -> None:
            self._steps.add(says, before, _digest(after))

        with self._changing:
            yield seen
            self._read = None


def _digest(data: bytes | None) -> str:
    return "" if data is None else hashlib.sha256(data).hexdigest()


def _short(text: str) -> str:
    shown_text = text if len(text) <= 24 else text[:23] + "…"
    return f"“{shown_text}”" if shown_text else "nothing"


def _words_of(bead: Bead) -> str:
    parts = (bead.name, bead.id, bead.size, bead.shape, *bead.finishes, bead.lot, bead.notes)
    return " ".join([*(part for part in parts if part), *map(str, bead.extra.values())]).casefold()


def _likely(bead: Bead) -> int:
    amount = bead.amount()
    return 0 if amount is None else amount.likely


def _sorted(beads: list[Bead], sort: str) -> list[Bead]:
    if sort == "name":
        return sorted(beads, key=lambda bead: bead.name.casefold())
    if sort in ("light", "dark"):
        coloured = [bead for bead in beads if bead.lab is not None]
        without = [bead for bead in beads if bead.lab is None]
        return [*sorted(coloured, key=lambda bead: (bead.lab or (0,))[0], reverse=sort == "light"), *without]
    if sort in ("most", "least"):
        told = [bead for bead in beads if bead.amount() is not None]
        untold = [bead for bead in beads if bead.amount() is None]
        return [*sorted(told, key=_likely, reverse=sort == "most"), *untold]
    return beads


def _row(bead: Bead, sheet: CellTable, cells: dict[int, Any]) -> dict[str, Any]:
    amount = bead.amount()
    held = cells.get(bead.row, ())
    texts = [text_of(cell) for cell in held]
    texts += [""] * (len(sheet.headings) - len(texts))
    fields = {**pair_answers.bead_fields(bead), "row": bead.row, "cells": texts[: len(sheet.headings)]}
    fields["beads"] = None if amount is None else amount.likely
    fields["used_up"] = bead.used_up
    if bead.lab is not None:
        fields["css"] = shown.css_of(bead.lab)
    return fields
