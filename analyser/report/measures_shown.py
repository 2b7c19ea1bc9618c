"""A pair's measures as small bars with words, and how sure a photo's colours are, in words.

The ends of the bars' scales are chosen so that usual pairs fill between a tenth and nine tenths of them; they
judge nothing.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

SCALES = (
    ("Fit to the photo", "no difference at all, an empty one 10 CIEDE2000 or more"),
    ("Pattern shows", "to 6 m"),
    ("Light and dark", "60 steps of L*"),
    ("Colours apart", "60 CIEDE2000, as with the two beneath"),
    ("Luminance contrast", "7 to 1"),
    ("Harmony", "from -1.5 to 1.5"),
)
"""What a full bar means, by measure."""


@dataclass(frozen=True, slots=True)
class Bar:
    """One measure of a pair: its name, how much of the bar it fills (0 to 1), its value in words."""

    name: str
    part: float
    says: str


def bars(pair: Mapping[str, Any]) -> tuple[Bar, ...]:
    """The bars of a PAIR of the schema; the fit only where the pair has one."""
    made = []
    fits = pair.get("fit_de00") or {}
    if fits:
        worst = max(fits, key=lambda role: float(fits[role]))
        made.append(
            _bar(
                "Fit to the photo",
                1.0 - fits[worst] / 10.0,
                f"within {fits[worst]:.1f} of its colours ({worst} furthest)",
            )
        )
    reads = float(pair["reads_to_m"])
    made.append(_bar("Pattern shows", reads / 6.0, f"to {reads:.1f} m" if reads > 0 else "never"))
    delta_l = float(pair["delta_l"])
    lighter = "lighter" if delta_l > 0 else "darker"
    made.append(_bar("Light and dark", abs(delta_l) / 60.0, f"accent {abs(delta_l):.0f} L* {lighter}"))
    made.append(_bar("Colours apart", pair["de00"] / 60.0, f"difference {pair['de00']:.0f} in the hand"))
    ratio = float(pair["luminance_contrast"])
    made.append(_bar("Luminance contrast", (ratio - 1.0) / 6.0, f"{ratio:.1f} to 1"))
    sight, least = min(pair["cvd_de00"].items(), key=lambda item: float(item[1]))
    made.append(_bar("To colour-deficient eyes", least / 60.0, f"{least:.0f} at the least ({sight})"))
    light, under = min(pair["lights_de00"].items(), key=lambda item: float(item[1]))
    made.append(
        _bar("Under other lamps", under / 60.0, f"{under:.0f} at the least ({light}), give or take 3")
    )
    harmony = float(pair["harmony"])
    made.append(
        _bar("Harmony", (harmony + 1.5) / 3.0, f"{harmony:+.2f}; likeness scores high, so read it last")
    )
    return tuple(made)


def _bar(name: str, part: float, says: str) -> Bar:
    return Bar(name, min(1.0, max(0.0, float(part))), says)


def sentence(parts: Sequence[str]) -> str:
    """Reasons joined to one sentence.

    >>> sentence(["reads across a table", "one lot holds enough"])
    'Reads across a table; one lot holds enough.'
    """
    text = "; ".join(part.rstrip(".") for part in parts if part)
    return text[:1].upper() + text[1:] + "." if text else ""


def how_sure(calibration: Mapping[str, Any]) -> str:
    """How far the colours of a photo can be trusted, from CAL of the schema."""
    means = {
        "chart": "The colours were read against the 24-patch chart in the photo",
        "grey-card": "The colours were read against the grey card in the photo",
        "sheet": "The colours were read against the photo sheet in the photo",
        "white-card": "The colours were read against the white card in the photo",
        "paper": "The colours were read against white paper, whose own tint is not known",
        "none": "Nothing in the photo says what colour its light was: its colours are the camera’s",
    }[calibration["method"]]
    within = float(calibration["uncertainty_de00"])
    # The ends of 'accepted by half' and of 'small' differences, as for matches.
    if within <= 1.8:
        use = "near enough to match beads by it"
    elif within <= 5.0:
        use = "good for choosing among beads; lay the real ones on the real cloth before you string"
    else:
        use = (
            "a first hint: hold the real beads to the real thing, in daylight, or photograph it again with a "
            "white or grey card"
        )
    return f"{means}. About two thirds of them are right to within {within:.1f} CIEDE2000: {use}."
