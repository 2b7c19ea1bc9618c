"""Beads added to the maker's list as rows, and colours given to rows that are there.

The doubt of a colour is written beside it, always; an old colour is kept in the notes.
"""

from __future__ import annotations

import dataclasses
import datetime
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from analyser.arrays import Lab
from analyser.colour.gamut import lab_to_hex
from analyser.errors import StockError, quoted
from analyser.stock import words
from analyser.stock.bead import Bead
from analyser.stock.list import opening
from analyser.stock.list import rows as stock_rows
from analyser.stock.list.columns import Columns
from analyser.stock.list.decimals import Decimals
from analyser.stock.list.splicing import Value, cell_at
from analyser.stock.list.table import CellTable, text_of
from analyser.stock.list.writing import Plan, Seen, number_text, rewrite
from analyser.stock.quantity import Quantity


@dataclass(frozen=True, slots=True)
class Written:
    """What was written.

    Attributes
    ----------
    path : Path
        The list.
    backup : Path or None
        The list as it was; None if it is new.
    added, replaced : tuple of str
        Ids of the rows added, and of those whose colour was replaced.
    left_out : tuple of str
        What had no column to go to, such as ``"finish"``.
    filled : tuple of str
        Ids of the rows that had no colour and have one now.
    columns : tuple of str
        Headings of the columns that were added.
    """

    path: Path
    backup: Path | None
    added: tuple[str, ...] = ()
    replaced: tuple[str, ...] = ()
    left_out: tuple[str, ...] = ()
    filled: tuple[str, ...] = ()
    columns: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Fill:
    """A colour for a row of the list.

    Attributes
    ----------
    row : Bead
        As read from the list.
    lab : tuple of 3 float
    uncertainty_de00 : float or None
    replace : bool
        Whether a colour it has may be replaced.
    """

    row: Bead
    lab: Lab
    uncertainty_de00: float | None
    replace: bool = False


class FurtherLotError(StockError):
    """A bead to add has the id of one in the list, of another lot or size: which is meant must be said."""

    kind = "further"

    def __init__(self, path: str | Path, bead: Bead, others: Sequence[Bead]) -> None:
        held = " and ".join(
            ", ".join(part for part in (row.size, row.lot and f"lot {row.lot}", f"row {row.row}") if part)
            for row in others[:3]
        )
        super().__init__(
            f"{quoted(bead.id)} is in {path} already, as {held}; say whether its colour is meant or a "
            "further lot"
        )


def append(
    path: str | Path,
    beads: Sequence[Bead],
    *,
    fills: Sequence[Fill] = (),
    replace_colours: bool = False,
    further: bool = True,
    today: datetime.date | None = None,
    seen: Seen | None = None,
) -> Written:
    """Add beads to a list as rows, and colours to rows that are there; a list that is not there is begun.

    The doubt of a colour is always written, in a column that is added where there is none.

    Parameters
    ----------
    path : str or Path
        CSV or XLSX.
    beads : sequence of Bead
        Their ``row`` does not matter. One that is in the list (same id and lot) without a colour gets it.
    fills : sequence of Fill
        Colours for rows of the list.
    replace_colours : bool
        For a bead that is in the list with a colour, replace it; the old one goes in the notes.
    further : bool
        Whether a bead whose id is in the list with another lot or size gets a row of its own.
    today : date, optional
        Written beside an old colour; default the present day.
    seen : callable, optional
        See ``Seen``.

    Raises
    ------
    FurtherLotError
        If ``further`` is false and an id is in the list with another lot or size.
    StockError
        If a bead is in the list with a colour and ``replace_colours`` is false, or it cannot be written. The
        list is then as it was.
    """
    day = today or datetime.date.today()
    done = _Done()

    def plan(sheet: CellTable) -> Plan:
        writer = _ColourWriter(sheet, day, done)
        known = stock_rows.read_rows(sheet).beads
        by_identity = {stock_rows.identity(row): row for row in known}
        for one in fills:
            row = by_identity.get(stock_rows.identity(one.row))
            if row is None:
                raise StockError(f"{quoted(one.row.id)} is not in {path} any more as it was seen; look again")
            writer.recolour(row, one.lab, one.uncertainty_de00, one.replace)
        for bead in beads:
            same = next((row for row in known if _same(row, bead)), None)
            if same is None:
                others = [row for row in known if row.id.casefold() == bead.id.casefold()]
                if others and not further:
                    raise FurtherLotError(path, bead, others)
                writer.add(bead)
                known.append(dataclasses.replace(bead, row=0))
            elif same.row == 0:
                raise StockError(f"{quoted(bead.id)} comes twice; choose another id or lot")
            elif bead.lab is not None:
                writer.recolour(same, bead.lab, bead.uncertainty_de00, replace_colours)
        return writer.changes | writer.columns.changes, writer.rows

    real, backup = rewrite(path, plan, begin=True, seen=seen)
    return done.written(real, backup)


