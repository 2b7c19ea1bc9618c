"""Plans along the rope in words: what is proposed, how far each stretch reads, how even a fade is."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

# What speaks of colours imports what measures them where it is called: a count needs none of it.
if TYPE_CHECKING:
    from analyser.colourway.plan_choice import PlanProposal
    from analyser.colourway.plan_seen import PlanSeen, StretchSeen
    from analyser.piece.planned_count import PlannedCount, PlannedNeed

NONE = {
    "fade": "no fade: the stock has no series of beads that goes between two colours of this photo in steps",
    "bands": "no bands: the stock has no second accent for this photo that is told from the first",
    "middle": "no other middle: the stock has no second body for this photo that is told from the first",
}
"""Why a plan of that kind could not be proposed."""

_EVEN = 1.25  # a largest step of up to so many times the mean one is told as even


def title(proposal: PlanProposal | None) -> str:
    """What a plan is, in one line without its full stop."""
    from analyser.colourway.plan_choice import BAND_ROUNDS

    if proposal is None:
        return "By your plan"
    names = [bead.name for bead in proposal.beads]
    if proposal.kind == "fade":
        over = f" over {_and(names[1:-1])}" if names[2:] else ""
        return f"A fade of the {proposal.role} from {names[0]}{over} to {names[-1]}"
    if proposal.kind == "bands":
        return f"Bands of {BAND_ROUNDS} rounds, the {proposal.role} in {_and(names)}"
    return f"The middle third of the {proposal.role} in {names[1]}, the ends in {names[0]}"


def sentences(seen: PlanSeen, names: Mapping[str, str], count: PlannedCount | None) -> list[str]:
    """What can be said of a planned rope, without capitals and full stops.

    Parameters
    ----------
    seen : PlanSeen
    names : mapping of str to str
        What to call each planned bead, by its key.
    count : PlannedCount or None
        None where nothing was counted.
    """
    found = [] if count is None else [stock(count.needs, names)]
    fade = fade_steps(seen, names)
    return [*(says for says in (*found, fade) if says), *(stretch(one, names) for one in seen.stretches)]


def fade_steps(seen: PlanSeen, names: Mapping[str, str]) -> str:
    """How even the fade is; empty where there is none."""
    from analyser.colourway.scores import SEEN_FROM_M
    from analyser.phrases.figures import metres

    largest, unevenness = seen.largest_step, seen.unevenness
    if largest is None or unevenness is None:
        return ""
    where = f"{names[largest.before]} to {names[largest.after]}"
    if largest.reads_to_m < SEEN_FROM_M:
        shows = "is not told apart at arm's length"
    else:
        to = metres(largest.reads_to_m)
        shows = f"stands out at arm's length by {largest.seen:.0f}, told apart at a glance to {to}"
    if len(seen.steps) == 1:
        return f"one step, {where}: it {shows}"
    even = "even steps" if unevenness <= _EVEN else f"steps up to {unevenness:.1f} times the mean"
    return f"{len(seen.steps)} {even}: the largest, {where}, {shows}"


def stretch(one: StretchSeen, names: Mapping[str, str]) -> str:
    """How far a stretch reads."""
    from analyser.phrases.figures import metres

    accent, body = names[one.beads["accent"]], names[one.beads["body"]]
    reach = one.measures.reads_to_m
    shows = f"the pattern reads to {metres(reach)}" if reach > 0 else "the pattern reads nowhere"
    return f"{accent} on {body}, {one.share:.0%} of the rope: {shows}"


def chart_row(part: str, first: int, last: int, runs: Sequence[tuple[int, Sequence[int]]]) -> str:
    """A row of the chart to weave by as it is read aloud, beads by their numbers.

    Parameters
    ----------
    part : str
        Of the rope.
    first, last : int
    runs : sequence of (int, sequence of int)
        How often a stitch comes, and its beads in stringing order.

    >>> chart_row("Pattern", 9, 9, [(1, [3, 1, 2]), (2, [2, 1, 2])])
    'Pattern, row 9: 3, 1, 2; 2 times 2, 1, 2.'
    """
    rows = f"row {first}" if first == last else f"rows {first} to {last}, {last - first + 1} times"
    stitches = [
        (f"{times} times " if times > 1 else "") + ", ".join(str(number) for number in beads)
        for times, beads in runs
    ]
    return f"{part}, {rows}: {'; '.join(stitches)}."


def stock(needs: Sequence[PlannedNeed], names: Mapping[str, str]) -> str:
    """Whether the stock holds every bead; empty where no bead of it is known."""
    short = [f"{names[need.bead.key]} {need.held.short}" for need in needs if need.held and need.held.short]
    if short:
        return f"beads short: {_and(short)}"
    held = [need.held.enough if need.held else None for need in needs]
    if all(held):
        return "one lot of each bead holds enough"
    unknown = [names[need.bead.key] for need in needs if need.held is not None and need.held.enough is None]
    return f"the list does not say whether there is enough of {_and(unknown)}" if unknown else ""


def _and(words: Sequence[str]) -> str:
    return " and ".join(filter(None, (", ".join(words[:-1]), words[-1])))
