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
from typing import NamedTuple, TypeVar

from analyser.arrays import Lab
from analyser.errors import quoted
from analyser.stock import units, words
from analyser.stock.bead import Bead
from analyser.stock.list import dates
from analyser.stock.list.colour_cells import (
    MANGLED,
    apart,
    hex_digits,
    lab_part,
    one_cell,
    with_hexes,
)
from analyser.stock.list.columns import holds_words
from analyser.stock.list.decimals import NUMBERS, Decimals
from analyser.stock.list.no_beads import has_section_headings, no_bead, passed_over
from analyser.stock.list.table import Cell, CellTable, text_of
from analyser.stock.quantity import Cost, Quantity, Unit
from analyser.stock.stock import Fault
from analyser.stock.words import NoUnitError, UnclearError

T = TypeVar("T")

_YES = {"yes", "y", "true", "x", "1", "ja", "oui", "si", "dyed"}
_FILL_DE00 = 10.0
"""Doubt of a colour that was picked by eye for a cell's fill; common practice, no source."""
_TEXT_AGAIN = "format the column as text and type it again"


class ReadRows(NamedTuple):
    """What the rows of a list hold.

    Attributes
    ----------
    beads : list of Bead
    faults : list of Fault
        In the order of the rows.
    notes : list of str
        Rules that the list itself gave.
    left_open : dict of str to list of str
        Of each kind of ``agreed.KINDS`` that nothing is agreed of, what stands in the cells it is about.
    """

    beads: list[Bead]
    faults: list[Fault]
    notes: list[str]
    left_open: dict[str, list[str]]


def read_rows(sheet: CellTable) -> ReadRows:
    """Read the rows of a list."""
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
        bead, hexed = reader.bead(number, cells)
        if bead is None:
            continue
        key = identity(bead)
        if key in seen:
            of_lot = f" of lot {quoted(bead.lot)}" if bead.lot else ""
            says = f"{of_lot} stands in row {seen[key]} already: taken as a lot of its own".strip()
            mend = "give each lot its own lot number, or add the two up in one row"
            reader.add(number, "id", bead.id, says, mend, used=True)
            # No bead is lost, and none is counted as of one lot with another: told apart by its row.
            bead = dataclasses.replace(
                bead, lot=", ".join(part for part in (bead.lot, f"row {number}") if part)
            )
        seen[identity(bead)] = number
        beads.append(bead)
        hexes.append(hexed)
    return ReadRows(
        with_hexes(beads, hexes),
        sorted(reader.faults, key=lambda fault: fault.row),
        [*reader.notes, *reader.decimals.rules(), *passed_over(passed)],
        reader.left_open,
    )


