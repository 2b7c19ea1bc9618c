"""The last versions of a maker's list: kept at every change, brought back by the last one's undoing.

There is never a moment without the newest backup, or in which list or backup is half there.
"""

from __future__ import annotations

import contextlib
import os
import shutil
from pathlib import Path

from analyser.errors import StockError
from analyser.files import clear_parts, sync_folder, write_beside

KEPT = 5
"""Backups: a mistake is found within a few writes, and five files do not bury the list."""


def backup_of(path: Path, age: int = 1) -> Path:
    """Where the version ``age`` writes ago is kept: ``stock.csv.bak``, ``stock.csv.bak2``, ..."""
    return path.with_name(f"{path.name}.bak{age if age > 1 else ''}")


def replace(path: Path, data: bytes) -> Path | None:
    """Put a new version in the place of a list, the old one kept as its backup; the caller holds the lock.

    Returns
    -------
    Path or None
        The backup; None if there was no list.

    Raises
    ------
    StockError
        If list or backup cannot be written; both, and the older backups, are then as they were.
    """
    waiting: list[Path] = []
    try:
        finish_swap(path)
        waiting.append(write_beside(path, data, "new"))
        backup = None
        if path.exists():
            backup = backup_of(path)
            waiting.append(write_beside(backup, path.read_bytes(), "new"))
            shutil.copystat(path, waiting[1])
            _shift(path)
            os.replace(waiting[1], backup)  # noqa: PTH105 (the steps that must be atomic stand out)
        os.replace(waiting[0], path)  # noqa: PTH105 (as above)
        sync_folder(path.parent)
    except OSError as error:
        for part in waiting:
            with contextlib.suppress(OSError):
                part.unlink()
        raise _unwritable(path, error) from error
    return backup


def contents(path: Path, age: int) -> bytes:
    """The version ``age`` writes ago; the caller holds the lock.

    Raises
    ------
    StockError
        If it is not kept, or cannot be read.
    """
    finish_swap(path)
    wanted = backup_of(path, age)
    if not wanted.exists():
        there = sum(backup_of(path, older).exists() for older in range(1, KEPT + 1))
        raise StockError(f"{path} has {there} backup{'s' * (there != 1)} beside it, not {age}")
    try:
        return wanted.read_bytes()
    except OSError as error:
        raise StockError(f"{wanted} cannot be read: {error.strerror or error}") from error


def swap(path: Path) -> None:
    """Let a list and its newest backup change places; the caller holds the lock.

    Raises
    ------
    StockError
        If there is no backup, or the list cannot be written; both are then as they were.
    """
    waiting: list[Path] = []
    try:
        finish_swap(path)
        backup = backup_of(path)
        if not backup.exists():
            raise StockError(f"{path} has no backup {backup.name} beside it")
        waiting.append(write_beside(path, backup.read_bytes(), "new"))
        if path.exists():
            waiting.append(write_beside(backup, path.read_bytes(), "new"))
            os.replace(waiting[1], _undone(path))  # noqa: PTH105 (the steps that must be atomic stand out)
        os.replace(waiting[0], path)  # noqa: PTH105 (as above)
        finish_swap(path)
        sync_folder(path.parent)
    except OSError as error:
        for part in waiting:
            with contextlib.suppress(OSError):
                part.unlink()
        raise _unwritable(path, error) from error


def finish_swap(path: Path) -> None:
    """Finish a swap that was broken off: what was undone becomes the newest backup.

    Broken off before the list was exchanged, list and what was undone are the same, and nothing is lost. What
    other killed writers left goes; the caller holds the lock.
    """
    for name in (path, backup_of(path)):
        clear_parts(name, "new", older_s=0)
    path.with_name(f".{path.name}.bak2.new").unlink(missing_ok=True)
    undone = _undone(path)
    if not undone.exists():
        return
    if path.exists() and path.read_bytes() == undone.read_bytes():
        undone.unlink()
    else:
        os.replace(undone, backup_of(path))  # noqa: PTH105 (the step that must be atomic stands out)


def _undone(path: Path) -> Path:
    return path.with_name(f".{path.name}.undone")


def _shift(path: Path) -> None:
    """Older backups move up by one, the oldest goes; the newest stays in its place as well."""
    for age in range(KEPT, 2, -1):
        with contextlib.suppress(FileNotFoundError):
            os.replace(backup_of(path, age - 1), backup_of(path, age))  # noqa: PTH105 (as above)
    newest = backup_of(path)
    if newest.exists():
        part = path.with_name(f".{path.name}.bak2.new")
        try:
            os.link(newest, part)
        except OSError:  # a file system without links
            shutil.copy2(newest, part)
        os.replace(part, backup_of(path, 2))  # noqa: PTH105 (as above)


def _unwritable(path: Path, error: OSError) -> StockError:
    reason = error.strerror or str(error)
    return StockError(
        f"{path} cannot be written: {reason}; close it elsewhere or put it in a folder of yours"
    )
