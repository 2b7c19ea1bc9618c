"""The photos being worked on: their files, wishes, stages and answers.

They come back when the page is opened again, where an ``Archive`` keeps them; else they go with the server.
"""

from __future__ import annotations

import contextlib
import hashlib
import shutil
import sqlite3
import tempfile
import threading
import time
import uuid
from collections.abc import Mapping
from concurrent.futures import Future
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Literal, cast

from analyser.errors import AnalyserError
from analyser.web.archive import Archive, KeptPhoto
from analyser.web.workers import Job, Pool, RefusedError

Use = Literal["colourway", "rope", "tray"]
State = Literal["waiting", "working", "done", "failed", "cancelled"]

#: The worker that keeps each kind of photo, so that a long audit never stands before a changed wish.
WORKERS: Mapping[Use, int] = {"colourway": 0, "rope": 1, "tray": 1}
#: The job that each kind is for, and the page that shows it.
JOB_OF: Mapping[Use, str] = {"colourway": "colourway", "rope": "audit", "tray": "tray"}
PAGES: Mapping[Use, str] = {"colourway": "photo", "rope": "rope", "tray": "tray"}
PHOTOS_AT_MOST = 60
DISK_MB = 1024


class UnknownError(AnalyserError):
    """There is no such thing on this server any more."""

    kind = "unknown"


class FullError(AnalyserError):
    """No more can be kept."""

    kind = "full"


@dataclass(eq=False)
class PhotoEntry:
    """One photo and what was made of it.

    Attributes
    ----------
    id : str
    use : str
    name : str
        The file's own name.
    path : Path
    wishes : dict
    size : int
        Bytes of the file.
    state, stage, kind, says : str
        ``kind`` and ``says`` tell why it failed.
    version : int
        Counts every change, for a page that waits for one.
    partial, result : dict or None
        What there is so far; the answer.
    """

    id: str
    use: Use
    name: str
    path: Path
    wishes: dict[str, Any]
    size: int = 0
    state: State = "waiting"
    stage: str = ""
    kind: str = ""
    says: str = ""
    version: int = 0
    partial: dict[str, Any] | None = None
    result: dict[str, Any] | None = None
    added: float = field(default_factory=time.time)
    job: Job | None = None


