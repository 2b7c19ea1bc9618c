"""Defaults from ``analyser.toml``: the one in this folder, else the one in the user's configuration.

Flags win over it. A key is an option's long name without the dashes; it serves every verb that has it.
"""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import Any

import click

from analyser.errors import OptionError
from analyser.files import LARGEST_TYPED, read_typed

NAME = "analyser.toml"

#: key -> (what a value must be, how to say so). Anything else in the file is a mistake worth telling.
KEYS: dict[str, tuple[type | tuple[type, ...], str]] = {
    "motif": (str, "a motif's name"),
    "size": (str, 'a bead size such as "11/0"'),
    "stock": (str, "a stock file's path"),
    "colours": (int, "a whole number"),
    "contrast": (str, '"soft", "clear" or "bold"'),
    "length": (str, 'a length such as "18cm"'),
    "spare": (str, 'a share such as "10%"'),
    "top": (int, "a whole number"),
    "out": (str, "a folder's path"),
    "tolerance": ((int, float), "a CIEDE2000 difference, the least lot change that an audit reports"),
}
#: Tables of the file that other rooms read themselves.
TABLES = ("gauge", "list")
_PARTS = {"stock": ("check", "add", "merge", "use", "undo"), "kept": ("list", "show", "mark", "delete")}


def find() -> Path | None:
    """The settings file that holds, or None."""
    for path in (Path(NAME), Path(click.get_app_dir("analyser")) / NAME):
        if path.is_file():
            return path
    return None


def as_default_map(verbs: Iterable[str]) -> dict[str, Any]:
    """The settings as click's default map, the same for each of the verbs.

    Raises
    ------
    OptionError
        If the file is not TOML, or a key or its value is not known.
    """
    path = find()
    if path is None:
        return {}
    import tomllib

    try:
        given = tomllib.loads(read_typed(path, LARGEST_TYPED, "settings"))
    except (tomllib.TOMLDecodeError, RecursionError) as error:
        raise OptionError(f"{path}: cannot be read as TOML: {error}") from error
    values: dict[str, Any] = {}
    for key, value in given.items():
        if key in TABLES:
            continue
        if key not in KEYS:
            raise OptionError(f"{path}: there is no setting {key!r}; known are {', '.join([*KEYS, *TABLES])}")
        kind, says = KEYS[key]
        if not isinstance(value, kind) or isinstance(value, bool):
            raise OptionError(f"{path}: {key} must be {says}, got {value!r}")
        if key == "stock":
            value = str(path.parent / str(value))  # an absolute path stays as it is
        values[_parameter(key)] = value
    flat = {verb: dict(values) for verb in verbs}
    # The rope in a photo is not the piece that is being planned: its motif and length are asked for.
    flat["audit"] = {k: v for k, v in values.items() if k not in ("motif", "length")}
    for verb, parts in _PARTS.items():
        flat[verb] |= {part: dict(values) for part in parts}
    return flat


def _parameter(key: str) -> str:
    return {"stock": "stock_file", "out": "out_dir", "tolerance": "lot_tolerance"}.get(key, key)
