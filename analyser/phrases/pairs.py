"""What a pair is, in sentences a maker would say."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from analyser.colour import viewing
from analyser.colour.names import everyday_name
from analyser.colourway.companions import Companions, ThreadShows
from analyser.colourway.matching import Verdict, verdict_of
from analyser.colourway.mixing import Mix
from analyser.colourway.pairing import Pair
from analyser.colourway.palette import PaletteColour
from analyser.colourway.reasons import (
    Finishes,
    Fit,
    InStock,
    Lamp,
    Reads,
    Reason,
    Sight,
    Value,
    Wear,
)
from analyser.colourway.worn_on import Worn
from analyser.phrases.figures import difference, metres
from analyser.phrases.matches import LIKELY, by_difference, nearness, odds

#: Common practice, no source.
_WEAR = {
    "galvanised": "galvanised coats rub off with skin and sweat: poor on a wrist unless sealed",
    "dyed": "dyed beads fade in sun and may bleed: keep them off a wrist and out of a window",
    "silver-lined": "silver linings darken with sweat and sulphur: better round a neck than a wrist",
    "colour-lined": "linings may be dyed and fade in sun",
    "matte": "matte beads darken where skin oil gets on them, and come back when washed",
    "lustre": "lustre coats rub off slowly",
    "iridescent": "iridescent coats wear at the edges first",
}

#: The wishes for contrast.
CONTRAST = {
    "soft": "soft: a quiet pattern at arm's length",
    "clear": "clear: a plain pattern at arm's length",
    "bold": "bold: a strong pattern at arm's length",
}

_METALS = {"warm": "gold, brass or copper", "cool": "silver or steel"}


def reason(why: Reason) -> str:
    """One reason as a sentence without its capital and full stop."""
    match why:
        case Fit():
            return f"for the {why.colour}: {nearness(why.de00, why.uncertainty_de00, why.chance)}"
        case Reads():
            return reads(why.reads_to_m) + (f"; wanted {CONTRAST[why.wanted]}" if why.wanted else "")
        case Value():
            lighter = "lighter" if why.delta_l > 0 else "darker"
            return (
                f"the accent is {abs(why.delta_l):.0f} L* {lighter} than the body, luminance contrast "
                f"{why.luminance_contrast:.1f} to 1"
            )
        case InStock():
            return _in_stock(why)
        case Finishes(shines="accent"):
            return "the accent shines where the body is quiet: the finishes help it stand out"
        case Finishes():
            return "the body shines round a quiet accent: the finishes help it stand out"
        case Sight():
            return _sight(why)
        case Lamp(light="shop"):
            return (
                f"in shop light the two come nearer ({difference(why.de00)} instead of "
                f"{difference(why.daylight_de00)}, give or take 2: real beads stray from the estimate)"
            )
        case Lamp():
            return (
                "under a warm evening lamp the two may come nearer, which cannot be told from their colours: "
                "hold them under one"
            )
        case Wear():
            return _WEAR[why.finish]


def title(names: Sequence[str]) -> str:
    """The beads of a colourway: accent, body, then those of further letters.

    >>> title(["Coral dusk", "Driftwood"])
    'Coral dusk on Driftwood'
    >>> title(["Coral dusk", "Driftwood", "Honey jar", "Oatmeal"])
    'Coral dusk on Driftwood, with Honey jar and Oatmeal'
    """
    accent_on_body, others = " on ".join(names[:2]), names[2:]
    return accent_on_body + (f", with {' and '.join(others)}" if others else "")


def unnamed(roles: Sequence[str]) -> str:
    """That letters of a motif have no bead, and what that means for the figures; empty where all have one.

    >>> unnamed(["third"])
    'third: no bead was named, so the figures take it as body'
    """
    if not roles:
        return ""
    taken = "it" if len(roles) == 1 else "them"
    return f"{', '.join(roles)}: no bead was named, so the figures take {taken} as body"


def line(pair: Pair, on: Worn | None = None) -> str:
    """A pair in one line: how it fits, whether it is enough, how far it reads."""
    fits = [why for why in pair.reasons if isinstance(why, Fit)]
    parts = [_nearness(fits)] if fits else []
    held = next((why for why in pair.reasons if isinstance(why, InStock)), None)
    if held is not None:
        short = " and ".join(f"{one.bead.name} {one.missing} short" for one in held.short)
        unknown = "no bead for a letter of the motif" if held.unfilled else "quantity not in the list"
        parts.append({True: "enough", False: short, None: unknown}[held.enough])
    parts.append(_reach(pair.measures.reads_to_m))
    if on is not None:
        parts.append(_ON[on.kind])
    return ", ".join(parts)


def _nearness(fits: Sequence[Fit]) -> str:
    """How near the bead comes that fits worst: told as in its own colour's answer."""
    plain = [why for why in fits if by_difference(why.de00, why.uncertainty_de00, why.chance)]
    if plain:
        worst = max(plain, key=lambda why: why.de00)
        verdict = verdict_of(worst.de00)
        if verdict in ("off", "different") or len(plain) == len(fits):
            says = _NEARNESS[verdict]
            return f"{worst.role} {says}" if verdict in ("off", "different") else says
    least = min((why for why in fits if why not in plain), key=lambda why: why.chance)
    alike = least.chance >= LIKELY or all(why.chance < LIKELY for why in fits)
    return f"{odds(least.chance)} match" if alike else f"{least.role} {odds(least.chance)}"


