"""What a pair is, in sentences a maker would say.

Finish, wear and distance words are common practice, no single source; the figures beside them come from
``measures``.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from analyser.colourway.matching import in_words
from analyser.colourway.palette import PaletteColour
from analyser.stock.bead import Bead

if TYPE_CHECKING:
    from analyser.colourway.measures import Measures
    from analyser.colourway.pairing import Pair

#: Distances in metres at which a piece is looked at, and how one says them.
DISTANCES = ((0.35, "in the hand"), (0.6, "at arm's length"), (1.5, "across a table"), (4.0, "across a room"))

#: How strongly a finish throws light back in one direction: 0 matte to 3 mirror.
_SHINE = {
    "matte": 0,
    "dyed": 1,
    "opaque": 1,
    "transparent": 1,
    "colour-lined": 1,
    "lustre": 2,
    "iridescent": 2,
    "silver-lined": 3,
    "metallic": 3,
    "galvanised": 3,
}

#: Finish -> what becomes of it in wear; the first that fits a bead is said.
_WEAR = {
    "galvanised": "galvanised coats rub off with skin and sweat: poor on a wrist unless sealed",
    "dyed": "dyed beads fade in sun and may bleed: keep them off a wrist and out of a window",
    "silver-lined": "silver linings darken with sweat and sulphur: better round a neck than a wrist",
    "colour-lined": "linings may be dyed and fade in sun",
    "matte": "matte beads darken where skin oil gets on them, and come back when washed",
    "lustre": "lustre coats rub off slowly",
    "iridescent": "iridescent coats wear at the edges first",
}


def shine(bead: Bead) -> int:
    """0 matte, 1 gloss, 2 sheen, 3 mirror; an unstated finish counts as gloss."""
    if "matte" in bead.finishes:
        return 0
    return _SHINE.get(bead.finish or "opaque", 1)


def distance(reads_to_m: float) -> str:
    """How far a pattern reads, in words.

    >>> distance(1.8)
    'reads across a table (to about 1.8 m)'
    >>> distance(0.0)
    'never reads as a pattern'
    """
    reached = [says for metres, says in DISTANCES if reads_to_m >= metres]
    if not reached:
        return "never reads as a pattern" if reads_to_m < 0.1 else "blurs even in the hand"
    return f"reads {reached[-1]} (to about {reads_to_m:.1f} m)"


def finishes(accent: Bead, body: Bead) -> str | None:
    """What the two finishes do to each other, None where they are alike."""
    step = shine(accent) - shine(body)
    if step >= 2:
        return "the accent shines where the body is quiet: the finishes help it stand out"
    if step <= -2:
        return "the body shines round a quiet accent: the finishes help it stand out"
    return None


def wear(bead: Bead) -> str | None:
    """One line on how the finish wears, None where it lasts."""
    stated = set(bead.finishes) | ({bead.finish} if bead.finish else set())
    return next((line for finish, line in _WEAR.items() if finish in stated), None)


def colour_vision(measures: Measures) -> str | None:
    """A warning where the two come close for colour-deficient sight; no medical statement.

    About one man in twelve and one woman in two hundred has red-green deficient sight (common figures).
    """
    least = min(measures.cvd_de00, key=lambda kind: measures.cvd_de00[kind])
    value = measures.cvd_de00[least]
    if value >= 10 or value >= 0.6 * measures.de00:
        return None
    who = "about one man in twelve and one woman in two hundred sees red and green less apart"
    if least == "tritan":
        who = "few see blue and yellow less apart, but age and yellow light do the same"
    return (
        f"for some eyes ({least}: difference {value:.0f} instead of {measures.de00:.0f}) the two come close; "
        f"{who}"
    )


def lamp(measures: Measures) -> str | None:
    """A warning where a lamp brings the two together; never a promise."""
    daylight = measures.lights_de00["daylight"]
    light, value = min(measures.lights_de00.items(), key=lambda item: item[1])
    if daylight - value < max(2.0, 0.15 * daylight):
        return None
    where = {"shop": "in shop light", "evening": "under a warm evening lamp"}[light]
    return (
        f"{where} the two come nearer ({value:.0f} instead of {daylight:.0f}, give or take 3: real beads "
        "stray from the estimate)"
    )


def of_measures(measures: Measures, accent: Bead | None, body: Bead | None) -> list[str]:
    """What can be said of a pair whatever photo it is for, the strongest first."""
    lines: list[str | None] = [distance(measures.reads_to_m), lightness(measures)]
    if accent and body:
        lines.append(finishes(accent, body))
    lines.extend([colour_vision(measures), lamp(measures)])
    lines.extend(wear(bead) for bead in (accent, body) if bead)
    return list(dict.fromkeys(line for line in lines if line))


def lightness(measures: Measures) -> str:
    """The difference in value, which a maker squints for."""
    lighter = "lighter" if measures.delta_l > 0 else "darker"
    return (
        f"the accent is {abs(measures.delta_l):.0f} L* {lighter} than the body, luminance contrast "
        f"{measures.luminance_contrast:.1f} to 1"
    )


def with_reasons(pair: Pair, colours: Sequence[PaletteColour], wish: str) -> Pair:
    """The pair with its reasons in words, the strongest first."""
    measures = pair.measures
    accent_for, body_for = (colours[pair.stands_for[role]] for role in ("accent", "body"))
    reasons = [
        f"for the {colour.name}: {in_words(pair.fit_de00[role], colour.uncertainty_de00)}"
        for role, colour in (("accent", accent_for), ("body", body_for))
    ]
    said = of_measures(measures, pair.accent, pair.body)
    reasons.append(f"{said[0]}; wanted {wish}")
    reasons.append(said[1])
    if pair.enough is False:
        reasons.append(_short(pair))
    elif pair.enough:
        reasons.append("one lot of each holds enough")
    elif pair.needs is not None:
        reasons.append("whether the box holds enough is not known: a quantity is missing in the list")
    return replace(pair, reasons=(*reasons, *said[2:]))


def _short(pair: Pair) -> str:
    parts = []
    for role, bead in (("accent", pair.accent), ("body", pair.body)):
        amount, need = bead.amount(), (pair.needs or {}).get(role, 0)
        if amount is not None and amount.low < need:
            parts.append(f"{bead.name} (lot {bead.lot})" if bead.lot else bead.name)
            parts[-1] += f" may be {need - amount.low} short of {need}"
    return "not enough in one lot: " + " and ".join(parts)
