"""A pair's measures as small bars with words.

The ends of the bars' scales are chosen so that usual pairs fill between a tenth and nine tenths of them; they
judge nothing.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from analyser.phrases.figures import difference, metres

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
                f"within {difference(fits[worst])} of its colours ({worst} furthest)",
            )
        )
    reads = float(pair["reads_to_m"])
    made.append(_bar("Pattern shows", reads / 6.0, f"to {metres(reads)}" if reads > 0 else "never"))
    delta_l = float(pair["delta_l"])
    lighter = "lighter" if delta_l > 0 else "darker"
    made.append(_bar("Light and dark", abs(delta_l) / 60.0, f"accent {abs(delta_l):.0f} L* {lighter}"))
    made.append(
        _bar("Colours apart", pair["de00"] / 60.0, f"difference {difference(pair['de00'])} side by side")
    )
    ratio = float(pair["luminance_contrast"])
    made.append(_bar("Luminance contrast", (ratio - 1.0) / 6.0, f"{ratio:.1f} to 1"))
    sight, least = min(pair["cvd_de00"].items(), key=lambda item: float(item[1]))
    made.append(_bar("To colour-deficient eyes", least / 60.0, f"{difference(least)} at the least ({sight})"))
    # An evening lamp is left out: what it does cannot be told well enough for a figure.
    under = float(pair["lights_de00"]["shop"])
    made.append(_bar("In shop light", under / 60.0, f"{difference(under)}, give or take 2"))
    harmony = float(pair["harmony"])
    made.append(
        _bar("Harmony", (harmony + 1.5) / 3.0, f"{harmony:+.1f}; likeness scores high, so read it last")
    )
    return tuple(made)


def figures(pair: Mapping[str, Any]) -> tuple[tuple[str, str], ...]:
    """The measures of a PAIR of the schema that its reasons do not tell: name and figure."""
    return (
        ("difference (CIEDE2000)", difference(pair["de00"])),
        *((f"contrast left at {d} m", difference(left)) for d, left in pair["seen_contrast"].items()),
        ("one colour to all eyes", f"from {metres(pair['blurs_from_m'])} on: {pair['far_hex']}"),
        *((f"difference for {kind} sight", difference(left)) for kind, left in pair["cvd_de00"].items()),
        ("difference in shop light", difference(pair["lights_de00"]["shop"])),
        ("under an evening lamp", "cannot be told from colours"),
        ("harmony (Ou & Luo 2006; rewards likeness)", f"{pair['harmony']:+.1f}"),
    )


def _bar(name: str, part: float, says: str) -> Bar:
    return Bar(name, min(1.0, max(0.0, float(part))), says)
