"""Files on their way in: streamed to disk, kind told by content, the rest left to the reading verbs."""

from __future__ import annotations

from pathlib import Path
from urllib.parse import unquote

from fastapi import Request

from analyser.errors import AnalyserError
from analyser.photo import formats
from analyser.web.photo_store import PhotoStore


class KindError(AnalyserError):
    """A file of a kind that is not taken here."""

    kind = "kind"


async def received(request: Request, photos: PhotoStore, *, photo: bool) -> Path:
    """Stream the body into a file of its own.

    Raises
    ------
    KindError
        If it is empty or, by its first bytes, no photo.
    FullError
        If no more can be kept.
    """
    path = photos.place(unquote(request.headers.get("x-file-name", "")))
    checked = not photo
    size = 0
    try:
        with path.open("wb") as out:
            async for part in request.stream():
                if not part:
                    continue
                if not checked:
                    _check_kind(path.name, part)
                    checked = True
                out.write(part)
                size += len(part)
                photos.grew(path, size)
        if not size:
            raise KindError(f"{path.name} is empty; choose another file")
    except BaseException:
        photos.drop(path)
        raise
    return path


def _check_kind(name: str, start: bytes) -> None:
    try:
        formats.kind_of(start)
    except formats.UnreadableError as error:
        raise KindError(f"{name}: {error}") from error
