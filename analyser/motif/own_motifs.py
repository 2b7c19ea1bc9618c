"""The maker's own motifs: a folder beside the list, a motif file each, found by name as the shipped ones are.

A file is only ever replaced on purpose; what was replaced lies in the folder's ``bin``.
"""

from __future__ import annotations

import dataclasses
from pathlib import Path

from analyser.errors import MotifError
from analyser.files import lock, write_whole
from analyser.motif import parsing
from analyser.motif.motif import Motif

_BIN = "bin"
_NAME_AT_MOST = 60


class MotifThereError(MotifError):
    """One of that name is there, and was not to be replaced."""

    kind = "there"


def folder_of(stock_file: Path) -> Path:
    """Where the motifs beside a list lie: ``beads.csv`` has them in ``beads-motifs``."""
    return stock_file.with_name(f"{stock_file.stem}-motifs")


def beside(kept_folder: Path) -> Path:
    """The same, told by the folder of kept colourways: ``beads-kept`` lies beside ``beads-motifs``."""
    return kept_folder.with_name(f"{kept_folder.name.removesuffix('-kept')}-motifs")


def names(folder: Path) -> tuple[str, ...]:
    """The names of the motifs in a folder, sorted."""
    found = (path.stem for path in folder.glob("*.toml")) if folder.is_dir() else ()
    return tuple(sorted(name for name in found if name not in parsing.names()))


def load(name: str, folder: Path) -> Motif:
    """A shipped motif, or one of the folder, by its name.

    Raises
    ------
    MotifError
        If there is none, or its file has a fault.
    """
    if name in parsing.names():
        return parsing.load(name)
    if name not in names(folder):
        known = ", ".join((*parsing.names(), *names(folder)))
        raise MotifError(f"there is no motif {name!r}; there are {known}. Your own lie in {folder.name}")
    # The file's name is what it is found by, whatever it calls itself.
    return dataclasses.replace(parsing.load(folder / f"{name}.toml"), name=name)


def text_of(name: str, folder: Path) -> str:
    """The text of a motif's file, shipped or own, to read or to begin another from.

    Raises
    ------
    MotifError
        If there is none.
    """
    if name in parsing.names():
        return parsing.shipped_text(name)
    if name not in names(folder):
        raise MotifError(f"there is no motif {name!r}")
    return parsing.read_text(folder / f"{name}.toml")


def save(folder: Path, text: str, *, replace: bool = False) -> Motif:
    """Lay a motif in the folder, under the name its text gives it.

    Parameters
    ----------
    folder : Path
        Made if need be.
    text : str
        The motif file.
    replace : bool
        Whether it may take the place of one that is there, which goes to the ``bin``.

    Raises
    ------
    MotifError
        If the text has a fault, the name is that of a shipped motif or no file's name, or the folder cannot
        be written.
    MotifThereError
        If one is there and may not be replaced.
    """
    motif = parsing.parse(text, "your motif")
    if motif.name in parsing.names():
        raise MotifError(f"{motif.name} is the name of a shipped motif; choose another: name = ...")
    if not motif.name.replace("-", "").replace("_", "").isalnum() or len(motif.name) > _NAME_AT_MOST:
        raise MotifError(
            f"name: letters, digits, - and _, at most {_NAME_AT_MOST}, because the file is called so; "
            f"got {motif.name!r}"
        )
    path = folder / f"{motif.name}.toml"
    try:
        folder.mkdir(exist_ok=True)
    except OSError as error:
        raise MotifError(f"{folder}: cannot be made ({error.strerror})") from error
    with lock(path, error=MotifError):
        if path.exists() and parsing.read_text(path) != text:
            if not replace:
                raise MotifThereError(
                    f"a motif {motif.name} is there already; choose another name, or replace it"
                )
            (folder / _BIN).mkdir(exist_ok=True)
            stems = [motif.name, *(f"{motif.name}-{number}" for number in range(2, 10_000))]
            there = next(to for stem in stems if not (to := folder / _BIN / f"{stem}.toml").exists())
            write_whole(there, parsing.read_text(path), error=MotifError)
        write_whole(path, text, error=MotifError)
    return motif
