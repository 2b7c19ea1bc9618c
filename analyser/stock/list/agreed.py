"""How one list is read where its cells leave it open: what its maker was asked once and answered.

The answers stand in the ``analyser.toml`` beside the list, a table for each list by its file's name::

    [list."MY-BEADS.csv"]
    unit = "grams"       # numbers without a unit; "unknown": not known
    dates = "sizes"      # 11 Nov is the size 11/0; "unread": it is not
    sheet = "Beads"      # of several sheets
    fills = true         # the cells' fill colours are the beads' colours, as a first guess

    [list."MY-BEADS.csv".words.finish]
    sparkly = "lustre"   # a word of the maker's own

What is not there has not been asked: then nothing is guessed. No other line of the file is touched.
"""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Literal

from analyser.errors import OptionError
from analyser.files import LARGEST_TYPED, lock, read_whole, write_whole
from analyser.stock import units, words
from analyser.stock.quantity import UNITS, Unit

FILE = "analyser.toml"

Kind = Literal["unit", "dates", "sheet", "fills"]
KINDS: tuple[Kind, ...] = ("sheet", "unit", "dates", "fills")
"""In the order in which they are asked: the sheet decides the rest."""

WORD_FIELDS = ("finish", "size", "shape", "quantity", "unit", "cost")
"""Fields whose words may be read as others."""

_SHOWN = 4

_CHOICES: Mapping[str, tuple[str | bool, ...]] = {
    "unit": (*UNITS, "unknown"),
    "dates": ("sizes", "unread"),
    "fills": (True, False),
}


@dataclass(frozen=True, slots=True)
class Agreed:
    """What was agreed of a list; None where it was not asked.

    Attributes
    ----------
    unit : str or None
        What a number without a unit counts, one of ``UNITS``, or ``"unknown"``.
    dates : str or None
        ``"sizes"`` where a date in the column of sizes is the size it was typed as, else ``"unread"``.
    sheet : str or None
        The sheet of a workbook that is the list.
    fills : bool or None
        Whether the cells' fill colours are the beads' colours.
    words : mapping of str to mapping of str to str
        Of a field of ``WORD_FIELDS``, what its own words (lower case) are read as.
    """

    unit: str | None = None
    dates: str | None = None
    sheet: str | None = None
    fills: bool | None = None
    words: Mapping[str, Mapping[str, str]] = field(default_factory=dict, hash=False)

    @property
    def known_unit(self) -> Unit | None:
        """The unit of a bare number, None where none is agreed."""
        return words.unit_of(self.unit) if self.unit else None

    def read_as(self, of_field: str, text: str) -> str | None:
        """What a word of a field is read as, None where it is read as it stands."""
        own = self.words.get(of_field)
        return own.get(text.casefold()) if own else None


@dataclass(frozen=True, slots=True)
class Question:
    """What a list leaves open.

    Attributes
    ----------
    kind : str
        One of ``KINDS``.
    cells : int
        How many it is about.
    shown : tuple of str
        What stands in some of them; of sheets, all names.
    choices : tuple of str or bool
        The answers, the likely one first.
    """

    kind: Kind
    cells: int
    shown: tuple[str, ...]
    choices: tuple[str | bool, ...]


def questions(
    agreed: Agreed, left_open: Mapping[str, Sequence[str]], sheets: Sequence[str]
) -> tuple[Question, ...]:
    """What is to be asked of a list, once.

    Parameters
    ----------
    agreed : Agreed
    left_open : mapping
        Of each kind, what stands in the cells it is about.
    sheets : sequence of str
        Of a workbook, those that can be the list.
    """
    asked = []
    if agreed.sheet is None and len(sheets) > 1:
        asked.append(Question("sheet", len(sheets), tuple(sheets), tuple(sheets)))
    for kind in KINDS:
        if cells := left_open.get(kind):
            shown = tuple(dict.fromkeys(cells))[:_SHOWN]
            asked.append(Question(kind, len(cells), shown, _CHOICES[kind]))
    return tuple(asked)


def file_of(path: Path) -> Path:
    """Where what is agreed of a list is kept."""
    return path.resolve().with_name(FILE)


