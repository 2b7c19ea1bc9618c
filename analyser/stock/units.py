"""Numbers, lengths, sizes and quantities as makers write them.

``1,234`` may be a thousand or a decimal: nothing here guesses. A number that can be read two ways is
``UnclearError`` unless the caller knows the decimal sign of its list.
"""

from __future__ import annotations

import math
import re
from functools import lru_cache
from typing import Literal

from analyser.stock.quantity import Quantity, Unit
from analyser.stock.words import WEIGHTS, NoUnitError, UnclearError, unit_of

MM = {"mm": 1.0, "cm": 10.0, "m": 1000.0, "in": 25.4, "inch": 25.4, "inches": 25.4, '"': 25.4, "''": 25.4,
      "″": 25.4, "”": 25.4, "ft": 304.8, "zoll": 25.4}  # fmt: skip


NUMBER = r"(?:\d+(?:[\u0020\u00a0\u202f\u2009]\d{3}(?!\d))*(?:[.,'’]\d+)*(?:[eE][+-]?\d+)?|[.,]\d+)"
_SIGNED = re.compile(rf"[+\-−–]?\s*{NUMBER}")
_THREE = re.compile(r"([1-9]\d{0,2})([.,])(\d{3})")
_DATE = re.compile(
    r"\b\d{4}-\d\d?-\d\d?|\b\d\d?([./-])\d\d?\1\d{2,4}\b"
    r"|\b(?:jan|feb|mar|mär|mrt|apr|mai|may|mei|jun|jul|aug|sep|oct|okt|nov|dec|dez|déc)[a-zé]*\b"
)
_LARGEST = 1e9  # nobody owns more of anything; beyond it a slip of the keyboard


def _bare(text: str) -> str:
    """The digits and signs alone: grouping blanks and apostrophes gone, every minus an ASCII one."""
    return re.sub(r"[\s'’]", "", text).replace("−", "-").replace("–", "-")


def decimal_sign_shown(text: str) -> str:
    """``","`` or ``"."`` where the numbers in a text leave no doubt which is their decimal sign, else ``""``.

    Examples
    --------
    >>> decimal_sign_shown("7,5 g"), decimal_sign_shown("1,234"), decimal_sign_shown("1,234.5")
    (',', '', '.')
    """
    for found in re.findall(NUMBER, text):
        bare = _bare(found)
        points, commas = bare.count("."), bare.count(",")
        if points + commas == 0 or _THREE.fullmatch(bare):
            continue
        if points and commas:
            return "." if bare.rfind(".") > bare.rfind(",") else ","
        if points + commas == 1:
            return "." if points else ","
        return "," if points else "."  # 1.234.567: points group, so the comma would be the decimal sign
    return ""


def can_be_two(text: str) -> bool:
    """Whether a number in a text can be read two ways: ``1,234`` or ``1.234``."""
    return any(_THREE.fullmatch(_bare(found)) for found in re.findall(NUMBER, text))


@lru_cache(maxsize=65536)
def number(text: str, decimal: str = "") -> float:
    """Read one number.

    Parameters
    ----------
    text : str
        Digits, a sign, thousands grouped by blank, apostrophe, comma or point.
    decimal : str
        The list's decimal sign where it is known, ``""`` where not: then only a number that can be read
        one way is read.

    Raises
    ------
    UnclearError
        If it is none, can be read two ways, or is not finite.

    Examples
    --------
    >>> number("1.234,5"), number("1,234", decimal=","), number("0,125")
    (1234.5, 1.234, 0.125)
    >>> number("1,234")
    Traceback (most recent call last):
    analyser.stock.words.UnclearError: '1,234' can be 1234 or 1.234; write 1234, or 1.2340
    """
    if not _SIGNED.fullmatch(text.strip()):
        raise UnclearError(text, "is not a number", "write digits, such as 12.5")
    bare = _bare(text.strip())
    sign, digits = (bare[0], bare[1:]) if bare[0] in "+-" else ("", bare)
    two_ways = _THREE.fullmatch(digits)
    if two_ways and not decimal:
        whole, part = two_ways[1], two_ways[3]
        mend = f"write {whole}{part}, or {whole}.{part}0"
        says = f"can be {whole}{part} or {whole}.{part}"
        raise UnclearError(text.strip(), says, mend)
    point = decimal if two_ways else decimal_sign_shown(digits) or decimal or "."
    group = "," if point == "." else "."
    head, _, tail = digits.partition(point)
    grouped = group not in head or re.fullmatch(rf"\d{{1,3}}(?:\{group}\d{{3}})+", head)
    if group in tail or point in tail or not grouped:
        raise UnclearError(
            text.strip(), "is not a number", "write digits and one decimal sign, such as 1234.5"
        )
    value = float(f"{sign}{head.replace(group, '') or '0'}" + (f".{tail}" if tail else ""))
    if not math.isfinite(value):
        raise UnclearError(text.strip(), "is beyond any number", "write what there is")
    return value


