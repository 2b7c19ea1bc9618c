"""How near a bead comes, in words."""

from __future__ import annotations

from analyser.colourway.matching import OFF_DE00, LeftOut, ShopFor, Verdict, verdict_of

_SEEN: dict[Verdict, str] = {
    "same": "not seen by most people side by side",
    "close": "seen by many side by side, accepted by most",
    "off": "seen by most people side by side",
    "different": "another colour to the eye",
}


def difference(de00: float, uncertainty_de00: float = 0.0) -> str:
    """A difference as a maker reads it: what people see, and how far that is known.

    >>> difference(3.1)
    'difference 3.1: seen by most people side by side'
    >>> difference(0.6, 3.0)
    'difference 0.6 as measured, known only to within 3.0: it may be seen by most people side by side'
    """
    seen = verdict_of(de00)
    allowed = verdict_of(max(de00, uncertainty_de00))
    known = f"known only to within {uncertainty_de00:.1f}"
    if seen == "different" and de00 - uncertainty_de00 < OFF_DE00:
        return f"difference {de00:.1f} as measured, {known}: near or another colour, hold them together"
    if allowed == seen:
        return f"difference {de00:.1f}: {_SEEN[seen]}"
    return f"difference {de00:.1f} as measured, {known}: it may be {_SEEN[allowed]}"


def shop_for(wanted: ShopFor) -> str:
    """What to look for in a shop."""
    best = "" if wanted.nearest_de00 is None else f" (the nearest differs by {wanted.nearest_de00:.1f})"
    return f"nothing in stock is near{best}: shop for {wanted.name}, about {wanted.hex}"


def left_out(what: LeftOut) -> str:
    """Rows of the list that were not matched, and why."""
    rows = "1 row" if what.rows == 1 else f"{what.rows} rows"
    match what.why:
        case "no-colour":
            return f"{rows} of {what.file} without a colour left out"
        case "no-quantity":
            return f"{rows} of unknown quantity left out"
        case "filters":
            return f"no bead of {what.file} is left after the filters"