def kept(path: Path) -> Agreed:
    """What was agreed of a list.

    Raises
    ------
    OptionError
        If the file beside it cannot be read, or says what cannot be.
    """
    file = file_of(path)
    if not file.is_file():
        return Agreed()
    table = _parsed(_text(file), file).get("list", {})
    own = table.get(path.resolve().name, {}) if isinstance(table, dict) else None
    if not isinstance(own, dict):
        raise OptionError(f"{file}: list must hold a table for each list by its file's name")
    where = f"{file}: list {path.resolve().name!r}"
    for kind, choices in _CHOICES.items():
        if kind in own and own[kind] not in choices:
            told = ", ".join(_toml(choice) for choice in choices)
            raise OptionError(f"{where}: {kind} must be one of {told}, got {own[kind]!r}")
    if unknown := own.keys() - {*KINDS, "words"}:
        says = f"{where}: there is no setting {min(unknown)!r}; known are {', '.join((*KINDS, 'words'))}"
        raise OptionError(says)
    if not isinstance(own.get("sheet", ""), str):
        raise OptionError(f"{where}: sheet must be a sheet's name")
    said: dict[str, Any] = {kind: own[kind] for kind in KINDS if kind in own}
    return Agreed(**said, words=_words(own, where))


def _words(own: Mapping[str, Any], where: str) -> dict[str, dict[str, str]]:
    told = own.get("words", {})
    sound = isinstance(told, dict) and all(
        name in WORD_FIELDS and isinstance(of, dict) and all(isinstance(text, str) for text in of.values())
        for name, of in told.items()
    )
    if not sound:
        says = f"words must hold tables named {', '.join(WORD_FIELDS)}, such as sparkly = 'lustre'"
        raise OptionError(f"{where}: {says}")
    return {name: {word.casefold(): text for word, text in of.items()} for name, of in told.items()}


def keep(path: Path, kind: str, value: str | bool | None) -> None:
    """Keep one answer about a list, None to forget it; every other line of the file stays.

    Parameters
    ----------
    path : Path
        The list.
    kind : str
        One of ``KINDS``, or ``FIELD:WORD`` for a word of the maker's own.
    value : str, bool or None
        The answer; for a word, what it is read as.

    Raises
    ------
    OptionError
        If there is no such kind or answer, or the file cannot be read or written.
    """
    import tomlkit

    file, name = file_of(path), path.resolve().name
    of_field, colon, word = kind.partition(":")
    if colon:
        _check_word(of_field, word.strip(), value)
    elif kind not in KINDS:
        known = f"{', '.join(KINDS)} or FIELD:WORD (of {', '.join(WORD_FIELDS)})"
        raise OptionError(f"of a list {known} can be agreed, got {kind!r}")
    elif value is not None and kind in _CHOICES and value not in _CHOICES[kind]:
        told = ", ".join(_toml(choice) for choice in _CHOICES[kind])
        raise OptionError(f"{kind} is one of {told}, got {value!r}")
    with lock(file):
        text = _text(file) if file.is_file() else ""
        _parsed(text, file)
        settings = tomlkit.parse(text)
        own = settings.setdefault("list", tomlkit.table(is_super_table=True))
        own = own.setdefault(name, tomlkit.table())
        key = kind
        if colon:
            own = own.setdefault("words", tomlkit.table(is_super_table=True))
            own, key = own.setdefault(of_field, tomlkit.table()), word.strip().casefold()
        if value is not None:
            own[key] = value
        elif key in own:
            del own[key]
        changed = tomlkit.dumps(settings)
        _parsed(changed, file)
        write_whole(file, changed)


def _check_word(of_field: str, word: str, value: str | bool | None) -> None:
    """That a word may be read as another one, which must itself be understood."""
    if of_field not in WORD_FIELDS or not word:
        raise OptionError(f"a word is one of a column of {', '.join(WORD_FIELDS)}; got {of_field}:{word}")
    if value is None:
        return
    text = str(value)
    readers: Mapping[str, Callable[[str], object]] = {
        "finish": words.finishes,
        "size": units.size,
        "shape": words.shape,
        "unit": words.unit,
        "quantity": units.quantity,
        "cost": units.amount_of,
    }
    readers[of_field](text)


def _toml(value: str | bool) -> str:
    return str(value).lower() if isinstance(value, bool) else value


def _text(file: Path) -> str:
    try:
        return read_whole(file, LARGEST_TYPED, "settings").decode("utf-8")
    except UnicodeDecodeError as error:
        raise OptionError(f"{file}: is not UTF-8 text") from error


def _parsed(text: str, file: Path) -> dict[str, Any]:
    try:
        return tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError) as error:
        raise OptionError(f"{file}: cannot be read as TOML: {error}") from error