class PhotoStore:
    """All photos of the page.

    Parameters
    ----------
    pool : Pool
    stock_file : Path
    archive : Archive, optional
        Where photos and answers are kept; without it they go with the server.
    """

    def __init__(self, pool: Pool, stock_file: Path, archive: Archive | None = None) -> None:
        self.pool = pool
        self.stock_file = stock_file
        self._archive = archive
        self._folder = archive.folder if archive else Path(tempfile.mkdtemp(prefix="analyser-page-"))
        self._entries = {photo.id: self._again(photo) for photo in archive.photos()} if archive else {}
        self._earlier = list(self._entries)  # the oldest first: these give way to new ones
        self._arriving: dict[Path, int] = {}
        self._changing = threading.Lock()

    def close(self) -> None:
        """Leave; what no archive keeps is removed."""
        if self._archive is None:
            shutil.rmtree(self._folder, ignore_errors=True)

    def clear(self) -> int:
        """Forget all photos, those of other lists too; how many of this list there were."""
        entries = list(self._entries.values())
        for entry in entries:
            self.forget(entry)
        if self._archive is not None:
            self._archive.clear()
        return len(entries)

    @property
    def keeps(self) -> bool:
        """Whether photos come back when the page is opened again."""
        return self._archive is not None

    def place(self, name: str) -> Path:
        """A place for a file on its way in, under its own name.

        Raises
        ------
        FullError
            If no more can be kept.
        """
        self._check_room(1)
        folder = self._folder / uuid.uuid4().hex
        folder.mkdir()
        path = folder / file_name(name)
        self._arriving[path] = 0
        return path

    def grew(self, path: Path, size: int) -> None:
        """Say how many bytes of a file have come in.

        Raises
        ------
        FullError
            If no more can be kept.
        """
        self._arriving[path] = size
        self._check_room(0)

    def _check_room(self, more: int) -> None:
        # What is still on its way counts: hundreds of unfinished files are as many as finished ones.
        while self._is_full(more) and self._earlier:
            entry = self._entries.get(self._earlier.pop(0))
            if entry is not None:
                self.forget(entry)
        if self._is_full(more):
            kept = len(self._entries) + len(self._arriving)
            raise FullError(f"{kept} photos are kept already; forget some on the page of photos first")

    def _is_full(self, more: int) -> bool:
        kept = len(self._entries) + len(self._arriving) + more
        size = sum(entry.size for entry in self._entries.values()) + sum(self._arriving.values())
        return kept > PHOTOS_AT_MOST or size > DISK_MB * 2**20

    def drop(self, path: Path) -> None:
        """Remove a file that came in by ``place``."""
        self._arriving.pop(path, None)
        shutil.rmtree(path.parent, ignore_errors=True)

    def all(self) -> list[PhotoEntry]:
        """Every photo, the newest first."""
        return sorted(self._entries.values(), key=lambda entry: -entry.added)

    def get(self, photo: str) -> PhotoEntry:
        """The photo of that id.

        Raises
        ------
        UnknownError
            If there is none.
        """
        if photo not in self._entries:
            raise UnknownError("this photo is not here any more; add it again")
        return self._entries[photo]

    def add(self, path: Path, use: Use, wishes: dict[str, Any]) -> PhotoEntry:
        """Take a photo in and begin with it."""
        entry = PhotoEntry(path.parent.name, use, path.name, path, wishes, size=path.stat().st_size)
        self._entries[entry.id] = entry
        self._arriving.pop(path, None)
        self.keep(entry)
        self.begin(entry)
        return entry

    def another(self, entry: PhotoEntry, use: Use, wishes: dict[str, Any]) -> PhotoEntry:
        """Take a photo that is here in again, for another use."""
        path = self.place(entry.name)
        shutil.copyfile(entry.path, path)
        return self.add(path, use, wishes)

    def add_mask(self, entry: PhotoEntry, came: Path) -> str:
        """Lay a mask that came in beside its photo; what the wishes call it."""
        name = hashlib.sha256(came.read_bytes()).hexdigest()[:16]
        came.replace(entry.path.with_name(f"mask-{name}"))
        self.drop(came)
        entry.size = _size(entry.path.parent)
        return name

    def asked(self, entry: PhotoEntry) -> dict[str, Any]:
        """The wishes of a photo as its jobs take them; a rope's name beads and motifs of the list."""
        return {**entry.wishes, **({"stock_file": str(self.stock_file)} if entry.use == "rope" else {})}

    def begin(self, entry: PhotoEntry, *, urgent: bool = False) -> Future[Any]:
        """Work on a photo, or work on it again with other wishes; the answer so far stays till then."""
        arguments: dict[str, Any] = {"path": str(entry.path), "wishes": self.asked(entry)}
        if entry.use == "colourway":
            arguments["stock_file"] = str(self.stock_file)
        worker = WORKERS[entry.use]
        job = self.pool.submit(
            JOB_OF[entry.use],
            arguments,
            worker=worker,
            urgent=urgent,
            on_stage=lambda *told: self._stage(entry, job, *told),
        )
        with self._changing:
            entry.job, entry.state, entry.stage, entry.says, entry.kind = job, "waiting", "", "", ""
            entry.version += 1
        job.future.add_done_callback(lambda future: self._ended(entry, job, future))
        return job.future

    def _stage(self, entry: PhotoEntry, job: Job, stage: str, partial: dict[str, Any] | None) -> None:
        with self._changing:
            if entry.job is not job:
                return
            entry.state, entry.stage = "working", stage
            entry.partial = partial or entry.partial
            entry.version += 1

    def _ended(self, entry: PhotoEntry, job: Job, future: Future[Any]) -> None:
        with self._changing:
            if entry.job is not job:
                return
            now: dict[str, Any] = {"stage": ""}
            error = future.exception()
            if error is None:
                now |= {"result": future.result(), "partial": None, "state": "done"}
            elif isinstance(error, RefusedError):
                state = "cancelled" if error.kind == "cancelled" else "failed"
                now |= {"kind": error.kind, "says": self.plain(entry.path, str(error)), "state": state}
            # Kept before it is told: whoever has seen "done" finds it again, whatever ends the page next.
            if entry.id in self._entries:
                self.keep(entry, **now)
            for name, value in now.items():
                setattr(entry, name, value)
            entry.version += 1

    def keep(self, entry: PhotoEntry, **now: Any) -> None:
        """Let a photo and its answer, as they are or are just about to be, come back after a restart."""
        if self._archive is None:
            return
        fields = {name: now.get(name, getattr(entry, name)) for name in KeptPhoto.__dataclass_fields__}
        with contextlib.suppress(sqlite3.Error):  # a full disk: the answer is still there while the page is
            self._archive.keep(KeptPhoto(**fields))

    def _again(self, photo: KeptPhoto) -> PhotoEntry:
        """A photo of an earlier run; what was under way when that ended can be begun again."""
        path = self._folder / photo.id / photo.name
        entry = PhotoEntry(
            photo.id,
            cast("Use", photo.use),
            photo.name,
            path,
            photo.wishes,
            size=_size(path.parent),
            state=cast("State", photo.state),
            kind=photo.kind,
            says=photo.says,
            result=photo.result,
            added=photo.added,
        )
        if entry.state in ("waiting", "working"):
            entry.state = "done" if entry.result else "cancelled"
        return entry

    def plain(self, path: Path, says: str) -> str:
        """A message without the folder of this server."""
        return says.replace(f"{path.parent}/", "").replace(str(path.parent), "")

    def cancel(self, entry: PhotoEntry) -> None:
        """Stop the work on a photo."""
        if entry.job is not None and not entry.job.future.done():
            entry.job.cancel()

    def forget(self, entry: PhotoEntry) -> None:
        """Stop, and remove the photo and its answer."""
        self.cancel(entry)
        self._entries.pop(entry.id, None)
        if self._archive is not None:
            self._archive.forget(entry.id)
        self.drop(entry.path)


def _size(folder: Path) -> int:
    """Bytes of a photo and of the masks beside it."""
    return sum(path.stat().st_size for path in folder.iterdir())


def file_name(name: str) -> str:
    """A name as it may stand in a folder: its last part, printable, not too long.

    Examples
    --------
    >>> file_name("../../etc/my photo.jpg"), file_name("")
    ('my photo.jpg', 'photo')
    """
    last = name.replace("\\", "/").rsplit("/", 1)[-1]
    kept = "".join(sign for sign in last if sign.isprintable() and sign not in '<>:"|?*').strip(". ")
    while len(kept.encode()) > 120:
        kept = kept[1:]
    return kept or "photo"
