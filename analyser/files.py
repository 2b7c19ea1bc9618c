"""Files that are written whole or not at all, and one writer at a time.

A new version is written beside the old one, forced to disk and moved over it, which the system does in one
step: whoever looks, or whenever the power goes, there is the old file or the new one. Pipes and devices are
written to and never replaced.
"""

from __future__ import annotations

import contextlib
import os
import re
import stat
import sys
import time
from collections.abc import Iterator
from pathlib import Path

from analyser.errors import AnalyserError, OptionError

LARGEST_TYPED = 2**20
"""Bytes: what is written by hand (settings, names) is shorter."""

WAIT_S = 15.0
"""How long a writer waits for another one."""

_ABANDONED_S = 300.0  # a part file that has not grown for so long has lost its writer


def write_whole(
    path: Path, data: bytes | str, *, make_folders: bool = False, error: type[AnalyserError] = OptionError
) -> None:
    """Write a file whole or not at all.

    Parameters
    ----------
    path : Path
        A link is followed; a pipe or device is written to as it is.
    data : bytes or str
        Text is written as UTF-8, its line ends as they are.
    make_folders : bool
        Make the folders on the way.
    error : type
        What is raised.

    Raises
    ------
    AnalyserError
        Of the kind asked for, where it cannot be written: the file is then as it was, and nothing lies
        beside it.
    """
    content = data.encode("utf-8", "replace") if isinstance(data, str) else data
    try:
        real = Path(os.path.realpath(path))
        if is_stream(real):
            with real.open("wb") as stream:
                stream.write(content)
            return
        if make_folders:
            real.parent.mkdir(parents=True, exist_ok=True)
        fresh = write_beside(real, content)
        try:
            os.replace(fresh, real)  # noqa: PTH105 (the one step that must be atomic stands out)
        except OSError:
            fresh.unlink(missing_ok=True)
            raise
        sync_folder(real.parent)
    except OSError as fault:
        raise error(f"{path}: cannot be written ({fault.strerror or fault}); name another place") from fault


def read_whole(path: Path, most_bytes: int, what: str, *, error: type[AnalyserError] = OptionError) -> bytes:
    """The content of a file that the maker named.

    Parameters
    ----------
    path : Path
        A link is followed; what is no file (a pipe, a device, a socket) is not waited for.
    most_bytes : int
        Size beyond which it cannot be what was asked for.
    what : str
        What was asked for, such as ``"a motif"``.
    error : type
        What is raised.

    Raises
    ------
    AnalyserError
        Of the kind asked for, in one line, where there is no such file, or it is too large or unreadable.
    """
    try:
        about = path.stat()
        if stat.S_ISDIR(about.st_mode):
            raise error(f"{path} is a folder; name the file in it")
        if not stat.S_ISREG(about.st_mode):
            raise error(f"{path} is a pipe or a device, not a file; save it as a file first")
        with path.open("rb") as file:
            data = file.read(most_bytes + 1)
    except FileNotFoundError as fault:
        raise error(f"{path} cannot be read: there is no such file") from fault
    except (OSError, ValueError) as fault:  # ValueError: a name with a zero byte
        reason = getattr(fault, "strerror", None) or fault
        raise error(f"{path} cannot be read: {reason}") from fault
    if len(data) > most_bytes:
        most = f"{most_bytes >> 20} MB" if most_bytes >= 2**20 else f"{most_bytes // 1000} kB"
        raise error(f"{path} is larger than {most}: too long for {what}")
    return data


def read_typed(path: Path, most_bytes: int, what: str, *, error: type[AnalyserError] = OptionError) -> str:
    """The text of a file that the maker wrote by hand; a byte order mark is passed over.

    Parameters
    ----------
    path, most_bytes, what, error
        As of ``read_whole``.

    Raises
    ------
    AnalyserError
        As ``read_whole``; also, with the line, where it is not UTF-8.
    """
    data = read_whole(path, most_bytes, what, error=error)
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as fault:
        line = data[: fault.start].count(b"\n") + 1
        raise error(f"{path}, line {line}: not UTF-8 text; save the file as plain text, UTF-8") from fault


def is_stream(path: Path) -> bool:
    """Whether there is a pipe, a socket or a device of that name, which is no file to be replaced."""
    try:
        mode = path.stat().st_mode
    except OSError:
        return False
    return not (stat.S_ISREG(mode) or stat.S_ISDIR(mode))


def can_be_written(path: Path) -> bool:
    """Whether a file can be written there, as far as that can be told beforehand."""
    if is_stream(path):
        return os.access(path, os.W_OK)
    if path.is_dir() or not path.name:
        return False
    return path.parent.is_dir() and os.access(path.parent, os.W_OK)


def write_beside(path: Path, content: bytes, ending: str = "part") -> Path:
    """Write and force to disk what is to become a file, under a hidden name beside it.

    Returns
    -------
    Path
        What the caller moves or removes. It has the file's permissions, or those of any new file.

    Raises
    ------
    OSError
        If it cannot be written; nothing is left.
    """
    if path.is_dir():
        raise IsADirectoryError(21, "it is a folder")
    clear_parts(path, ending)
    beside = path.with_name(f".{path.name}.{os.getpid()}.{ending}")
    try:
        with beside.open("wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        if path.exists():
            if not os.access(path, os.W_OK):
                raise PermissionError(13, "it is write-protected")
            beside.chmod(stat.S_IMODE(path.stat().st_mode))
    except BaseException:
        with contextlib.suppress(OSError):
            beside.unlink()
        raise
    return beside


def clear_parts(path: Path, ending: str = "part", *, older_s: float = _ABANDONED_S) -> None:
    """Remove what writers of a file that were killed have left beside it.

    Parameters
    ----------
    path : Path
        The file, not its parts.
    ending : str
        As of ``write_beside``.
    older_s : float
        Seconds since a part was last written to; 0 only for one that holds the file's lock.
    """
    before = time.time() - older_s
    ours = re.compile(re.escape(f".{path.name}.") + r"\d+\." + re.escape(ending))
    with contextlib.suppress(OSError):
        for entry in os.scandir(path.parent):
            if ours.fullmatch(entry.name) and entry.stat().st_mtime <= before:
                Path(entry.path).unlink(missing_ok=True)


def sync_folder(folder: Path) -> None:
    """Force a folder's names to disk, where the system knows that."""
    if sys.platform == "win32":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


@contextlib.contextmanager
def lock(path: Path, *, wait_s: float = WAIT_S, error: type[AnalyserError] = OptionError) -> Iterator[None]:
    """Hold a file for one writer; others wait. What a killed one left beside it is cleared away.

    The system drops the lock of a process that ends, however it ends: there are no stale ones.

    Raises
    ------
    AnalyserError
        Of the kind asked for, if another holds it longer than ``wait_s``, or its folder cannot be written.
    """
    import filelock

    hidden = path.with_name(f".{path.name}.lock")
    held = filelock.FileLock(hidden, timeout=wait_s, poll_interval=0.02)
    try:
        if not path.parent.is_dir():
            raise FileNotFoundError(2, "there is no such folder")
        held.acquire()
    except filelock.Timeout as fault:
        raise error(f"{path} is being written by another program; try again when it is done") from fault
    except OSError as fault:
        reason = fault.strerror or str(fault)
        raise error(
            f"{path} cannot be written: {reason}; close it elsewhere or put it in a folder of yours"
        ) from fault
    try:
        clear_parts(path, older_s=0)
        yield
    finally:
        # Removed while it is held: one that waits finds its file gone from the folder, and takes a new one.
        with contextlib.suppress(OSError):
            hidden.unlink()
        held.release()
