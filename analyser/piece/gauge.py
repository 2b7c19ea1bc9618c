"""A maker's gauge: rounds counted in a measured length of their own finished rope.

It beats every table, because hands, thread and beads differ by a tenth or more. Kept gauges stand in the
``[gauge]`` table of ``analyser.toml``, one line for each motif and bead::

    [gauge]
    "chenille 11/0 round" = "37 rounds in 5cm"

This is the one place that writes that file, and it touches no other line of it.
"""

from __future__ import annotations

import os
import re
import tomllib
from dataclasses import dataclass
from pathlib import Path

from analyser.errors import OptionError
from analyser.stock import units

_TEXT = re.compile(r"\s*(\d+(?:[.,]\d+)?)\s*(?:rounds?|rows?)\s+in\s+(.+?)\s*", re.IGNORECASE)
_MOST_ROUNDS = 100_000


@dataclass(frozen=True, slots=True)
class Gauge:
    """Rounds in a length.

    Attributes
    ----------
    rounds : float
        Above 0; halves are fine.
    length_mm : float
        Above 0.
    """

    rounds: float
    length_mm: float

    @property
    def rise_mm(self) -> float:
        """Millimetres that a round adds."""
        return self.length_mm / self.rounds

    def __str__(self) -> str:
        return f"{self.rounds:g} rounds in {self.length_mm:g}mm"

    @classmethod
    def parse(cls, text: str) -> Gauge:
        """Read a gauge such as ``37 rounds in 5cm``.

        Raises
        ------
        OptionError
            If it is none.

        Examples
        --------
        >>> Gauge.parse("37 rounds in 5cm").rise_mm
        1.3513513513513513
        """
        found = _TEXT.fullmatch(text)
        if not found:
            raise OptionError(f"expected a gauge such as '37 rounds in 5cm', got {text!r}")
        rounds = float(found[1].replace(",", "."))
        if not 0 < rounds <= _MOST_ROUNDS:
            raise OptionError(f"a gauge needs more than no rounds, got {text!r}")
        try:
            return cls(rounds, units.length_mm(found[2]))
        except OptionError as error:
            raise OptionError(f"the gauge {text!r}: {error}") from error


def key_of(motif: str, bead: str) -> str:
    """The key of a gauge: the motif and what tells the bead apart (its size and shape, or its id).

    Examples
    --------
    >>> key_of("chenille", "11/0 round")
    'chenille 11/0 round'
    """
    return f"{motif} {bead}"


def kept(path: Path) -> dict[str, Gauge]:
    """All gauges kept in a settings file by their keys; none where there is no such file.

    Raises
    ------
    OptionError
        If the file cannot be read, or a gauge in it is none: with the key.
    """
    return _gauges(_read(path), path)


def keep(path: Path, key: str, gauge: Gauge) -> None:
    """Write one gauge into a settings file: its line is replaced or added, every other stays as it is.

    The file is written whole beside and then put in its place, so that it is never half there.

    Raises
    ------
    OptionError
        If the file is no sound TOML, has a gauge table in another form, or cannot be written.
    """
    text = _read(path)
    before = _gauges(text, path)
    new = _with(text, key, str(gauge))
    try:
        sound = _gauges(new, path) == {**before, key: gauge}
    except OptionError:
        sound = False
    if not sound:
        raise OptionError(f"{path}: write its gauges as a table [gauge] with one line each, then keep again")
    beside = path.with_name(f".{path.name}.{os.getpid()}.part")
    try:
        with beside.open("w", encoding="utf-8", newline="") as file:
            file.write(new)
            file.flush()
            os.fsync(file.fileno())
        beside.replace(path)
    except OSError as error:
        beside.unlink(missing_ok=True)
        raise OptionError(f"{path}: the gauge cannot be kept ({error.strerror or error})") from error


def _read(path: Path) -> str:
    try:
        with path.open(encoding="utf-8", newline="") as file:
            return file.read()
    except FileNotFoundError:
        return ""
    except (OSError, UnicodeDecodeError) as error:
        raise OptionError(f"{path}: cannot be read ({error})") from error


def _gauges(text: str, path: Path) -> dict[str, Gauge]:
    try:
        table = tomllib.loads(text).get("gauge", {})
    except tomllib.TOMLDecodeError as error:
        raise OptionError(f"{path}: cannot be read as TOML: {error}") from error
    if not isinstance(table, dict):
        raise OptionError(f"{path}: gauge must be a table [gauge], got {table!r}")
    found = {}
    for key, value in table.items():
        if not isinstance(value, str):
            raise OptionError(f"{path}: gauge {key!r} must be text such as '37 rounds in 5cm', got {value!r}")
        try:
            found[key] = Gauge.parse(value)
        except OptionError as error:
            raise OptionError(f"{path}: gauge {key!r}: {error}") from error
    return found


def _quoted(text: str) -> str:
    escaped = text.replace("\\", "\\\\").replace('"', '\\"')
    return '"' + "".join(c if c.isprintable() else f"\\U{ord(c):08x}" for c in escaped) + '"'


def _with(text: str, key: str, value: str) -> str:
    """The text with that gauge in it."""
    end = "\r\n" if "\r\n" in text else "\n"
    line = f"{_quoted(key)} = {_quoted(value)}"
    lines = text.splitlines(keepends=True)
    head = next((i for i, raw in enumerate(lines) if re.match(r"\s*\[\s*gauge\s*\]", raw)), None)
    if head is None:
        gap = "" if not text else end if text.endswith(("\n", "\r")) else end * 2
        return f"{text}{gap}[gauge]{end}{line}{end}"
    stop = next((i for i in range(head + 1, len(lines)) if lines[i].lstrip().startswith("[")), len(lines))
    for i in range(head + 1, stop):
        # A remark behind the value stays.
        written = re.match(
            r"\s*(\"(?:[^\"\\]|\\.)*\"|'[^']*'|[\w-]+)\s*=\s*(\"[^\"]*\"|'[^']*')(.*)", lines[i], re.DOTALL
        )
        if written and tomllib.loads(f"{written[1]} = 0").keys() == {key}:
            lines[i] = f"{line}{written[3]}"
            return "".join(lines)
    last = max(i for i in range(head, stop) if i == head or lines[i].strip())
    if not lines[last].endswith(("\n", "\r")):
        lines[last] += end
    lines.insert(last + 1, line + end)
    return "".join(lines)