def amount_of(text: str, decimal: str = "") -> float:
    """Read a number that counts or weighs something: at least 0.

    Raises
    ------
    UnclearError
        As ``number``, and if it is negative or absurdly large.
    """
    value = number(text, decimal)
    return checked_amount(value, text)


def checked_amount(value: float, text: str) -> float:
    """``value`` if it can be an amount (finite, 0 to 1e9); raises ``UnclearError`` otherwise."""
    if not math.isfinite(value):
        raise UnclearError(text, "is not a finite number", "write what there is, or leave it empty")
    if value < 0:
        raise UnclearError(text, "is below zero", "write what there is, 0 if it is used up")
    if value > _LARGEST:
        raise UnclearError(text, "is more than anyone owns", "write what there is")
    return value


def without_fractions(text: str) -> str:
    """``1 1/2`` and ``1½`` as 1.5: the fractions makers write of tubes and inches."""
    for sign, value in (("½", "1/2"), ("¼", "1/4"), ("¾", "3/4")):
        text = text.replace(sign, f" {value}")
    return re.sub(
        r"(?:(\d+)\s+)?\b([1-7])/([248])(?!\d)", lambda m: f"{int(m[1] or 0) + int(m[2]) / int(m[3]):g}", text
    ).strip()


def length_mm(text: str, decimal: str = "") -> float:
    """Read a length with its unit (``cm``, ``mm``, ``in``) in millimetres.

    Raises
    ------
    UnclearError
        If it is none, has no unit or is not above 0 (an ``OptionError``: exit code 2).

    Examples
    --------
    >>> length_mm("18cm"), round(length_mm("7 1/2 in"), 3)
    (180.0, 190.5)
    """
    found = re.fullmatch(rf"([+\-−]?\s*{NUMBER})\s*([a-z\"'″”]*)\.?", without_fractions(text.strip().lower()))
    if not found or found[2] not in MM:
        raise UnclearError(text, "is no length", "write a number with its unit: 18cm, 180mm or 7in")
    millimetres = amount_of(found[1], decimal) * MM[found[2]]
    if millimetres >= 1e6:
        raise UnclearError(text, "is a kilometre or more", "write the length of a piece: 18cm, 180mm or 7in")
    if not millimetres > 0:
        raise UnclearError(text, "is no length", "write a length above zero: 18cm, 180mm or 7in")
    return millimetres


def looks_like_date(text: str) -> bool:
    """Whether a text is what a spreadsheet makes of ``11/0`` or ``1.5``: ``Nov 00``, ``01.05.2026``.

    Examples
    --------
    >>> looks_like_date("01. Mai"), looks_like_date("2000-11-01"), looks_like_date("11/0")
    (True, True, False)
    """
    return bool(_DATE.search(text.lower())) and any(sign.isdigit() for sign in text)


@lru_cache(maxsize=4096)
def size(text: str, *, bare_is_mm: bool = False) -> str:
    """Read a bead size: ``11/0``, ``11`` or ``4mm``; the answer is ``"11/0"`` or ``"4mm"``.

    Raises
    ------
    UnclearError
        If it is none (an ``OptionError``: exit code 2).

    Examples
    --------
    >>> size("11"), size("15-0"), size("4,0 mm")
    ('11/0', '15/0', '4mm')
    """
    told = text.strip().lower().removeprefix("size").removeprefix("no.").strip()
    found = re.fullmatch(r"(\d{1,2})\s*(?:[/\\-]\s*[0o]|[°º]|(?<=\d)o)", told)
    if found and 1 <= int(found[1]) <= 24:
        return f"{int(found[1])}/0"
    mend = "write 11/0 for a seed bead or 4mm for a larger one, in a column formatted as text"
    if looks_like_date(told):
        raise UnclearError(text, "looks like a date that a spreadsheet made of a size", mend)
    found = re.fullmatch(rf"({NUMBER})\s*(mm)?", told)
    if not found:
        raise UnclearError(text, "is not a bead size", mend)
    # A size in mm has at most two digits before the sign: 4,125 cannot be four thousand.
    value = number(found[1], decimal="," if "," in found[1] else ".")
    if found[2] or bare_is_mm:
        if not 0.5 <= value <= 60:
            raise UnclearError(text, "is not a bead size", mend)
        return f"{value:g}mm"
    if value.is_integer() and 5 <= value <= 24:
        return f"{int(value)}/0"
    raise UnclearError(text, f"may be {found[1]}/0 or {found[1]} mm", mend)


_PART = re.compile(rf"({NUMBER})\s*([^\W\d_]*|[\"'″”]+)\.?(?:\s+each)?")
_OF = re.compile(r"\s*(?:×|(?<=[\d\s])x(?=[\d\s])|\b(?:of|à|with|von|zu|de|van|mit)\b|@|\()\s*")
_TARE = re.compile(
    rf"=?\s*({NUMBER})\s*(g|oz)?\s*(?:gross|brutto|brut|bruto)?\s*[,;]?\s*(?:incl\.?|less|minus|-|−|–)?\s*"
    rf"(?:-|−|–|less|minus|tare|tara|tarra)\s*({NUMBER})\s*(g|oz)?\s*(?:tare|tara|tarra)?"
)
_ABOUT = re.compile(r"^(?:ca\.?|circa|about|approx\.?|etwa|env\.?|~|≈)\s*")
_NOTHING = {"none", "empty", "leer", "vide", "leeg", "used up", "sold out", "out"}
UNKNOWN = {"", "?", "-", "–", "—", "n/a", "na", "unknown", "unbekannt", "inconnu", "onbekend", "tbd"}


