"""The words of a stock list understood: headings, units, finishes, shapes.

The words themselves are data (``data/stock-words.toml``), compared in lower case without accents and
punctuation.
"""

from __future__ import annotations

import difflib
import re
import tomllib
import unicodedata
from dataclasses import dataclass
from functools import cache, lru_cache
from pathlib import Path

from analyser.errors import OptionError
from analyser.stock.bead import FINISHES, SHAPES
from analyser.stock.quantity import UNITS, Unit

OUNCE = 28.349523125  # grams; international avoirdupois ounce, by definition
WEIGHTS = {"g": 1.0, "kg": 1000.0, "kilo": 1000.0, "mg": 0.001, "oz": OUNCE, "ounce": OUNCE, "ounces": OUNCE}


class UnclearError(OptionError):
    """A text that cannot be read, or only by guessing.

    Attributes
    ----------
    value, says, mend : str
        The text, what is wrong with it, what to do.
    """

    def __init__(self, value: str, says: str, mend: str) -> None:
        super().__init__(f"{value!r} {says}; {mend}")
        self.value, self.says, self.mend = value, says, mend


class NoUnitError(UnclearError):
    """A number that may count anything."""


@dataclass(frozen=True, slots=True)
class _Words:
    headings: dict[str, tuple[str, int]]
    heading_units: dict[str, Unit]
    units: dict[str, Unit]
    finishes: list[tuple[str, re.Pattern[str]]]
    shapes: dict[str, str]


@cache
def _words() -> _Words:
    text = (Path(__file__).with_name("data") / "stock-words.toml").read_text(encoding="utf-8")
    told = tomllib.loads(text)
    return _Words(
        {word: (field, at) for field, words in told["headings"].items() for at, word in enumerate(words)},
        {word: unit for unit, words in told["heading_units"].items() for word in words},
        {word: unit for unit, words in told["units"].items() for word in words},
        [(kind, re.compile(rf"\b(?:{pattern})\b")) for kind, pattern in told["finishes"].items()],
        {word: shape for shape, words in told["shapes"].items() for word in words},
    )


@lru_cache(maxsize=4096)
def plain(text: str) -> str:
    """Lower case, accents and punctuation gone, words one blank apart.

    Examples
    --------
    >>> plain("  Größe (mm) ")
    'grosse mm'
    """
    letters = unicodedata.normalize("NFKD", text.casefold())
    letters = "".join(sign for sign in letters if not unicodedata.combining(sign))
    return re.sub(r"[^a-z0-9]+", " ", letters).strip()


@lru_cache(maxsize=4096)
def heading(text: str) -> tuple[str, int, str]:
    """Read a heading: its field, its rank among those for the field, and the unit it names.

    The field is ``""`` where the heading is not known.

    Examples
    --------
    >>> heading("Qty (g)"), heading("Cost per 10 g"), heading("Beads per hank")
    (('quantity', 1, 'g'), ('cost', 0, 'per 10 g'), ('contents', 0, 'beads'))
    """
    known, words = _words().headings, plain(text)
    if text.strip() in ("#", "№"):
        return "id", 99, ""
    if words in known:
        return *known[words], ""
    split = re.fullmatch(r"(.+?)(?: in| left)? (\w+)", words)
    if split and split[1] in known and (split[2] in _words().units or split[2] in (*WEIGHTS, "mm", "left")):
        return *known[split[1]], split[2]
    if split and known.get(split[1], ("",))[0] == "cost" and re.search(r"[€$£¥]", text):
        return *known[split[1]], ""
    split = re.fullmatch(r"(.+?) (?:per|pro|par|je|a) (.+)", words)
    if split and known.get(split[1], ("",))[0] == "cost":
        return *known[split[1]], f"per {split[2]}"
    if split and split[1] in (*_words().units, *WEIGHTS, "mm", "cm") and split[2] in _words().units:
        return "contents", 0, split[1]
    return "", 0, ""


def heading_unit(text: str, rest: str) -> Unit | None:
    """Unit of a bare number in the column of quantities with that heading, None if it does not say."""
    words = plain(text)
    return unit_of(rest) or _words().heading_units.get(words) or unit_of(words)


def unit_of(word: str) -> Unit | None:
    """The unit a word names, None if it names none; any weight is ``grams``.

    Examples
    --------
    >>> unit_of("Stück"), unit_of("oz"), unit_of("miles")
    ('beads', 'grams', None)
    """
    word = plain(word)
    return "grams" if word in WEIGHTS else _words().units.get(word)


def unit(text: str) -> Unit:
    """The unit a cell names.

    Raises
    ------
    UnclearError
        If it names none.
    """
    known = unit_of(text)
    if known is None:
        raise UnclearError(text, "is not a known unit", f"use {', '.join(UNITS[:-1])} or {UNITS[-1]}")
    return known


# Misspelt, these would otherwise be passed over as words that say nothing of the finish.
_SPELLINGS = ("silver", "lined", "galvanised", "galvanized", "metallic", "iridescent", "rainbow", "lustre",
              "frosted", "matte", "transparent", "opaque")  # fmt: skip


@lru_cache(maxsize=4096)
def finishes(text: str) -> tuple[str, ...]:
    """All finishes a text states, in the order of ``FINISHES``.

    Raises
    ------
    UnclearError
        If none is known, or a word looks like one misspelt.

    Examples
    --------
    >>> finishes("Matte metallic iris"), finishes("S/L, dyed")
    (('metallic', 'iridescent', 'matte'), ('silver-lined', 'dyed'))
    """
    rest, found = plain(text), set()
    for kind, pattern in _words().finishes:
        shorter = pattern.sub(" ", rest)
        if shorter != rest:
            found.add(kind)
            rest = shorter
    mend = f"use {', '.join(FINISHES[:-1])} or {FINISHES[-1]}"
    for word in rest.split():
        near = difflib.get_close_matches(word, _SPELLINGS, 1, 0.75) if len(word) > 3 else []
        if near and word != near[0]:
            raise UnclearError(text, f"has {word!r}: is {near[0]!r} meant?", mend)
    if not found:
        raise UnclearError(text, "is not a known finish", mend)
    return tuple(kind for kind in FINISHES if kind in found)


@lru_cache(maxsize=4096)
def shape(text: str) -> str:
    """One of ``SHAPES``.

    Raises
    ------
    UnclearError
        If no word of it names a shape.

    Examples
    --------
    >>> shape("Round seed bead"), shape("Zylinder")
    ('round', 'cylinder')
    """
    words = plain(text).split()
    for word, kind in _words().shapes.items():
        if word in words:
            return kind
    raise UnclearError(text, "is not a known shape", f"use {', '.join(SHAPES[:-1])} or {SHAPES[-1]}")
