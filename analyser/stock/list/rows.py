"""Rows of a stock list become beads, or faults with row, column, value and mend.

A decimal sign is never guessed: a column that shows its own rules, else the other columns of the list,
else a number that can be read two ways is a fault.
"""

from __future__ import annotations

import dataclasses
import datetime
import math
import re
from collections.abc import Callable
from functools import partial
from typing import TypeVar

import numpy as np

from analyser.arrays import Lab
from analyser.colour.spaces import srgb_to_lab
from analyser.stock import units, words
from analyser.stock.bead import Bead
from analyser.stock.list.decimals import NUMBERS, Decimals
from analyser.stock.list.no_beads import has_section_headings, no_bead, passed_over
from analyser.stock.list.table import Cell, CellTable
from analyser.stock.quantity import Cost, Quantity, Unit
from analyser.stock.stock import Fault
from analyser.stock.words import UnclearError

T = TypeVar("T")

_YES = {"yes", "y", "true", "x", "1", "ja", "oui", "si", "dyed"}
_HEX = re.compile(r"#?([0-9A-Fa-f]{6})|#([0-9A-Fa-f]{3})")
_MANGLED = re.compile(r"\d(?:[.,]\d+)?[eE]\+?\d+")
_CONTROLS = dict.fromkeys([*range(9), 11, 12, *range(14, 32), 127])
_TEXT_AGAIN = "format the column as text and type it again"


def text_of(cell: Cell) -> str:
    """What a cell shows."""
    if cell is None:
        return ""
    if isinstance(cell, bool):
        return "yes" if cell else "no"
    if isinstance(cell, float):
        return str(int(cell)) if cell.is_integer() and abs(cell) < 1e15 else repr(cell)
    return str(cell).translate(_CONTROLS).strip()


def read_rows(sheet: CellTable) -> tuple[list[Bead], list[Fault], list[str]]:
    """Beads, faults in the order of the rows, and the rules that the list itself gave."""
    reader = _RowReader(sheet)
    beads: list[Bead] = []
    hexes: list[str] = []
    seen: dict[tuple[str, str | None, str, str], int] = {}
    passed: dict[str, list[int]] = {}
    texts = [[text_of(cell) for cell in cells] for _, cells in sheet.rows]
    sections = has_section_headings(texts, len(sheet.columns))
    for (number, cells), shown in zip(sheet.rows, texts, strict=True):
        if kind := no_bead(sheet, shown, sections):
            passed.setdefault(kind, []).append(number)
            continue
        told_before = len(reader.faults)
        bead, hexed = reader.bead(number, cells)
        if bead is None:
            continue
        key = identity(bead)
        if key in seen:
            of_lot = f" of lot {bead.lot!r}" if bead.lot else ""
            says = f"{of_lot} stands in row {seen[key]} already".strip()
            reader.add(
                number, "id", bead.id, says, "give each lot its own row and lot number, or add the two up"
            )
            reader.leave_out(told_before)
            continue
        seen[key] = number
        beads.append(bead)
        hexes.append(hexed)
    return (
        _fill_colours(beads, hexes),
        sorted(reader.faults, key=lambda fault: fault.row),
        [*reader.notes, *reader.decimals.rules(), *passed_over(passed)],
    )


def identity(bead: Bead) -> tuple[str, str | None, str, str]:
    """What tells one row from another: id, size, shape and lot."""
    return bead.id.casefold(), bead.size, bead.shape, bead.lot.casefold()


def _fill_colours(beads: list[Bead], hexes: list[str]) -> list[Bead]:
    """Give the beads their colours that were written as hex, all in one conversion."""
    at = [index for index, digits in enumerate(hexes) if digits]
    if at:
        srgb_u8 = np.frombuffer(bytes.fromhex("".join(hexes[index] for index in at)), dtype=np.uint8)
        for index, lab in zip(at, srgb_to_lab(srgb_u8.reshape(-1, 3) / 255.0).tolist(), strict=True):
            beads[index] = dataclasses.replace(beads[index], lab=tuple(lab))
    return beads


