"""What an audit says of a rope and of its photo, in words."""

from __future__ import annotations

from collections.abc import Collection, Sequence

from analyser.rope.several import LEAST_BEAD_PX, Unjudged, Why

_WHY: dict[Why, str] = {"small": "too small", "unclear": "its beads could not be told apart"}
_REMEDY: dict[Why, str] = {
    "small": f"its beads have under {LEAST_BEAD_PX} pixels; photograph it by itself, closer",
    "unclear": "its beads could not be told apart; photograph it by itself, in focus and even light",
}


def verdict(word: str, kinds: Collection[str]) -> str:
    """A verdict as a sentence without its stop, from the word and the kinds of its findings."""
    if word == "even":
        return "Even from end to end"
    if word == "uneven":
        return "Not even"
    if set(kinds) - {"slack"}:
        return "Check it: a small change was found"
    return "Check it: not all of it could be judged"


def unjudged(one: Unjudged) -> str:
    """What may be a rope, why it was not judged, and the remedy."""
    return f"this may be a rope and was not judged: {_REMEDY[one.why]}"


def unjudged_counts(things: Sequence[Unjudged]) -> list[str]:
    """How many things of a photo were not judged, a line for each reason."""
    lines = []
    for why, says in _WHY.items():
        count = sum(one.why == why for one in things)
        if count:
            thing = (
                "1 more thing that may be a rope" if count == 1 else f"{count} more things that may be ropes"
            )
            lines.append(f"{thing}, not judged: {says}")
    return lines