@dataclass(frozen=True, slots=True)
class Merged:
    """What became of another list's beads.

    Attributes
    ----------
    written : Written or None
        None where there was nothing to write.
    known : tuple of str
        Ids that were in the list already, left as they are.
    """

    written: Written | None
    known: tuple[str, ...]


def merge(path: str | Path, beads: Sequence[Bead], *, seen: Seen | None = None) -> Merged:
    """Add the beads of another list that are not in this one; those without a colour here get theirs.

    Parameters
    ----------
    path : str or Path
        CSV or XLSX; begun where it is not there.
    beads : sequence of Bead
        Of the other list.
    seen : callable, optional
        See ``Seen``.

    Raises
    ------
    StockError
        If the list cannot be read or written; it is then as it was.
    """
    path = Path(path)
    mine = stock_rows.read_rows(opening.load(path)).beads if path.exists() else []
    by_identity = {stock_rows.identity(row): row for row in mine}
    fresh: list[Bead] = []
    fills: list[Fill] = []
    known: list[str] = []
    for bead in beads:
        row = by_identity.get(stock_rows.identity(bead))
        if row is None:
            fresh.append(bead)
        elif bead.lab is not None and not bead.guessed and (row.lab is None or row.guessed):
            fills.append(Fill(row, bead.lab, bead.uncertainty_de00))
        else:
            known.append(bead.id)
    written = append(path, fresh, fills=fills, seen=seen) if fresh or fills else None
    return Merged(written, tuple(known))


def columns_to_add(path: Path) -> list[str]:
    """Headings of the columns that a measured colour needs and the list has not.

    Raises
    ------
    StockError
        If the list cannot be read.
    """
    columns = Columns(opening.load(path))
    if "L" not in columns:
        columns.need("colour")
    columns.need("uncertainty")
    return columns.added


def _same(row: Bead, bead: Bead) -> bool:
    """Whether a bead to add is that row: same id and lot, and of no other size where it has one."""
    if row.id.casefold() != bead.id.casefold() or row.lot.casefold() != bead.lot.casefold():
        return False
    return bead.size is None or row.size is None or (row.size, row.shape) == (bead.size, bead.shape)


@dataclass
class _Done:
    """What a plan came to; planned anew it begins anew."""

    added: list[str] = field(default_factory=list)
    filled: list[str] = field(default_factory=list)
    replaced: list[str] = field(default_factory=list)
    missing: dict[str, None] = field(default_factory=dict)
    columns: list[str] = field(default_factory=list)

    def written(self, path: Path, backup: Path | None) -> Written:
        return Written(
            path,
            backup,
            tuple(self.added),
            tuple(self.replaced),
            tuple(self.missing),
            tuple(self.filled),
            tuple(self.columns),
        )


class _ColourWriter:
    """Rows and colours for one sheet."""

    def __init__(self, sheet: CellTable, day: datetime.date, done: _Done) -> None:
        self.sheet, self.day, self.done = sheet, day, done
        self.columns = Columns(sheet)
        self.decimals = Decimals(sheet, sheet.columns)
        self.changes: dict[tuple[int, int], Value] = {}
        self.rows: list[Mapping[int, Value]] = []
        done.columns = self.columns.added

    def add(self, bead: Bead) -> None:
        """A row for a bead."""
        colours = {} if bead.lab is None else self._colour(bead.lab, bead.uncertainty_de00)
        cells = _cells(bead, self.sheet, self.decimals, self.done.missing)
        by_column = {self.sheet.columns[name]: value for name, value in cells.items()}
        self.rows.append(by_column | colours | _others(bead, self.sheet))
        self.done.added.append(bead.id)

    def recolour(self, row: Bead, lab: Lab, doubt: float | None, replace: bool) -> None:
        """A colour for a row that is there; an old one is kept in its notes."""
        if row.lab is not None and not row.guessed and not replace:
            where = f"{self.sheet.path} already (row {row.row})"
            raise StockError(
                f"{quoted(row.id)} is in {where} and has a colour; choose another id or lot, or ask "
                "to replace its colour"
            )
        cells = self._colour(lab, doubt)
        old = _old_colour(row, self.sheet, self.columns)
        if old:
            at = self.columns.need("notes")
            cells[at] = f"{row.notes}; colour until {self.day}: {old}".removeprefix("; ")
        self.changes |= {(row.row, at): value for at, value in cells.items()}
        (self.done.replaced if row.lab is not None and not row.guessed else self.done.filled).append(row.id)

    def _colour(self, lab: Lab, doubt: float | None) -> dict[int, Value]:
        if "L" not in self.columns:
            self.columns.need("colour")
        cells: dict[int, Value] = {}
        if "L" in self.columns:
            for part, value in zip("Lab", lab, strict=True):
                cells[self.columns[part]] = _number(value, 2, part, self.sheet, self.decimals)
        if "colour" in self.columns:
            cells[self.columns["colour"]] = colour_text(lab)
        if doubt is not None:
            at = self.columns.need("uncertainty")
            cells[at] = _number(doubt, 2, "uncertainty", self.sheet, self.decimals)
        return cells


