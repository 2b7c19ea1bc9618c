"""Kept colourways: a folder beside the maker's list, one readable TOML file each with a small picture.

They can be mailed, laid in a folder that is shared, and read without this program. Nothing is overwritten
unasked: a name is kept once, and what is deleted lies in the folder's ``bin``.
"""

from __future__ import annotations

import datetime
import tomllib
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any, TypeVar

from analyser.arrays import Lab
from analyser.errors import AnalyserError, PlanError
from analyser.files import lock, write_whole
from analyser.piece import plan_file

SCHEMA = 1
STATES = ("idea", "woven", "sold")
_BIN = "bin"
_MOST_BYTES = 2**20  # a kept colourway takes some three kilobytes
_NAME_AT_MOST = 100

T = TypeVar("T")


class KeptError(AnalyserError):
    """A colourway cannot be kept, found or read."""

    kind = "kept"


@dataclass(frozen=True, slots=True)
class KeptBead:
    """A bead of a kept colourway.

    Attributes
    ----------
    id, name, lot : str
        As the list had them; ``lot`` empty where it says none.
    size, finish : str or None
    shape : str
    lab : Lab
        Its colour then.
    needs : int or None
        Beads the piece takes, spare included; None where no length was given.
    """

    id: str
    name: str
    lot: str
    size: str | None
    shape: str
    finish: str | None
    lab: Lab
    needs: int | None


@dataclass(frozen=True, slots=True)
class KeptColour:
    """A colour of the palette it was made from: Lab, its share of the photo, its everyday name."""

    lab: Lab
    share: float
    name: str


@dataclass(frozen=True, slots=True)
class KeptColourway:
    """A colourway as it was decided.

    Attributes
    ----------
    name : str
        The maker's.
    made_on : date
    state : str
        ``idea``, ``woven`` or ``sold``.
    note : str
    motif, size, shape : str
        What is woven, in which beads.
    length_mm : float or None
        Finished length.
    gauge : str or None
        The maker's own.
    beads : mapping of role to KeptBead
        Of a plan the first bead of each role, and every further one by its key: ``body:driftwood``.
    palette : tuple of KeptColour
    photo, sha256 : str
        Name and digest of the photo's file; the picture kept beside is small and says nothing of its place.
    plan : str or None
        The plan along the rope, as the text of its file.
    """

    name: str
    made_on: datetime.date
    motif: str
    size: str
    shape: str
    length_mm: float | None
    gauge: str | None
    beads: Mapping[str, KeptBead]
    palette: tuple[KeptColour, ...]
    photo: str
    sha256: str
    note: str = ""
    state: str = "idea"
    plan: str | None = None

    def holds(self, bead: str) -> bool:
        """Whether a bead of that id or name is in it."""
        wanted = bead.casefold()
        return any(wanted in (one.id.casefold(), one.name.casefold()) for one in self.beads.values())


def folder_of(stock_file: Path) -> Path:
    """Where the colourways of a list are kept: ``beads.csv`` has them in ``beads-kept``.

    Raises
    ------
    KeptError
        If that names no file.
    """
    if not stock_file.name:
        raise KeptError(f"{stock_file} is a folder; name the list in it")
    return stock_file.with_name(f"{stock_file.stem}-kept")


def stem_of(name: str) -> str:
    """A colourway's file name without its ending.

    Examples
    --------
    >>> stem_of("Quay bracelet, 18 cm")
    'quay-bracelet-18-cm'

    Raises
    ------
    KeptError
        If the name holds no letter or digit, or is too long.
    """
    words = "".join(sign if sign.isalnum() else " " for sign in name.casefold()).split()
    if not words or len(name) > _NAME_AT_MOST:
        raise KeptError(f"a name has letters or digits, and at most {_NAME_AT_MOST} signs; got {name!r}")
    return "-".join(words)


