"""How near a bead comes, and how likely it is the one, in words."""

from __future__ import annotations

from collections.abc import Sequence

from analyser.colourway.matching import (
    CLOSE_DE00,
    POSSIBLE,
    LeftOut,
    Match,
    Matches,
    ShopFor,
    Verdict,
    verdict_of,
    within_doubt,
)
from analyser.phrases import figures

_SEEN: dict[Verdict, str] = {
    "same": "not seen by most people side by side",
    "close": "seen by many side by side, accepted by most",
    "off": "seen by most people side by side",
    "different": "another colour to the eye",
}

#: From a chance of this on one bead is named alone.
LIKELY = 0.5
#: Least chance, and how one says it: four in five of those told very likely are right, and more than half of
#: those told likely (``benchmarks/chances.py``).
_ODDS = ((0.8, "very likely"), (LIKELY, "likely"), (POSSIBLE, "possible"), (0.0, "unlikely"))


def difference(de00: float) -> str:
    """A difference as a maker reads it: what people see side by side.

    >>> difference(3.1)
    'difference 3: seen by most people side by side'
    """
    return f"difference {figures.difference(de00)}: {_SEEN[verdict_of(de00)]}"


def odds(chance: float) -> str:
    """A chance in a word or two.

    >>> odds(0.9), odds(0.6), odds(0.3), odds(0.02)
    ('very likely', 'likely', 'possible', 'unlikely')
    """
    return next(word for least, word in _ODDS if chance >= least)


def by_difference(de00: float, uncertainty_de00: float, chance: float) -> bool:
    """Whether a bead is told by its difference, which is known or plain, or by how likely it is."""
    return uncertainty_de00 <= CLOSE_DE00 or not within_doubt(de00, uncertainty_de00, chance)


def nearness(de00: float, uncertainty_de00: float, chance: float) -> str:
    """What is told of one bead for one colour, wherever the two are told together."""
    return difference(de00) if by_difference(de00, uncertainty_de00, chance) else odds(chance)


def bead(match: Match) -> str:
    """What is told of one bead."""
    return nearness(match.de00, match.uncertainty_de00, match.chance)


def colour(matches: Matches) -> str:
    """What to do about one colour, in a few words."""
    if matches.shop_for is not None or not matches.beads:
        return "no bead" if matches.shop_for is None else shop_for(matches.shop_for)
    first = matches.beads[0]
    if is_of_one(matches):
        return f"{first.bead.name}, {bead(first)}"
    names = [match.bead.name for match in matches.beads[:3] if match.chance >= POSSIBLE] or [first.bead.name]
    if len(names) > 1 and sum(match.chance for match in matches.beads[:2]) >= LIKELY:
        names = names[:2]
    both = {1: "it", 2: "both"}.get(len(names), "each")
    return f"{either(names)}: hold {both} to it"


def is_of_one(matches: Matches) -> bool:
    """Whether ``colour`` names one bead and tells no more than ``bead`` tells of it."""
    if matches.shop_for is not None or not matches.beads:
        return False
    first = matches.beads[0]
    return first.uncertainty_de00 <= CLOSE_DE00 or first.chance >= LIKELY


def either(names: Sequence[str]) -> str:
    """Names as alternatives.

    >>> either(["Brass bell", "Honey jar", "Rust"])
    'Brass bell, Honey jar or Rust'
    """
    return " or ".join([", ".join(names[:-1]), names[-1]] if len(names) > 1 else names)


def shop_for(wanted: ShopFor) -> str:
    """What to look for in a shop."""
    return f"none you own: shop for {wanted.name}, about {wanted.hex}"


def left_out(what: LeftOut) -> str:
    """Rows of the list that were not matched, and why."""
    rows = "1 row" if what.rows == 1 else f"{what.rows} rows"
    match what.why:
        case "no-colour":
            return f"{rows} of {what.file} without a colour left out"
        case "used-up":
            return f"{rows} of {what.file} used up, not offered"
        case "no-quantity":
            return f"{rows} of unknown quantity left out"
        case "filters":
            return f"no bead of {what.file} is left after the filters"
