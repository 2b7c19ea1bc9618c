"""The page's photos and their answers on disk, so that a restart loses nothing.

A folder for each photo, with the file as it came, and one SQLite file with what was asked and answered. Only
this user can read them. What is older than ``DAYS`` goes when the page is opened next.
"""

from __future__ import annotations

import contextlib
import json
import shutil
import sqlite3
import time
import zlib
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from analyser.errors import OptionError

DAYS = 30
_VERSION = 1
_TABLE = """
CREATE TABLE IF NOT EXISTS photos (
    id TEXT PRIMARY KEY, list TEXT NOT NULL, use TEXT NOT NULL, name TEXT NOT NULL, wishes TEXT NOT NULL,
    state TEXT NOT NULL, kind TEXT NOT NULL, says TEXT NOT NULL, result BLOB, added REAL NOT NULL
)"""
_ORPHAN_S = 3600.0  # a folder without a row may be a file on its way to another page of this user


@dataclass(frozen=True, slots=True)
class KeptPhoto:
    """A photo as it is kept.

    Attributes
    ----------
    id, use, name : str
        Its folder's name; what it was added for; the file's own name.
    wishes : dict
    state, kind, says : str
        ``waiting``, ``done``, ``failed`` or ``cancelled``; why it failed.
    result : dict or None
        The answer, plain values only.
    added : float
        Seconds since 1970.
    """

    id: str
    use: str
    name: str
    wishes: dict[str, Any]
    state: str
    kind: str
    says: str
    result: dict[str, Any] | None
    added: float


class Archive:
    """What is kept for one stock list, in a folder that several lists share.

    Parameters
    ----------
    folder : Path
        Made if it is not there.
    stock_file : Path
        Answers speak of its beads, so photos come back with the same list only.

    Raises
    ------
    OptionError
        If the folder cannot be written.
    """

    def __init__(self, folder: Path, stock_file: Path) -> None:
        self.folder = folder
        self._list = str(stock_file)
        self._file = folder / "photos.sqlite"
        try:
            folder.mkdir(parents=True, exist_ok=True, mode=0o700)
            self._open()
        except (OSError, sqlite3.OperationalError) as error:
            raise OptionError(f"{folder}: photos cannot be kept there: {error}") from error

    def photos(self) -> list[KeptPhoto]:
        """What is kept for this list and not too old, the oldest first; the rest is cleared away."""
        with self._rows() as rows:
            old = time.time() - DAYS * 86400
            rows.execute("DELETE FROM photos WHERE added < ?", (old,))
            ids = {row[0] for row in rows.execute("SELECT id FROM photos")}
            found = rows.execute(
                "SELECT id, use, name, wishes, state, kind, says, result, added FROM photos "
                "WHERE list = ? ORDER BY added",
                (self._list,),
            ).fetchall()
        self._clear_but(ids)
        return [_photo(row) for row in found if (self.folder / row[0] / row[2]).is_file()]

    def keep(self, photo: KeptPhoto) -> None:
        """Keep a photo, or what has become of it."""
        result = None if photo.result is None else zlib.compress(json.dumps(photo.result).encode())
        values = (photo.id, self._list, photo.use, photo.name, json.dumps(photo.wishes), photo.state)
        with self._rows() as rows:
            rows.execute(
                "INSERT OR REPLACE INTO photos VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
                (*values, photo.kind, photo.says, result, photo.added),
            )

    def forget(self, photo: str) -> None:
        """Keep a photo no longer; its folder is the caller's to remove."""
        with self._rows() as rows:
            rows.execute("DELETE FROM photos WHERE id = ?", (photo,))

    def clear(self) -> None:
        """Forget the photos of all lists, and remove their files."""
        with self._rows() as rows:
            rows.execute("DELETE FROM photos")
        for folder in self._folders():
            shutil.rmtree(folder, ignore_errors=True)

    @contextlib.contextmanager
    def _rows(self) -> Iterator[sqlite3.Connection]:
        # A connection for each turn: the answers come from the threads of several workers.
        with contextlib.closing(sqlite3.connect(self._file, timeout=10)) as rows, rows:
            yield rows

    def _open(self) -> None:
        try:
            with self._rows() as rows:
                (version,) = rows.execute("PRAGMA user_version").fetchone()
                if version not in (0, _VERSION):
                    raise sqlite3.DatabaseError(f"of version {version}")
                rows.execute(_TABLE)
                rows.execute(f"PRAGMA user_version = {_VERSION}")
        except sqlite3.OperationalError:
            raise
        except sqlite3.DatabaseError:
            # Damaged, or of a newer version: it is put aside, never overwritten.
            self._file.replace(self._file.with_name(f"photos-{time.time():.0f}.aside"))
            with self._rows() as rows:
                rows.execute(_TABLE)
                rows.execute(f"PRAGMA user_version = {_VERSION}")

    def _folders(self) -> list[Path]:
        return [path for path in self.folder.iterdir() if path.is_dir()]

    def _clear_but(self, ids: set[str]) -> None:
        for folder in self._folders():
            with contextlib.suppress(OSError):
                if folder.name not in ids and time.time() - folder.stat().st_mtime > _ORPHAN_S:
                    shutil.rmtree(folder, ignore_errors=True)


def _photo(row: tuple[Any, ...]) -> KeptPhoto:
    number, use, name, wishes, state, kind, says, result, added = row
    answer = None if result is None else json.loads(zlib.decompress(result))
    return KeptPhoto(number, use, name, json.loads(wishes), state, kind, says, answer, added)