def keep(folder: Path, kept: KeptColourway, picture: bytes | None) -> Path:
    """Keep a colourway with its picture (a JPEG), where it has one.

    Returns
    -------
    Path
        Its file.

    Raises
    ------
    KeptError
        If one of that name is kept already, which stays as it is, or the folder cannot be written.
    """
    path = folder / f"{stem_of(kept.name)}.toml"
    try:
        folder.mkdir(exist_ok=True)
    except OSError as error:
        raise KeptError(
            f"{folder}: cannot be made ({error.strerror}); keep it beside a list of yours"
        ) from error
    with lock(path, error=KeptError):
        if path.exists():
            raise KeptError(f"{kept.name!r} is kept already, in {path}; choose another name")
        # The picture first: a file that is there is complete.
        if picture is not None:
            write_whole(path.with_suffix(".jpg"), picture, error=KeptError)
        write_whole(path, _text(kept), error=KeptError)
    return path


def read(path: Path) -> KeptColourway:
    """Read one file.

    Raises
    ------
    KeptError
        If it is no kept colourway; the text names the key.
    """
    try:
        if not path.is_file() or path.stat().st_size > _MOST_BYTES:
            raise KeptError(f"{path}: is no kept colourway")
        table = tomllib.loads(path.read_text(encoding="utf-8"))
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError, RecursionError) as error:
        raise KeptError(f"{path}: cannot be read: {error}") from error
    try:
        return _colourway(table)
    except ValueError as error:
        raise KeptError(f"{path}: {error}") from error


def read_all(folder: Path) -> tuple[dict[Path, KeptColourway], list[KeptError]]:
    """All that is kept in a folder, the newest first, and what could not be read of it."""
    found: dict[Path, KeptColourway] = {}
    faulty = []
    for path in sorted(folder.glob("*.toml")) if folder.is_dir() else ():
        try:
            found[path] = read(path)
        except KeptError as error:
            faulty.append(error)
    newest = sorted(found.items(), key=lambda item: item[1].made_on, reverse=True)
    return dict(newest), faulty


def find(folder: Path, name: str) -> Path:
    """The file of a colourway by its name.

    Raises
    ------
    KeptError
        If there is none.
    """
    path = folder / f"{stem_of(name)}.toml"
    if not path.is_file():
        names = [kept.name for kept in read_all(folder)[0].values()]
        there = f"; there are {', '.join(names)}" if names else ""
        raise KeptError(f"no colourway {name!r} is kept in {folder}{there}")
    return path


def picture_of(path: Path) -> bytes | None:
    """The small picture beside a colourway's file, None where it is not there any more."""
    try:
        return path.with_suffix(".jpg").read_bytes()
    except OSError:
        return None


def delete(path: Path) -> Path:
    """Lay a colourway and its picture in the folder's bin; where it lies now.

    Raises
    ------
    KeptError
        If it cannot be moved.
    """
    bin_folder = path.parent / _BIN
    try:
        bin_folder.mkdir(exist_ok=True)
        names = [path.stem, *(f"{path.stem}-{number}" for number in range(2, 10_000))]
        there = next(to for name in names if not (to := bin_folder / f"{name}.toml").exists())
        path.rename(there)
        if path.with_suffix(".jpg").exists():
            path.with_suffix(".jpg").rename(there.with_suffix(".jpg"))
    except OSError as error:
        raise KeptError(f"{path}: cannot be laid in the bin ({error.strerror})") from error
    return there


def mark(path: Path, state: str) -> KeptColourway:
    """Say what has become of a colourway; all else in its file stays as the maker has it.

    Raises
    ------
    KeptError
        If the file cannot be read.
    ValueError
        If the state is none of ``STATES``.
    """
    import tomlkit

    if state not in STATES:
        raise ValueError(f"a state is one of {', '.join(STATES)}; got {state!r}")
    with lock(path, error=KeptError):
        read(path)
        document = tomlkit.parse(path.read_text(encoding="utf-8"))
        document["state"] = state
        write_whole(path, tomlkit.dumps(document), error=KeptError)
    return read(path)