def _unit(word: str, text: str) -> tuple[Unit | Literal["mm", ""], float]:
    """Kind (a unit, ``"mm"`` of a strand, ``""`` where there is no word) and factor of a unit's word."""
    if not word:
        return "", 1.0
    if word in MM:
        return "mm", MM[word]
    kind = unit_of(word)
    if kind is None:
        mend = "use grams, beads, strands, hanks or tubes"
        raise UnclearError(text, f"has the unit {word!r}, which is not known", mend)
    return kind, WEIGHTS.get(word, 1.0)


@lru_cache(maxsize=65536)
def quantity(text: str, unit: Unit | None = None, decimal: str = "") -> Quantity | None:
    """Read a quantity: ``32 g``, ``3 tubes of 8 g``, ``1 hank of 12 strands of 50 cm``, ``52.3 - 12.1 g``.

    Parameters
    ----------
    text : str
        As written; empty or ``?`` is not stated.
    unit : str or None
        Unit of a bare number, from the heading or a column of units.
    decimal : str
        The list's decimal sign where it is known.

    Returns
    -------
    Quantity or None
        None where nothing is stated.

    Raises
    ------
    UnclearError
        If it cannot be read, is below zero, or has no unit.

    Examples
    --------
    >>> str(quantity("3 tubes of 8 g")), quantity("52.3 g gross, tare 12.1 g").grams
    ('3 tubes of 8 g', 40.2)
    """
    shown = text.strip()
    if shown.lower() in UNKNOWN:
        return None
    told = _ABOUT.sub("", without_fractions(shown.lower()))
    if told in _NOTHING:
        return Quantity(0.0, unit or "grams")
    weighed = _TARE.fullmatch(told)
    if weighed:
        factor = WEIGHTS[weighed[4] or weighed[2] or "g"]
        return net(amount_of(weighed[1], decimal) * factor, amount_of(weighed[3], decimal) * factor, shown)
    if re.match(rf"[-−–]\s*{NUMBER}", told):
        raise UnclearError(shown, "is below zero", "write what there is, 0 if it is used up")
    if re.fullmatch(r"[+-]?(?:nan|inf(?:inity)?)", told):
        raise UnclearError(shown, "is not a finite number", "write what there is, or leave it empty")
    found = [_PART.fullmatch(part.strip()) for part in _OF.split(told.rstrip(") ")) if part.strip()]
    parts = [part for part in found if part]
    if not parts or len(parts) < len(found):
        mend = "write a number and a unit: 32 g, 450 beads, 3 tubes of 8 g"
        raise UnclearError(shown, "is not a quantity", mend)
    numbers = [amount_of(part[1], decimal) for part in parts]
    kinds = [_unit(part[2], shown) for part in parts]
    kind: Unit | Literal["mm", ""] = kinds[0][0] or unit or ""
    if not kinds[0][0] and len(parts) > 1 and kind in ("", "grams", "beads"):
        kind = "tubes"  # 3 x 8 g
    if kind == "" or kind == "mm":
        raise NoUnitError(
            shown, "has no unit", "write grams, beads, strands, hanks or tubes beside the number"
        )
    count = numbers[0] * kinds[0][1]
    if len(parts) == 1:
        return Quantity(count, kind)
    return holding(count, kind, math.prod(numbers[1:]) * kinds[-1][1], kinds[-1][0] or "grams", shown)


def holding(count: float, kind: Unit, each: float, what: str, text: str) -> Quantity:
    """So many strands, hanks or tubes that hold ``each`` of grams, beads or mm.

    Raises
    ------
    UnclearError
        If that is no such unit, or no such content.
    """
    checked_amount(each, text)
    if kind in ("grams", "beads") or what not in ("grams", "beads", "mm"):
        mend = "write it as 3 tubes of 8 g or 2 strands of 100 beads"
        raise UnclearError(text, "does not say what one holds", mend)
    grams, beads, mm = (each if what == each_of else None for each_of in ("grams", "beads", "mm"))
    return Quantity(count, kind, grams, beads, mm)


def net(gross: float, tare: float, text: str) -> Quantity:
    """A lot weighed in its tube.

    Raises
    ------
    UnclearError
        If the tube weighs more than the whole.
    """
    if tare > gross:
        says = f"leaves less than nothing: {gross:g} g gross, {tare:g} g tare"
        raise UnclearError(text, says, "weigh tube and beads again")
    return Quantity(round(gross - tare, 6), "grams", gross_grams=gross, tare_grams=tare)
