"""Writing a file the maker owns: one at a time, whole or not at all, the last versions kept.

A new version is written beside the old one, forced to disk and moved over it, which the system does
in one step: whoever looks, or whenever the power goes, there is the old list or the new one.
"""

from __future__ import annotations

import contextlib
import os
import shutil
import sys
import time
from collections.abc import Iterator
from pathlib import Path

from analyser.errors import StockError

_KEPT = 5  # backups: a mistake is found within a few writes, and five files do not bury the list
_PAUSE_S = 0.02


@contextlib.contextmanager
def alone(path: Path, wait_s: float = 15.0) -> Iterator[None]:
    """Hold the list for one writer; others wait.

    The system drops the lock of a process that ends, however it ends: there are no stale ones.

    Raises
    ------
    StockError
        If another holds it longer than ``wait_s``, or the folder cannot be written.
    """
    lock = path.with_name(f".{path.name}.lock")
    deadline = time.monotonic() + wait_s
    while True:
        try:
            handle = os.open(lock, os.O_RDWR | os.O_CREAT, 0o666)
        except OSError as error:
            raise _unwritable(path, error) from error
        if _taken(handle):
            # The one before may have removed the file between our opening and locking it.
            if _same_file(handle, lock):
                break
        elif time.monotonic() > deadline:
            os.close(handle)
            raise StockError(f"{path} is being written by another program; try again when it is done")
        os.close(handle)
        time.sleep(_PAUSE_S)
    try:
        yield
    finally:
        with contextlib.suppress(OSError):
            lock.unlink()
        os.close(handle)


def _same_file(handle: int, lock: Path) -> bool:
    try:
        return os.path.samestat(os.fstat(handle), lock.stat())
    except OSError:
        return False


if sys.platform == "win32":

    def _taken(handle: int) -> bool:
        import msvcrt

        try:
            msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)
        except OSError:
            return False
        return True

else:

    def _taken(handle: int) -> bool:
        import fcntl

        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            return False
        return True


def backup_of(path: Path, age: int = 1) -> Path:
    """Where the version ``age`` writes ago is kept: ``stock_list.csv.bak``, ``stock_list.csv.bak2``, ..."""
    return path.with_name(f"{path.name}.bak{age if age > 1 else ''}")


def replace(path: Path, data: bytes) -> Path | None:
    """Put a new version in the place of a file, the old one kept as its backup; call it within ``alone``.

    Returns
    -------
    Path or None
        The backup; None if there was no file.

    Raises
    ------
    StockError
        If the folder or file cannot be written; the file is then as it was.
    """
    fresh = path.with_name(f".{path.name}.new")
    try:
        with fresh.open("wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        backup = None
        if path.exists():
            if not os.access(path, os.W_OK):
                raise PermissionError(13, "it is write-protected")
            shutil.copymode(path, fresh)
            backup = _keep(path)
        os.replace(fresh, path)  # noqa: PTH105 (the one step that must be atomic stands out)
    except OSError as error:
        with contextlib.suppress(OSError):
            fresh.unlink()
        raise _unwritable(path, error) from error
    if sys.platform != "win32":
        folder = os.open(path.parent, os.O_RDONLY)
        try:
            os.fsync(folder)
        finally:
            os.close(folder)
    return backup


def _keep(path: Path) -> Path:
    """Copy a file to its first backup; the older ones move up by one, the oldest goes."""
    for age in range(_KEPT, 1, -1):
        with contextlib.suppress(FileNotFoundError):
            backup_of(path, age - 1).replace(backup_of(path, age))
    part = path.with_name(f".{path.name}.bak.new")
    shutil.copy2(path, part)
    part.replace(backup_of(path))
    return backup_of(path)


def _unwritable(path: Path, error: OSError) -> StockError:
    reason = error.strerror or str(error)
    return StockError(
        f"{path} cannot be written: {reason}; close it elsewhere or put it in a folder of yours"
    )