_NEARNESS: dict[Verdict, str] = {
    "same": "the same colour",
    "close": "close",
    "off": "a shade off",
    "different": "another colour",
}

_ON = {
    "blends-in": "blends in",
    "floats": "accents float",
    "answers": "answers the cloth",
    "stands-out": "stands out",
    "told-apart": "told apart",
}


def reads(reads_to_m: float) -> str:
    """How far a pattern reads at a glance.

    >>> reads(1.8)
    'reads across a table (at a glance to about 2 m)'
    >>> reads(0.0)
    'never reads as a pattern'
    """
    reach = _reach(reads_to_m)
    return f"{reach} (at a glance to {metres(reads_to_m)})" if reach.startswith("reads") else reach


def far(reads_to_m: float, blurs_from_m: float) -> str:
    """From where a pattern is one colour; the colour follows.

    >>> far(2.4, 6.1)
    'At a glance it reads to about 2.5 m; to sharp sight it is one colour from about 6 m on'
    >>> far(0.0, 0.0)
    'It is one colour from anywhere'
    """
    if blurs_from_m <= 0.0:
        return "It is one colour from anywhere"
    glance = f"At a glance it reads to {metres(reads_to_m)}; to" if reads_to_m > 0.0 else "To"
    return f"{glance} sharp sight it is one colour from {metres(blurs_from_m)} on"


def _reach(reads_to_m: float) -> str:
    reached = [says for says, metres in viewing.DISTANCES_M.items() if reads_to_m >= metres]
    if not reached:
        return "never reads as a pattern" if reads_to_m < 0.1 else "blurs even in the hand"
    return f"reads {reached[-1]}"


def _in_stock(why: InStock) -> str:
    if why.unfilled:
        return "no bead of the list stands for another colour of the photo: a letter of the motif has none"
    if why.enough is None:
        names = " and ".join(bead.name for bead in why.unknown)
        return f"whether the box holds enough is not known: the list has no quantity of {names}"
    if why.enough:
        return "one lot of each holds enough"
    parts = []
    for short in why.short:
        bead = short.bead
        name = f"{bead.name} (lot {bead.lot})" if bead.lot else bead.name
        parts.append(f"{name} may be {short.missing} short of {short.needed}")
    return "not enough in one lot: " + " and ".join(parts)


def _sight(why: Sight) -> str:
    # One man in twelve and one woman in two hundred: common figures for red-green deficient sight.
    who = "about one man in twelve and one woman in two hundred sees red and green less apart"
    if why.sight == "tritan":
        who = "few see blue and yellow less apart, but age and yellow light do the same"
    return (
        f"for some eyes ({why.sight}: difference {difference(why.de00)} instead of "
        f"{difference(why.usual_de00)}) the two come close; {who}"
    )


def worn(on: Worn) -> str:
    """How a rope and what it is worn on go together."""
    afar = f"from 1 to 2 m the rope as a whole differs from the ground by {difference(on.rope_de00)}"
    match on.kind:
        case "blends-in":
            return f"it blends into what it is worn on: {afar}"
        case "floats":
            return (
                f"the body is the ground's own colour and vanishes on it, the accents seem to float; {afar}"
            )
        case "answers":
            nearer = on.accent_de00 < on.body_de00
            role, off = ("accent", on.accent_de00) if nearer else ("body", on.body_de00)
            answers = f"the {role} answers what it is worn on (difference {difference(off)})"
            return f"{answers}, the other stays apart; {afar}"
        case "stands-out":
            return f"it stands out from what it is worn on: {afar}"
        case "told-apart":
            return f"it is told from what it is worn on without standing out: {afar}"


def thread(shows: ThreadShows) -> str:
    """What a thread does to a rope."""
    match shows.kind:
        case "hides":
            says = "the thread hides in the body"
        case "lighter":
            says = (
                f"the thread is {shows.lighter_l:.0f} L* lighter than the body and shows as specks between "
                "the beads"
            )
        case "other-colour":
            says = (
                f"the thread is another colour than the body (difference {difference(shows.de00)}) and shows "
                "between the beads"
            )
    if shows.clear:
        clear = " and ".join(bead.name for bead in shows.clear)
        says += f"; it shines through {clear} and shifts them towards its own colour"
    return says


def company(with_it: Companions, colours: Sequence[PaletteColour]) -> dict[str, str]:
    """What goes with a pair, a sentence for each part there is: ``third``, ``end``, ``metal``, ``thread``."""
    says = {}
    if with_it.third is not None and with_it.third_for is not None:
        says["third"] = (
            f"a third colour: {with_it.third.name}, for the {colours[with_it.third_for].name} of the photo"
        )
    if with_it.end_bead is not None:
        like = "the rope's own" if with_it.end_like == "rope" else "the accent"
        near = f"close to {like}" if with_it.end_is_close else f"the nearest there is to {like}"
        says["end"] = f"end beads: {with_it.end_bead.name} {with_it.end_bead.size}, {near}"
    says["metal"] = f"clasp and rings in a {with_it.metal} tone: {_METALS[with_it.metal]}"
    name = everyday_name(np.array(with_it.thread_lab))
    says["thread"] = f"thread in the body's colour or one shade darker ({name}, {with_it.thread_hex})"
    return says


def mix(found: Mix) -> str:
    """Two beads that read as a colour."""
    return (
        f"{found.one.name} and {found.two.name}, strung in turn in the body, read as this colour at a glance "
        f"from {metres(found.blends_from_m)} on; sharp sight tells them apart to {metres(found.blurs_from_m)}"
    )