def _text(kept: KeptColourway) -> str:
    import tomlkit

    known = {
        "schema": SCHEMA,
        "name": kept.name,
        "made_on": kept.made_on,
        "state": kept.state,
        "note": kept.note,
        "motif": kept.motif,
        "size": kept.size,
        "shape": kept.shape,
        "length_mm": kept.length_mm,
        "gauge": kept.gauge,
        "plan": None if kept.plan is None else tomlkit.string(kept.plan, multiline=True),
        "photo": {"name": kept.photo, "sha256": kept.sha256},
        "beads": {
            role: _without_none({**asdict(bead), "lab": list(bead.lab)}) for role, bead in kept.beads.items()
        },
        "palette": [{"lab": list(c.lab), "share": c.share, "name": c.name} for c in kept.palette],
    }
    return tomlkit.dumps(_without_none(known))


def _without_none(table: Mapping[str, Any]) -> dict[str, Any]:
    return {key: value for key, value in table.items() if value is not None}


def _colourway(table: Mapping[str, Any]) -> KeptColourway:
    if table.get("schema") != SCHEMA:
        raise ValueError(f"schema must be {SCHEMA}, got {table.get('schema')!r}")
    state = _taken(table, "state", str)
    if state not in STATES:
        raise ValueError(f"state must be one of {', '.join(STATES)}; got {state!r}")
    photo = _taken(table, "photo", dict)
    beads = _taken(table, "beads", dict)
    return KeptColourway(
        name=_taken(table, "name", str),
        made_on=_taken(table, "made_on", datetime.date),
        motif=_taken(table, "motif", str),
        size=_taken(table, "size", str),
        shape=_taken(table, "shape", str),
        length_mm=_number(table, "length_mm") if "length_mm" in table else None,
        gauge=_taken(table, "gauge", str) if "gauge" in table else None,
        beads={role: _bead(beads, role) for role in beads},
        palette=tuple(
            KeptColour(_lab(colour), _number(colour, "share"), _taken(colour, "name", str))
            for colour in _taken(table, "palette", list)
        ),
        photo=_taken(photo, "name", str),
        sha256=_taken(photo, "sha256", str),
        note=_taken(table, "note", str),
        state=state,
        plan=_plan(table),
    )


def _plan(table: Mapping[str, Any]) -> str | None:
    if "plan" not in table:
        return None
    told = _taken(table, "plan", str)
    try:
        plan_file.parse(told, "plan")
    except PlanError as error:
        raise ValueError(str(error)) from error
    return told


def _bead(beads: Mapping[str, Any], role: str) -> KeptBead:
    bead = _taken(beads, role, dict)
    return KeptBead(
        id=_taken(bead, "id", str),
        name=_taken(bead, "name", str),
        lot=_taken(bead, "lot", str),
        size=_taken(bead, "size", str) if "size" in bead else None,
        shape=_taken(bead, "shape", str),
        finish=_taken(bead, "finish", str) if "finish" in bead else None,
        lab=_lab(bead),
        needs=_taken(bead, "needs", int) if "needs" in bead else None,
    )


def _taken(table: Any, key: str, kind: type[T]) -> T:
    value = table.get(key) if isinstance(table, dict) else None
    if not isinstance(value, kind) or (isinstance(value, bool) and kind is not bool):
        raise ValueError(f"{key} must be {_KINDS[kind]}, got {value!r}")
    return value


_KINDS: dict[type, str] = {
    str: "text", int: "a whole number", dict: "a table", list: "a list", datetime.date: "a date",
}  # fmt: skip


def _number(table: Any, key: str) -> float:
    value = table.get(key) if isinstance(table, dict) else None
    if isinstance(value, bool) or not isinstance(value, (int, float)) or not abs(value) < 1e9:
        raise ValueError(f"{key} must be a number, got {value!r}")
    return float(value)


def _lab(table: Any) -> Lab:
    value = table.get("lab") if isinstance(table, dict) else None
    if not isinstance(value, list) or len(value) != 3:
        raise ValueError(f"lab must be three numbers, got {value!r}")
    lightness, a, b = (_number({"lab": part}, "lab") for part in value)
    return lightness, a, b