class _RowReader:
    """Reads the rows of one sheet and gathers their faults."""

    def __init__(self, sheet: CellTable) -> None:
        self.sheet = sheet
        self.columns = dict(sheet.columns)
        self.faults: list[Fault] = list(sheet.faults)
        self.notes: list[str] = []
        self._without_words()
        known = set(self.columns.values())
        self.others = [(at, text) for at, text in enumerate(sheet.headings) if at not in known and text]
        self.decimals = Decimals(sheet, self.columns)
        self.number, self.cells, self.whole = 0, (), True  # type: tuple[int, tuple[Cell, ...], bool]

    def _without_words(self) -> None:
        """A column of colours that holds words alone describes beads; it measures none."""
        at = self.columns.get("colour")
        if at is None or words.plain(self.sheet.headings[at]).startswith(("hex", "lab", "rgb", "srgb")):
            return
        texts = [text for _, cells in self.sheet.rows if at < len(cells) and (text := text_of(cells[at]))]
        if texts and all(re.fullmatch(r"[^\W\d_][^\d#]*", text) for text in texts):
            del self.columns["colour"]
            if "L" not in self.columns:
                heading = self.sheet.headings[at]
                self.notes.append(
                    f"column {heading!r} holds words, not measured colours: nothing can be matched"
                )

    def sign(self, field: str, text: str) -> str:
        return self.decimals.sign(field, text)

    def heading(self, field: str) -> str:
        at = self.columns.get(field)
        return "" if at is None else self.sheet.headings[at]

    def add(self, row: int, field: str, value: str, says: str, mend: str, *, used: bool = False) -> None:
        self.faults.append(Fault(row, self.heading(field), value, says, mend, used))

    def cell(self, field: str) -> Cell:
        at = self.columns.get(field, -1)
        return self.cells[at] if 0 <= at < len(self.cells) else None

    def text(self, field: str) -> str:
        return text_of(self.cell(field))

    def take(self, field: str, parse: Callable[[Cell], T], nothing: T) -> T:
        """What a cell holds; ``nothing`` where it is empty, or a fault that is noted."""
        cell = self.cell(field)
        if cell is None or (isinstance(cell, str) and cell.strip() in units.UNKNOWN):
            return nothing
        try:
            if isinstance(cell, datetime.date | datetime.time | datetime.timedelta):
                raise UnclearError(text_of(cell), _date_says(cell), _TEXT_AGAIN)
            return parse(cell)
        except UnclearError as fault:
            shown, says, mend = text_of(cell), fault.says, fault.mend
            if field in NUMBERS and units.looks_like_date(shown) and isinstance(cell, str):
                says, mend = "looks like a date that a spreadsheet made of a number", _TEXT_AGAIN
            if shown.startswith("="):
                says, mend = (
                    "is a formula without a stored result",
                    "open the list in its program and save it",
                )
            used = field not in ("L", "a", "b")  # two thirds of a colour are no colour
            self.add(self.number, field, shown, says, mend, used=used)
            self.whole &= used
            return nothing

    def amount(self, field: str) -> float | None:
        def parse(cell: Cell) -> float | None:
            if isinstance(cell, int | float):
                return units.checked_amount(float(cell), text_of(cell))
            return units.amount_of(text_of(cell), self.sign(field, text_of(cell)))

        return self.take(field, parse, None)

    def bead(self, number: int, cells: tuple[Cell, ...]) -> tuple[Bead | None, str]:
        """Bead of a row, None if it has faults, and the hex digits of its colour if it is written so."""
        self.number, self.cells, self.whole = number, cells, True
        told_before = len(self.faults)
        surplus = [text_of(cell) for cell in cells[len(self.sheet.headings) :] if text_of(cell)]
        if surplus and self.sheet.kind == "csv":
            width = len(self.sheet.headings)
            says = (
                f"stands beyond the last heading: the row has {len(cells)} cells, there are {width} headings"
            )
            mend = 'put a text or number that holds the divider in quotation marks ("1,5"), or add a heading'
            self.faults.append(Fault(number, "", surplus[0], says, mend))
            self.whole = False
        bead_id, name = self._names()
        finishes = self._finishes()
        shape, size = self._shape_and_size()
        hexed, lab = self._colour()
        bead = Bead(
            bead_id, name, size, finishes[0] if finishes else None, finishes, lab, shape, self._quantity(),
            self.amount("per_gram") or None, self.text("lot"), self.take("cost", self._cost, None),
            self.text("notes"), self.amount("uncertainty"), number,
            {heading: text_of(cells[at]) if at < len(cells) else "" for at, heading in self.others},
        )  # fmt: skip
        if self.whole:
            return bead, hexed
        self.leave_out(told_before)
        return None, hexed

    def leave_out(self, told_before: int) -> None:
        """Mark the faults told since then as those of a row that is left out."""
        self.faults[told_before:] = [dataclasses.replace(f, used=False) for f in self.faults[told_before:]]

    def _names(self) -> tuple[str, str]:
        bead_id, name = self.text("id"), self.text("name")
        if isinstance(self.cell("id"), str) and _MANGLED.fullmatch(bead_id):
            says = "is a number that a spreadsheet made of an id"
            self.add(self.number, "id", bead_id, says, _TEXT_AGAIN, used=True)
        if not bead_id and "id" in self.columns:
            mend = "give it an id of its own, or begin the row with '# ' if it is a remark"
            says = f"is no id for {name!r}: the name serves" if name else "is no id"
            self.add(self.number, "id", bead_id, says, mend, used=bool(name))
            self.whole &= bool(name)
        elif not bead_id and not name:
            self.add(self.number, "name", "", "is no name", "name the bead, or begin a remark with '# '")
            self.whole = False
        return bead_id or name, name or bead_id

    def _finishes(self) -> tuple[str, ...]:
        nothing: tuple[str, ...] = ()
        found = self.take("finish", lambda cell: words.finishes(text_of(cell)), nothing)
        if words.plain(self.text("dyed")) in _YES and "dyed" not in found:
            found = (*found, "dyed")
        return found

    def _shape_and_size(self) -> tuple[str, str | None]:
        in_mm = words.plain(self.heading("size")).endswith("mm")
        size = self.take("size", lambda cell: units.size(text_of(cell), bare_is_mm=in_mm), None)
        unread = len(self.faults)
        shape = self.take("shape", lambda cell: words.shape(text_of(cell)), "round")
        if len(self.faults) > unread:
            size = None  # 11/0 of a shape that is not known says neither width nor weight
        # Seed beads are named by N/0: a round bead given in mm is one of the larger ones, and the reverse.
        if size and shape in ("round", "large"):
            shape = "large" if size.endswith("mm") else "round"
        return shape, size

    def _colour(self) -> tuple[str, Lab | None]:
        """Hex digits, or Lab; both empty where the bead has not been measured."""
        if "L" in self.columns and any(self.text(part) for part in ("L", "a", "b")):
            read = [self.take(part, partial(self._lab_part, part), math.nan) for part in "Lab"]
            for part, value in zip("Lab", read, strict=True):
                if math.isnan(value) and not self.text(part):
                    self.add(
                        self.number, part, "", "is empty beside the others", "give all of L, a and b, or none"
                    )
                    self.whole = False
            return "", (read[0], read[1], read[2])
        nothing: tuple[str, Lab | None] = ("", None)
        return self.take("colour", self._colour_cell, nothing)

    def _lab_part(self, part: str, cell: Cell) -> float:
        shown = text_of(cell)
        if isinstance(cell, int | float):
            value = float(cell)
        else:
            # No L, a or b reaches 1000, so a comma before three digits can only be the decimal sign.
            sign = self.sign(part, shown) or ("," if "," in shown else ".")
            value = units.number(shown, sign)
        low, high = (0.0, 100.0) if part == "L" else (-200.0, 200.0)
        if not low <= value <= high:
            raise UnclearError(
                shown, f"is outside {low:g} to {high:g}", "write CIE Lab: L* 0 to 100, a* and b* about ±128"
            )
        return value

    def _colour_cell(self, cell: Cell) -> tuple[str, Lab | None]:
        shown = text_of(cell)
        mend = "write it as #rrggbb or lab:L,a,b, in a column formatted as text"
        if not isinstance(cell, str) and len(shown) != 6:
            raise UnclearError(shown, "is a number that a spreadsheet made of a hex colour", mend)
        found = _HEX.fullmatch(shown)
        if found:
            return found[1] or "".join(digit * 2 for digit in found[2]), None
        if _MANGLED.fullmatch(shown):
            raise UnclearError(shown, "is a number that a spreadsheet made of a hex colour", mend)
        lab = re.fullmatch(r"(?:cie)?lab\s*[:(]\s*(.+?)\)?", shown, re.IGNORECASE)
        if lab:
            divider = (
                ";" if ";" in lab[1] else r"\s+(?![;,])" if re.search(r"\d,\d+\s", lab[1]) else r"\s*,\s*|\s+"
            )
            parts = re.split(divider, lab[1].strip())
            if len(parts) == 3:
                at = [self._lab_part(name, part.strip()) for name, part in zip("Lab", parts, strict=True)]
                return "", (at[0], at[1], at[2])
        raise UnclearError(shown, "is not a colour", mend)

    def _quantity(self) -> Quantity | None:
        if self.text("gross"):
            gross, tare = self.amount("gross"), self.amount("tare")
            if gross is None or (tare is None and self.text("tare")):
                return None
            if tare is None and not self.text("quantity"):
                says = "is gross, and the tube's own weight is not given"
                mend = "weigh an empty tube: column tare"
                self.add(self.number, "gross", self.text("gross"), says, mend, used=True)
            if tare is not None:
                return self.take("gross", lambda cell: units.net(gross, tare, text_of(cell)), None)
        held = self.take("quantity", self._held, None)
        if held is None or held.unit in ("grams", "beads") or not self.text("contents"):
            return held
        each = self.take("contents", self._contents, None)
        if each is None:
            return held
        return dataclasses.replace(
            held, grams_each=each.grams_each, beads_each=each.beads_each, mm_each=each.mm_each
        )

    def _held(self, cell: Cell) -> Quantity | None:
        """Quantity of a row from its number and the unit beside it, in the heading, or in the same cell."""
        shown = text_of(cell)
        rest = self.sheet.rests.get("quantity", "")
        unit_text = self.text("unit") or rest or (words.heading_unit(self.heading("quantity"), rest) or "")
        if isinstance(cell, int | float) or re.fullmatch(rf"\s*[+\-−]?\s*{units.NUMBER}\s*", shown):
            if not isinstance(cell, int | float):
                count = units.amount_of(shown, self.sign("quantity", shown))
            else:
                count = units.checked_amount(float(cell), shown)
            if not unit_text and count == 0:
                return Quantity(0.0, "grams")  # none is none in any unit
            if not unit_text:
                raise UnclearError(
                    shown, "has no unit", "add a column unit: grams, beads, strands, hanks or tubes"
                )
            one = units.quantity(f"1 {unit_text}", decimal=self.sign("quantity", unit_text))
            return None if one is None else dataclasses.replace(one, amount=count * one.amount)
        unit: Unit | None = words.unit_of(unit_text)
        return units.quantity(shown, unit, self.sign("quantity", shown))

    def _contents(self, cell: Cell) -> Quantity | None:
        shown = text_of(cell)
        rest = self.sheet.rests.get("contents", "")
        sign = "." if isinstance(cell, int | float) else self.sign("contents", shown)
        bare = re.fullmatch(units.NUMBER, shown) is not None
        if bare and not rest:
            raise UnclearError(shown, "has no unit", "write what one holds: 8 g, 100 beads or 50 cm")
        return units.quantity(f"1 tube of {shown} {rest if bare else ''}", decimal=sign)

    def _cost(self, cell: Cell) -> Cost | None:
        shown = text_of(cell)
        heading, rest = self.heading("cost"), self.sheet.rests.get("cost", "")
        found = re.fullmatch(
            rf"([^\d.,\s+-]*)\s*([+\-−]?\s*{units.NUMBER})\s*([^\d\s/]*?)\s*(?:(?:per|pro|par|je|a|à|/)\s*(.+))?",
            shown, re.IGNORECASE,
        )  # fmt: skip
        if not found:
            raise UnclearError(shown, "is not a price", "write it as 4.50 or 4.50 per 10 g")
        sign = "." if isinstance(cell, int | float) else self.sign("cost", shown)
        value = units.amount_of(found[2], sign)
        symbol = re.search(r"[€$£¥]|(?i:\b(?:eur|usd|gbp|chf|cad|aud|sek|nok|dkk|pln)\b)", heading)
        currency = found[1] or found[3] or (symbol[0] if symbol else "")
        per = found[4] or rest.removeprefix("per ") if found[4] or rest.startswith("per ") else ""
        if not per:
            return Cost(value, currency)
        one = units.quantity(per if per[0].isdigit() else f"1 {per}", decimal=sign)
        return Cost(value, currency) if one is None else Cost(value, currency, one.amount, one.unit)


def _date_says(cell: datetime.date | datetime.time | datetime.timedelta) -> str:
    """That a date stands where none belongs, and which size it was if that can be told."""
    if isinstance(cell, datetime.date):
        for part in (cell.month, cell.day):
            if part in (6, 8, 10, 11, 13, 15):
                return f"is a date that a spreadsheet made of what was typed (perhaps {part}/0)"
    return "is a date or time that a spreadsheet made of what was typed"
