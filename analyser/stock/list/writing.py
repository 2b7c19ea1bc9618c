"""Writing in the maker's list: beads added, colours replaced.

Every write is whole or not done, keeps a backup, and waits for other writers; a list behind a link is
written where it lies.
"""

from __future__ import annotations

import dataclasses
import datetime
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from analyser.arrays import Lab
from analyser.colour.gamut import lab_to_hex
from analyser.errors import StockError
from analyser.files import lock
from analyser.stock import units, words
from analyser.stock.bead import Bead
from analyser.stock.list import backups, opening
from analyser.stock.list import rows as stock_rows
from analyser.stock.list.decimals import Decimals
from analyser.stock.list.read_back import check_read_back
from analyser.stock.list.splicing import Changes, Value, splice
from analyser.stock.list.table import CellTable
from analyser.stock.quantity import Quantity

NEW_LIST = "id,name,size,shape,finish,hex,uncertainty,quantity,unit,lot,cost,notes\n"
"""Headings of a list that is begun."""

Plan = tuple[Changes, Sequence[Mapping[int, Value]]]
Seen = Callable[[bytes | None, bytes], None]
"""Told the list's bytes before and after a write, while nobody else can write it."""


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
    """

    path: Path
    backup: Path | None
    added: tuple[str, ...] = ()
    replaced: tuple[str, ...] = ()
    left_out: tuple[str, ...] = ()


def rewrite(
    path: str | Path, plan: Callable[[CellTable], Plan], *, begin: bool = False, seen: Seen | None = None
) -> tuple[Path, Path | None]:
    """Read a list, plan changes on it, and put the changed list in its place, alone with it all the while.

    Parameters
    ----------
    path : str or Path
        The list.
    plan : callable
        From the sheet to changes and added rows; what it raises leaves the list as it was.
    begin : bool
        Begin a new CSV where there is no file.
    seen : callable, optional
        See ``Seen``.

    Returns
    -------
    (Path, Path or None)
        Where the list lies, and its backup.

    Raises
    ------
    StockError
        If the list cannot be read or written, or is open in a spreadsheet program.
    """
    real = Path(path).resolve()
    if not real.parent.is_dir():
        raise StockError(f"{path}: there is no folder {real.parent}")
    with lock(real, error=StockError):
        for mark in (f".~lock.{real.name}#", f"~${real.name}"):
            if real.with_name(mark).exists():
                says = f"is open in a spreadsheet program, which would undo this; close it (or delete {mark})"
                raise StockError(f"{path} {says}")
        fresh = begin and not real.exists()
        data = NEW_LIST.encode() if fresh else opening.contents(real)
        sheet = opening.sheet_of(real, data)
        changes, added = plan(sheet)
        changed = splice(sheet, data, changes, added)
        check_read_back(sheet, opening.sheet_of(real, changed), changes, added)
        backup = backups.replace(real, changed)
        if seen is not None:
            seen(None if fresh else data, changed)
        return real, backup


def append(
    path: str | Path,
    beads: Sequence[Bead],
    *,
    replace_colours: bool = False,
    today: datetime.date | None = None,
    seen: Seen | None = None,
) -> Written:
    """Add beads to a list as rows; a list that is not there yet is begun.

    Parameters
    ----------
    path : str or Path
        CSV or XLSX.
    beads : sequence of Bead
        Their ``row`` does not matter.
    replace_colours : bool
        For a bead that is in the list (same id and lot), replace its colour; the old one goes in the notes.
    today : date, optional
        Written beside an old colour; default the present day.
    seen : callable, optional
        See ``Seen``.

    Raises
    ------
    StockError
        If a bead is in the list and ``replace_colours`` is false, or the list has no column of colours, or
        it cannot be written. The list is then as it was.
    """
    day = today or datetime.date.today()
    added_ids: list[str] = []
    replaced: list[str] = []
    missing: dict[str, None] = {}

    def plan(sheet: CellTable) -> Plan:
        decimals = Decimals(sheet, sheet.columns)
        known = stock_rows.read_rows(sheet)[0]
        if not {"colour", "L"} & sheet.columns.keys():
            raise StockError(f"{path} has no column of colours; add one headed hex")
        changes: dict[tuple[int, int], Value] = {}
        rows: list[Mapping[int, Value]] = []
        for bead in beads:
            same = [row for row in known if _same(row, bead)]
            if not same:
                cells = _cells(bead, sheet, decimals, missing)
                by_column = {sheet.columns[field]: value for field, value in cells.items()}
                rows.append(by_column | _others(bead, sheet))
                added_ids.append(bead.id)
                known.append(dataclasses.replace(bead, row=0))
            elif not replace_colours or same[0].row == 0:
                where = f"row {same[0].row}" if same[0].row else "it comes twice"
                says = f"{bead.id!r} is in {path} already ({where})"
                raise StockError(f"{says}; choose another id or lot, or ask to replace its colour")
            else:
                fields = _recolour(same[0], bead, sheet, decimals, day)
                changes |= {(same[0].row, sheet.columns[field]): value for field, value in fields.items()}
                replaced.append(bead.id)
        return changes, rows

    real, backup = rewrite(path, plan, begin=True, seen=seen)
    return Written(real, backup, tuple(added_ids), tuple(replaced), tuple(missing))


def _same(row: Bead, bead: Bead) -> bool:
    """Whether a bead to add is that row: same id and lot, and of no other size where it has one."""
    if row.id.casefold() != bead.id.casefold() or row.lot.casefold() != bead.lot.casefold():
        return False
    return bead.size is None or row.size is None or (row.size, row.shape) == (bead.size, bead.shape)


def number_text(value: float, places: int, sign: str) -> str:
    """A number as text with up to so many decimals, never one that can be read two ways.

    Examples
    --------
    >>> number_text(12.5, 2, ","), number_text(1.2345, 3, ".")
    ('12,5', '1.2340')
    """
    text = f"{value:.{places}f}"
    text = text.rstrip("0").rstrip(".") if "." in text else text
    text = "0" if text in ("", "-0") else text
    return (f"{text}0" if units.can_be_two(text) else text).replace(".", sign)


def _others(bead: Bead, sheet: CellTable) -> dict[int, Value]:
    taken = set(sheet.columns.values())
    return {
        at: bead.extra[heading]
        for at, heading in enumerate(sheet.headings)
        if at not in taken and heading in bead.extra
    }


def _colour_cells(lab: Lab, sheet: CellTable, decimals: Decimals) -> dict[str, Value]:
    cells: dict[str, Value] = {}
    if "L" in sheet.columns:
        for part, value in zip("Lab", lab, strict=True):
            cells[part] = _number(value, 2, part, sheet, decimals)
    if "colour" in sheet.columns:
        hexed, in_srgb = lab_to_hex(lab)
        # Hex is what other programs read; a colour it cannot hold is given whole.
        cells["colour"] = hexed if in_srgb else "lab:{:.2f},{:.2f},{:.2f}".format(*lab)
    return cells


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
    if bead.lab is not None:
        cells |= _colour_cells(bead.lab, sheet, decimals)
    if bead.per_gram is not None:
        cells["per_gram"] = _number(bead.per_gram, 1, "per_gram", sheet, decimals)
    if bead.uncertainty_de00 is not None:
        cells["uncertainty"] = _number(bead.uncertainty_de00, 2, "uncertainty", sheet, decimals)
    if bead.cost is not None:
        amount = number_text(bead.cost.amount, 2, decimals.sign_to_write("cost"))
        per = "" if bead.cost.per_unit is None else f" per {bead.cost.per_amount:g} {bead.cost.per_unit}"
        cells["cost"] = f"{bead.cost.currency} {amount}{per}".strip()
    if bead.quantity is not None:
        cells |= _quantity_cells(bead.quantity, sheet, decimals)
    for field, value in cells.items():
        if (
            field not in sheet.columns
            and value not in ("", "round")
            and not (field == "name" and value == bead.id)
        ):
            missing[field] = None
    return {field: value for field, value in cells.items() if field in sheet.columns}


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


def _recolour(
    row: Bead, bead: Bead, sheet: CellTable, decimals: Decimals, day: datetime.date
) -> dict[str, Value]:
    if bead.lab is None:
        raise StockError(f"{bead.id!r}: there is no colour to put in the place of the old one")
    cells = _colour_cells(bead.lab, sheet, decimals)
    if "uncertainty" in sheet.columns and bead.uncertainty_de00 is not None:
        cells["uncertainty"] = _number(bead.uncertainty_de00, 2, "uncertainty", sheet, decimals)
    if row.lab is not None:
        if "notes" not in sheet.columns:
            raise StockError(
                f"{sheet.path} has no column of notes to keep the old colour in; add one headed notes"
            )
        hexed, in_srgb = lab_to_hex(row.lab)
        old = hexed if in_srgb else "lab:{:.2f},{:.2f},{:.2f}".format(*row.lab)
        cells["notes"] = f"{row.notes}; colour until {day}: {old}".removeprefix("; ")
    return cells


def restore(path: str | Path) -> Path:
    """Put the newest backup back in the place of a list; the list as it was becomes the newest backup.

    Raises
    ------
    StockError
        If there is none, or it cannot be written.
    """
    real = Path(path).resolve()
    with lock(real, error=StockError):
        backups.swap(real)
    return real
