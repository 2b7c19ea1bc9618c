"""The photos of folders, in one order, each known by what it holds."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Iterator, Sequence
from pathlib import Path

from analyser.errors import OptionError

ENDINGS = frozenset(
    (
        ".jpg",
        ".jpeg",
        ".jpe",
        ".png",
        ".tif",
        ".tiff",
        ".webp",
        ".heic",
        ".heif",
        ".bmp",
        ".ppm",
        ".pgm",
        ".jp2",
    )
)
"""Of the formats that ``photo.decoding`` reads; a file that is named by itself may end otherwise."""


def photos_in(places: Sequence[Path]) -> Iterator[Path]:
    """Photos of folders, with those of the folders in them, and files as they are named; each once.

    Parameters
    ----------
    places : sequence of Path
        Hidden files and folders in a folder are passed over.

    Yields
    ------
    Path
        By name within a folder, so that every run has the same order.

    Raises
    ------
    OptionError
        If a place is not there.
    """
    seen: set[str] = set()
    for place in places:
        if not place.exists():
            raise OptionError(f"{place}: there is no such photo or folder")
        for path in _below(place) if place.is_dir() else (place,):
            real = os.path.realpath(path)
            if real not in seen:
                seen.add(real)
                yield path


def _below(folder: Path) -> Iterator[Path]:
    try:
        inside = sorted(folder.iterdir())
    except OSError as error:
        raise OptionError(f"{folder}: cannot be read ({error.strerror})") from error
    for path in inside:
        if path.name.startswith("."):
            continue
        if path.is_dir() and not path.is_symlink():  # a link may lead back up
            yield from _below(path)
        elif path.suffix.lower() in ENDINGS and path.is_file():
            yield path


def digest_of(*contents: Path | str) -> str:
    """What files and texts hold, in 32 hexadecimal digits.

    Raises
    ------
    OSError
        If a file cannot be read.
    """
    found = hashlib.blake2b(digest_size=16)
    for content in contents:
        if isinstance(content, str):
            found.update(content.encode("utf-8", "surrogateescape"))
        else:
            with content.open("rb") as stream:
                for block in iter(lambda: stream.read(2**20), b""):
                    found.update(block)
        found.update(b"\0")
    return found.hexdigest()
