"""Writing in the maker's list.

Every write is whole or not done, keeps a backup, and waits for other writers; a list behind a link is
written where it lies.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from pathlib import Path

from analyser.errors import StockError
from analyser.files import lock
from analyser.stock import units
from analyser.stock.list import backups, opening
from analyser.stock.list.read_back import check_read_back
from analyser.stock.list.splicing import Changes, Value, splice
from analyser.stock.list.table import CellTable

NEW_LIST = "id,name,size,shape,finish,hex,uncertainty,quantity,unit,lot,cost,notes\n"
"""Headings of a list that is begun."""

Plan = tuple[Changes, Sequence[Mapping[int, Value]]]
Seen = Callable[[bytes | None, bytes], None]
"""Told the list's bytes before and after a write, while nobody else can write it."""


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


def restore(path: str | Path, steps: int = 1) -> Path:
    """Put a backup back in the place of a list; the list as it was becomes the newest backup.

    Parameters
    ----------
    path : str or Path
        The list.
    steps : int
        How many changes to take back: 1 is the last one.

    Raises
    ------
    StockError
        If there are not so many backups, or the list cannot be written.
    """
    real = Path(path).resolve()
    with lock(real, error=StockError):
        if steps == 1:
            backups.swap(real)
        else:
            backups.replace(real, backups.contents(real, steps))
    return real
