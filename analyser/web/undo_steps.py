"""The way back through the page's changes of a list: every list as it was, kept between runs.

They lie in the user's own data folder, beside the kept photos, each packed; the oldest go first.
"""

from __future__ import annotations

import sqlite3
import time
import zlib
from dataclasses import dataclass
from pathlib import Path

DAYS = 30.0
_MOST_MB = 128  # of packed lists: some thousand changes of a usual one
_TABLE = """
CREATE TABLE IF NOT EXISTS steps (
    number INTEGER PRIMARY KEY, list TEXT NOT NULL, says TEXT NOT NULL, before BLOB, after TEXT NOT NULL,
    at REAL NOT NULL
)"""


@dataclass(frozen=True, slots=True)
class Step:
    """One change.

    Attributes
    ----------
    number : int
    says : str
        What was changed.
    before : bytes or None
        The list as it was, None if there was none.
    after : str
        Digest of the list as it became.
    """

    number: int
    says: str
    before: bytes | None
    after: str


class UndoSteps:
    """The changes of one list; whoever uses it sees to it that one thread at a time does.

    Parameters
    ----------
    path : Path
        The list.
    folder : Path, optional
        Where they are kept; without it they go with the program.
    """

    def __init__(self, path: Path, folder: Path | None = None) -> None:
        self._list = str(path)
        try:
            self._rows = self._opened(str(folder / "steps.sqlite") if folder else ":memory:")
        except sqlite3.Error:  # damaged or not to be written: the page works, its undo goes with it
            self._rows = self._opened(":memory:")

    @staticmethod
    def _opened(where: str) -> sqlite3.Connection:
        rows = sqlite3.connect(where, timeout=10, check_same_thread=False, isolation_level=None)
        rows.execute(_TABLE)
        rows.execute("DELETE FROM steps WHERE at < ?", (time.time() - DAYS * 86400,))
        return rows

    def last(self) -> Step | None:
        """The newest change, None where there is none."""
        found = self._rows.execute(
            "SELECT number, says, before, after FROM steps WHERE list = ? ORDER BY number DESC LIMIT 1",
            (self._list,),
        ).fetchone()
        if found is None:
            return None
        number, says, before, after = found
        return Step(number, says, None if before is None else zlib.decompress(before), after)

    def add(self, says: str, before: bytes | None, after: str) -> None:
        """Keep a change; the oldest go where there are too many."""
        packed = None if before is None else zlib.compress(before)
        self._rows.execute(
            "INSERT INTO steps (list, says, before, after, at) VALUES (?, ?, ?, ?, ?)",
            (self._list, says, packed, after, time.time()),
        )
        held = "SELECT SUM(LENGTH(before)) FROM steps"
        while (self._rows.execute(held).fetchone()[0] or 0) > _MOST_MB * 2**20:
            self._rows.execute("DELETE FROM steps WHERE number = (SELECT MIN(number) FROM steps)")

    def drop(self, step: Step) -> None:
        """Forget a change that was undone."""
        self._rows.execute("DELETE FROM steps WHERE number = ?", (step.number,))
