"""A maker's gauge: rounds counted in a measured length of their own finished rope.

It beats every table, because hands, thread and beads differ by a tenth or more. Kept gauges stand in the
``[gauge]`` table of ``analyser.toml``, one line for each motif and bead::

    [gauge]
    "chenille 11/0 round" = "37 rounds in 5cm"

This is the one place that writes that file, and it touches no other line of it.
"""

from __future__ import annotations

import re
import tomllib
from dataclasses import dataclass
from pathlib import Path

from analyser.errors import OptionError
from analyser.files import LARGEST_TYPED, read_typed, write_whole
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
    import tomlkit

    text = _read(path)
    before = _gauges(text, path)
    settings = tomlkit.parse(text)
    table = settings.setdefault("gauge", tomlkit.table())
    old = table.get(key)
    table[key] = str(gauge)
    if old is not None and hasattr(old, "trivia"):
        # A remark behind the value stays.
        table[key].trivia.comment_ws, table[key].trivia.comment = old.trivia.comment_ws, old.trivia.comment
    if "\r\n" in text:
        table[key].trivia.trail = "\r\n"
    new = tomlkit.dumps(settings)
    if _gauges(new, path) != {**before, key: gauge}:
        raise OptionError(f"{path}: write its gauges as a table [gauge] with one line each, then keep again")
    write_whole(path, new)


def _read(path: Path) -> str:
    if not path.exists():
        return ""
    return read_typed(path, LARGEST_TYPED, "settings")


def _gauges(text: str, path: Path) -> dict[str, Gauge]:
    try:
        table = tomllib.loads(text).get("gauge", {})
    except (tomllib.TOMLDecodeError, RecursionError) as error:
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
