"""What an audit says of a rope and of its photo, in words."""

from __future__ import annotations

from collections.abc import Collection, Sequence

from analyser.audit.verdict import Piece
from analyser.rope.seeing import Cause, Unseen
from analyser.rope.several import LEAST_BEAD_PX, Unjudged, Why

_WHY: dict[Why, str] = {"small": "too small", "unclear": "its beads could not be told apart"}
_REMEDY: dict[Why, str] = {
    "small": f"its beads have under {LEAST_BEAD_PX} pixels; photograph it by itself, closer",
    "unclear": "its beads could not be told apart; photograph it by itself, in focus and even light",
}

_UNSEEN: dict[Cause, str] = {
    "shadow": "lies in deep shadow; photograph it again in even light, such as shade out of doors",
    "blur": "is out of focus; photograph it again from straight above, with all of it in focus",
    "burnt": "is burnt out; photograph it again with less light or exposure",
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


def unseen(one: Unseen) -> str:
    """How much of a rope was seen too poorly to be called even, where, why, and the remedy."""
    where = f"between {100 * one.start:.0f} and {100 * one.stop:.0f} % of the length"
    return f"{100 * one.share:.0f} % of the rope, {where}, {_UNSEEN[one.cause]}"


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


def notes(piece: Piece) -> list[str]:
    """What could not be judged in a piece and its photo."""
    return [*unjudged_counts(piece.unjudged), *map(unseen, piece.unseen), *piece.notes]
