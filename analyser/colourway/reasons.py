"""Why a pair is proposed, and what to mind: typed values, which ``phrases.pairs`` puts into words.

Thresholds from which a warning is worth giving are common practice, no single source; the figures come from
``measures``.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import ClassVar, Literal

from analyser.colourway.measures import Measures
from analyser.stock.bead import Bead
from analyser.stock.lots import sure_beads

Role = Literal["accent", "body"]

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
#: Finishes apart by this many steps help a pattern stand out.
SHINE_APART = 2
#: Finishes that change in wear, the most telling first.
WEARS = ("galvanised", "dyed", "silver-lined", "colour-lined", "matte", "lustre", "iridescent")
#: Colour-deficient sight is warned of below this CIEDE2000, unless most of the usual difference is left.
_STILL_APART_DE00, _MOST_OF_IT = 10.0, 0.6
#: A lamp is warned of when it seems to take so much CIEDE2000, and such a part of the difference in daylight:
#: a tenth more than 2 and 0.15, which are worth a warning, so that few are false (``benchmarks/lamps.py``).
LAMP_TAKES_DE00, LAMP_TAKES_PART = 2.2, 0.165


@dataclass(frozen=True, slots=True)
class Fit:
    """How near a bead comes to the photo's colour it stands for, how well that is known, how likely it is."""

    kind: ClassVar[str] = "fit"
    role: str
    colour: str
    de00: float
    uncertainty_de00: float
    chance: float


@dataclass(frozen=True, slots=True)
class Reads:
    """How far the pattern reads; ``wanted`` is the wish for contrast, None where there was none."""

    kind: ClassVar[str] = "reads"
    reads_to_m: float
    wanted: str | None = None


@dataclass(frozen=True, slots=True)
class Value:
    """The difference in value, which a maker squints for: L* of the accent above the body's."""

    kind: ClassVar[str] = "value"
    delta_l: float
    luminance_contrast: float


@dataclass(frozen=True, slots=True)
class Short:
    """A lot that may hold too few: beads missing by the low end, of those needed."""

    bead: Bead
    missing: int
    needed: int


@dataclass(frozen=True, slots=True)
class InStock:
    """Whether one lot of each holds enough; None where the list has no quantity, or a role no bead."""

    kind: ClassVar[str] = "stock"
    enough: bool | None
    short: tuple[Short, ...] = ()
    unknown: tuple[Bead, ...] = ()
    unfilled: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Finishes:
    """The finishes help the pattern: one of the two shines where the other is quiet."""

    kind: ClassVar[str] = "finishes"
    shines: Role


@dataclass(frozen=True, slots=True)
class Sight:
    """The two come close for colour-deficient sight; no medical statement."""

    kind: ClassVar[str] = "sight"
    sight: str
    de00: float
    usual_de00: float


@dataclass(frozen=True, slots=True)
class Lamp:
    """A lamp brings the two nearer: told well for shop light, not for an evening lamp."""

    kind: ClassVar[str] = "lamp"
    light: str
    de00: float
    daylight_de00: float


@dataclass(frozen=True, slots=True)
class Wear:
    """A finish that changes in wear."""

    kind: ClassVar[str] = "wear"
    finish: str


Reason = Fit | Reads | Value | InStock | Finishes | Sight | Lamp | Wear


def shine(bead: Bead) -> int:
    """0 matte, 1 gloss, 2 sheen, 3 mirror; an unstated finish counts as gloss."""
    if "matte" in bead.finishes:
        return 0
    return _SHINE.get(bead.finish or "opaque", 1)


def of_measures(
    measures: Measures, accent: Bead | None, body: Bead | None, wanted: str | None = None
) -> tuple[Reason, ...]:
    """What can be said of a pair whatever photo it is for, the strongest first."""
    found: list[Reason | None] = [
        Reads(measures.reads_to_m, wanted),
        Value(measures.delta_l, measures.luminance_contrast),
    ]
    if accent and body:
        found.append(_finishes(accent, body))
    found.extend([_sight(measures), _lamp(measures)])
    found.extend(_wear(bead) for bead in (accent, body) if bead)
    return tuple(dict.fromkeys(reason for reason in found if reason is not None))


def in_stock(beads: Mapping[str, Bead], needs: Mapping[str, int] | None, enough: bool | None) -> InStock:
    """Whether the lots hold what a piece needs, and which fall short."""
    short = []
    for role, bead in beads.items():
        sure, need = sure_beads(bead), (needs or {}).get(role, 0)
        if sure is not None and sure < need:
            short.append(Short(bead, need - sure, need))
    unknown = tuple(bead for bead in beads.values() if sure_beads(bead) is None)
    return InStock(enough, tuple(short), unknown, tuple(role for role in needs or {} if role not in beads))


def _finishes(accent: Bead, body: Bead) -> Finishes | None:
    step = shine(accent) - shine(body)
    if abs(step) < SHINE_APART:
        return None
    return Finishes("accent" if step > 0 else "body")


def _wear(bead: Bead) -> Wear | None:
    stated = {*bead.finishes, bead.finish}
    return next((Wear(finish) for finish in WEARS if finish in stated), None)


def _sight(measures: Measures) -> Sight | None:
    sight, least = min(measures.cvd_de00.items(), key=lambda item: item[1])
    if least >= _STILL_APART_DE00 or least >= _MOST_OF_IT * measures.de00:
        return None
    return Sight(sight, least, measures.de00)


def _lamp(measures: Measures) -> Lamp | None:
    daylight = measures.lights_de00["daylight"]
    for light in ("shop", "evening"):  # what is known well comes first
        under = measures.lights_de00[light]
        if daylight - under >= max(LAMP_TAKES_DE00, LAMP_TAKES_PART * daylight):
            return Lamp(light, under, daylight)
    return None