def identity(bead: Bead) -> tuple[str, str | None, str, str]:
    """What tells one row from another: id, size, shape and lot."""
    return bead.id.casefold(), bead.size, bead.shape, bead.lot.casefold()


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
        self.left_open: dict[str, list[str]] = {}

    def _without_words(self) -> None:
        """A column of colours that holds words alone describes beads; it measures none."""
        if holds_words(self.sheet):
            heading = self.heading("colour")
            del self.columns["colour"]
            if "L" not in self.columns:
                self.notes.append(
                    f"column {quoted(heading)} holds words, not measured colours: nothing can be matched"
                )

    def sign(self, field: str, text: str) -> str:
        return self.decimals.sign(field, text)

    def heading(self, field: str) -> str:
        at = self.columns.get(field)
        return "" if at is None else self.sheet.headings[at]

    def add(self, row: int, field: str, value: str, says: str, mend: str, *, used: bool = False) -> None:
        self.faults.append(Fault(row, self.heading(field), value, says, mend, used, field))

    def cell(self, field: str) -> Cell:
        """What stands in a row's cell of a field, words of the maker's own as they are agreed to be read."""
        at = self.columns.get(field, -1)
        cell = self.cells[at] if 0 <= at < len(self.cells) else None
        own = self.sheet.agreed.words.get(field)
        return own.get(text_of(cell).casefold(), cell) if own else cell

    def text(self, field: str) -> str:
        return text_of(self.cell(field))

    def take(self, field: str, parse: Callable[[Cell], T], nothing: T) -> T:
        """What a cell holds; ``nothing`` where it is empty, or a fault that is noted."""
        cell = self.cell(field)
        if cell is None or (isinstance(cell, str) and cell.strip() in units.UNKNOWN):
            return nothing
        try:
            if isinstance(cell, datetime.date | datetime.time | datetime.timedelta):
                raise UnclearError(text_of(cell), dates.says_of(cell), _TEXT_AGAIN)
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

    def leave_open(self, kind: str, shown: str) -> None:
        """Note a cell that is not read until its maker says how."""
        self.left_open.setdefault(kind, []).append(shown)

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
        painted = "" if hexed or lab else self._fill()
        doubt = self.amount("uncertainty")
        bead = Bead(
            bead_id, name, size, finishes[0] if finishes else None, finishes, lab, shape, self._quantity(),
            self.amount("per_gram") or None, self.text("lot"), self.take("cost", self._cost, None),
            self.text("notes"), _FILL_DE00 if painted else doubt, number,
            {heading: text_of(cells[at]) if at < len(cells) else "" for at, heading in self.others},
            bool(painted),
        )  # fmt: skip
        if self.whole:
            return bead, hexed or painted
        self.leave_out(told_before)
        return None, ""

    def leave_out(self, told_before: int) -> None:
        """Mark the faults told since then as those of a row that is left out."""
        self.faults[told_before:] = [dataclasses.replace(f, used=False) for f in self.faults[told_before:]]

    def _names(self) -> tuple[str, str]:
        bead_id, name = self.text("id"), self.text("name")
        if isinstance(self.cell("id"), str) and MANGLED.fullmatch(bead_id):
            says = "is a number that a spreadsheet made of an id"
            self.add(self.number, "id", bead_id, says, _TEXT_AGAIN, used=True)
        if not bead_id and "id" in self.columns:
            mend = "give it an id of its own, or begin the row with '# ' if it is a remark"
            says = f"is no id for {quoted(name)}: the name serves" if name else "is no id"
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
        meant = self._size_of_date()
        size = meant or self.take("size", lambda cell: units.size(text_of(cell), bare_is_mm=in_mm), None)
        unread = len(self.faults)
        shape = self.take("shape", lambda cell: words.shape(text_of(cell)), "round")
        if len(self.faults) > unread:
            size = None  # 11/0 of a shape that is not known says neither width nor weight
        # Seed beads are named by N/0: a round bead given in mm is one of the larger ones, and the reverse.
        if size and shape in ("round", "large"):
            shape = "large" if size.endswith("mm") else "round"
        return shape, size

    def _size_of_date(self) -> str | None:
        """The size that a date in its column was typed as, where that is agreed."""
        cell = self.cell("size")
        if not dates.is_date(cell) or (size := dates.size_of(cell)) is None:
            return None
        if self.sheet.agreed.dates is None:
            self.leave_open("dates", f"{text_of(cell).removesuffix(' 00:00:00')} → {size}")
        return size if self.sheet.agreed.dates == "sizes" else None

    def _fill(self) -> str:
        """Hex digits of the fill of a bead that has no colour, where that is agreed to be its colour."""
        digits = next(
            (
                self.sheet.fills[self.number, at]
                for at in self.columns.values()
                if (self.number, at) in self.sheet.fills
            ),
            "",
        )
        if digits and self.sheet.agreed.fills is None:
            self.leave_open("fills", f"#{digits}")
        return digits if self.sheet.agreed.fills else ""

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
            lab = read[0], read[1], read[2]
            self._check_hex_beside(lab)
            return "", lab
        nothing: tuple[str, Lab | None] = ("", None)
        return self.take("colour", lambda cell: one_cell(cell, text_of(cell), self.sign), nothing)

    def _lab_part(self, part: str, cell: Cell) -> float:
        return lab_part(part, cell, text_of(cell), self.sign(part, text_of(cell)))

    def _check_hex_beside(self, lab: Lab) -> None:
        """That a row's hex and Lab are one colour: which of two is meant cannot be told."""
        shown = self.text("colour")
        digits = hex_digits(shown)
        if not digits or any(map(math.isnan, lab)) or not (de00 := apart(digits, lab)):
            return
        told = ", ".join(f"{part:g}" for part in lab)
        says = f"is CIEDE2000 {de00:.0f} from the Lab {told} beside it: two colours of one bead"
        self.add(self.number, "colour", shown, says, "delete the wrong one of the two")
        self.whole = False

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
        agreed = self.sheet.agreed
        unit_text = self.text("unit") or rest or (words.heading_unit(self.heading("quantity"), rest) or "")
        unit_text = unit_text or agreed.known_unit or ""
        if isinstance(cell, int | float) or re.fullmatch(rf"\s*[+\-−]?\s*{units.NUMBER}\s*", shown):
            if not isinstance(cell, int | float):
                count = units.amount_of(shown, self.sign("quantity", shown))
            else:
                count = units.checked_amount(float(cell), shown)
            if not unit_text and count == 0:
                return Quantity(0.0, "grams")  # none is none in any unit
            if not unit_text and agreed.unit == "unknown":
                return None
            if not unit_text:
                self.leave_open("unit", shown)
                mend = "add a column unit: grams, beads, strands, hanks or tubes"
                raise NoUnitError(shown, "has no unit", mend)
            one = units.quantity(f"1 {unit_text}", decimal=self.sign("quantity", unit_text))
            return None if one is None else dataclasses.replace(one, amount=count * one.amount)
        unit: Unit | None = words.unit_of(unit_text)
        try:
            return units.quantity(shown, unit, self.sign("quantity", shown))
        except NoUnitError:
            if agreed.unit == "unknown":
                return None
            self.leave_open("unit", shown)
            raise

    def _contents(self, cell: Cell) -> Quantity | None:
        shown = text_of(cell)
        rest = self.sheet.rests.get("contents", "")
        sign = "." if isinstance(cell, int | float) else self.sign("contents", shown)
        bare = re.fullmatch(units.NUMBER, shown) is not None
        if bare and not rest:
            raise UnclearError(shown, "has no unit", "write what one holds: 8 g, 100 beads or 50 cm")
        return units.quantity(f"1 tube of {shown} {rest if bare else ''}", decimal=sign)

    def _bought(self, cell: Cell) -> Quantity | None:
        shown = text_of(cell)
        return units.quantity(shown, decimal=self.sign("quantity", shown))

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
            bought = self.take("bought", self._bought, None)
            if bought is None or not bought.amount:
                return Cost(value, currency)
            return Cost(value, currency, bought.amount, bought.unit)
        one = units.quantity(per if per[0].isdigit() else f"1 {per}", decimal=sign)
        return Cost(value, currency) if one is None else Cost(value, currency, one.amount, one.unit)