def colour_text(lab: Lab) -> str:
    """A colour as a list has it: hex is what other programs read; one it cannot hold is given whole."""
    hexed, in_srgb = lab_to_hex(lab)
    return hexed if in_srgb else "lab:{:.2f},{:.2f},{:.2f}".format(*lab)


def _old_colour(row: Bead, sheet: CellTable, columns: Columns) -> str:
    """What is to be kept of a row's old colour: the colour, or the word that stands in its cell."""
    if row.lab is not None and not row.guessed:
        return colour_text(row.lab)
    return text_of(cell_at(sheet, row.row, columns["colour"])) if "colour" in columns else ""


def _others(bead: Bead, sheet: CellTable) -> dict[int, Value]:
    taken = set(sheet.columns.values())
    return {
        at: bead.extra[heading]
        for at, heading in enumerate(sheet.headings)
        if at not in taken and heading in bead.extra
    }


def _number(value: float, places: int, field: str, sheet: CellTable, decimals: Decimals) -> Value:
    return (
        round(value, places)
        if sheet.kind == "xlsx"
        else number_text(value, places, decimals.sign_to_write(field))
    )


def _cells(bead: Bead, sheet: CellTable, decimals: Decimals, missing: dict[str, None]) -> dict[str, Value]:
    """Values of a new row by field; what the list has no column for is noted as missing."""
    cells: dict[str, Value] = {"id": bead.id, "name": bead.name, "lot": bead.lot, "notes": bead.notes}
    cells |= {
        "size": bead.size or "",
        "shape": bead.shape,
        "finish": " ".join(bead.finishes) or bead.finish or "",
    }
    if "size" in sheet.columns and words.plain(sheet.headings[sheet.columns["size"]]).endswith("mm"):
        cells["size"] = (bead.size or "").removesuffix("mm")
    if bead.per_gram is not None:
        cells["per_gram"] = _number(bead.per_gram, 1, "per_gram", sheet, decimals)
    if bead.cost is not None:
        amount = number_text(bead.cost.amount, 2, decimals.sign_to_write("cost"))
        per = "" if bead.cost.per_unit is None else f" per {bead.cost.per_amount:g} {bead.cost.per_unit}"
        cells["cost"] = f"{bead.cost.currency} {amount}{per}".strip()
    if bead.quantity is not None:
        cells |= _quantity_cells(bead.quantity, sheet, decimals)
    for name, value in cells.items():
        if (
            name not in sheet.columns
            and value not in ("", "round")
            and not (name == "name" and value == bead.id)
        ):
            missing[name] = None
    return {name: value for name, value in cells.items() if name in sheet.columns}


def _quantity_cells(held: Quantity, sheet: CellTable, decimals: Decimals) -> dict[str, Value]:
    sign = decimals.sign_to_write("quantity")
    holds = [(held.grams_each, "g"), (held.beads_each, "beads"), (held.mm_each, "mm")]
    of = next((f" of {number_text(each, 2, sign)} {what}" for each, what in holds if each is not None), "")
    amount = _number(held.amount, 2, "quantity", sheet, decimals)
    if (
        held.gross_grams is not None
        and held.tare_grams is not None
        and {"gross", "tare"} <= sheet.columns.keys()
    ):
        return {
            "gross": _number(held.gross_grams, 2, "gross", sheet, decimals),
            "tare": _number(held.tare_grams, 2, "tare", sheet, decimals),
        }
    if "unit" in sheet.columns:
        return {"quantity": amount, "unit": f"{held.unit}{of}"}
    heading = sheet.headings[sheet.columns["quantity"]] if "quantity" in sheet.columns else ""
    if not of and words.heading_unit(heading, sheet.rests.get("quantity", "")) == held.unit == "beads":
        return {"quantity": amount}
    return {"quantity": f"{number_text(held.amount, 2, sign)} {held.unit}{of}"}
