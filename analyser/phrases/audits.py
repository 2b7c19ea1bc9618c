"""What an audit says of a rope and of its photo, in words: each finding, where it is and what to do about it.

Places are told from the nearer end. Unpicking goes round by round from the end worked last, which may be the
other one; where it is not known, the sentence leaves it to the maker, who knows.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence

from analyser.audit.looks_planned import LooksPlanned
from analyser.audit.plan_faults import OffPlan
from analyser.audit.planned import PlanPart
from analyser.audit.ruler import Ruler
from analyser.audit.verdict import Finding, Kind, LotChanged, Piece, PlainRound, SlackStretch, StrayBead
from analyser.rope.ends import End
from analyser.rope.seeing import Cause, Unseen
from analyser.rope.several import LEAST_BEAD_PX, Unjudged, Why

#: The kinds of findings.
KINDS: dict[Kind, str] = {
    "lot-change": "Change of lot",
    "stray-bead": "Stray bead",
    "plain-round": "Plain round",
    "slack": "Slack tension",
    "plan-off": "Off the plan",
}

FADE = "fade the lots 3:1, 1:1, 1:3"

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


def verdict(word: str, kinds: Collection[str], *, asked: bool = False) -> str:
    """A verdict as a sentence without its stop, from the word and the kinds of its findings.

    ``asked`` where a course of colours looks planned and no plan was told.
    """
    if word == "even":
        return "Even from end to end"
    if word == "uneven":
        return "Not even"
    if set(kinds) - {"slack"}:
        return "Check it: a small change was found"
    if asked:
        return "Check it: its colours change along the rope as if planned"
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
    """What could not be judged in a piece and its photo, and what advice to unpick rests on."""
    unpicked = any(one.kind != "slack" for one in piece.findings)
    base = [base_seen(piece.ruler)] if unpicked else []
    poor = [*unjudged_counts(piece.unjudged), *map(unseen, piece.unseen)]
    course = [] if piece.asked is None else [looks_planned(piece.asked, piece.ruler)]
    return [*course, *poor, *piece.notes, *filter(None, base)]


def finding(found: Finding, ruler: Ruler) -> str:
    """What was found, where, and the remedy: one sentence without its capital and full stop."""
    role, at, about = found.role, found.at, found.about
    match about:
        case LotChanged(sheen="plain"):
            bead = "" if about.bead is None else f" {about.bead}"
            where = f"the {role}{bead} changes lot {place(at, ruler)} (CIEDE2000 {about.de00:.1f})"
            return f"{where}; {unpick(at, ruler)} and {FADE}"
        case LotChanged():
            return (
                f"the {role} looks {about.sheen} and seems to change {place(at, ruler)} (CIEDE2000 "
                f"{about.de00:.1f}); such beads change with the angle: photograph the rope again turned by "
                "90 degrees before unpicking anything"
            )
        case StrayBead(bead=None, wanted=None):
            return _stray_bead(f"{_a(role)} bead", _shown(about.becomes), at, ruler)
        case StrayBead():
            belongs = f"one of {_bead(about.wanted, role)}"
            return _stray_bead(belongs, f"a bead of {_bead(about.bead, role)}", at, ruler)
        case PlainRound():
            return (
                f"a round has no {role} beads, {place(at, ruler)}; {unpick(at, ruler)} and work the round "
                "again"
            )
        case SlackStretch():
            return _slack(about, at, ruler)
        case OffPlan():
            return _off_plan(about, ruler)


def sure(confidence: float) -> str:
    """How sure a finding is, with the digits it allows.

    >>> sure(0.99998), sure(0.953)
    ('more than 99 % sure', '95 % sure')
    """
    return "more than 99 % sure" if confidence > 0.99 else f"{100 * confidence:.0f} % sure"


def place(at: float, ruler: Ruler) -> str:
    """Where a fraction of the length is, from the nearer end."""
    end = ruler.nearer(at)
    return _size(at, end, ruler, f" from the {ruler.name(end)} end")


def unpick(at: float, ruler: Ruler) -> str:
    """From where to unpick to a place, and how much that is unless the place has just been told so."""
    if ruler.worked is None:
        return "unpick from the end worked last to here"
    if ruler.worked == ruler.nearer(at):
        return "unpick from that end to here"
    return f"unpick from the {ruler.name(ruler.worked)} end to here ({_size(at, ruler.worked, ruler)})"


def base_seen(ruler: Ruler) -> str:
    """What the advice rests on, where the base was seen in the picture; else empty."""
    if not ruler.base_seen or ruler.worked is None:
        return ""
    worked = ruler.name(ruler.worked)
    base = ruler.name("last" if ruler.worked == "first" else "first")
    return (
        f"the band of one colour round the {base} end is taken for the base, so unpick from the {worked} "
        f"end; if the {base} end was worked last, unpick from there instead"
    )


def _shown(becomes: str | None) -> str:
    return "a bead of another colour" if becomes is None else f"{_a(becomes)} bead"


def _stray_bead(belongs: str, shown: str, at: float, ruler: Ruler) -> str:
    otherwise = f", or {unpick(at, ruler)}"
    if ruler.worked is not None and ruler.worked != ruler.nearer(at):
        much = _size(at, ruler.worked, ruler, f" from the {ruler.name(ruler.worked)} end")
        otherwise = f": less work than unpicking {much}"
    return (
        f"{shown} sits where {belongs} belongs, {place(at, ruler)}; break it out with pliers and "
        f"stitch the right one in{otherwise}"
    )


def _off_plan(off: OffPlan, ruler: Ruler) -> str:
    """Where a plan was not kept, by how much, and the remedy."""
    role = off.role
    wanted, found = _bead(off.wanted, role), _bead(off.found, role)
    much, where = _much(off), place(off.at, ruler)
    again = f"; {unpick(off.at, ruler)} and work on as planned, or change the plan if you like it so"
    match off.how:
        case "border":
            side = "later" if off.share > 0 else "earlier"
            says = (
                f"the border from {wanted} to {found} is off, {where}: seen from the {ruler.first_end} end "
            )
            return f"{says}it comes {much} {side} than planned{again}"
        case "length":
            longer = "longer" if off.share > 0 else "shorter"
            return f"the stretch of {wanted} that ends {where} is {much} {longer} than planned{again}"
        case "missing":
            return f"a stretch of {wanted} is missing, {where}: {much} are planned there{again}"
        case "bead":
            return f"{much} are {found} where {wanted} is planned, with their middle {where}{again}"
        case "order":
            says = f"the fade between {wanted} and {found} runs the wrong way round"
            return f"{says}, with its middle {where}{again}"
        case "plain":
            return f"the fade is missing, {where}: {much} are {found} throughout{again}"


def looks_planned(look: LooksPlanned, ruler: Ruler) -> str:
    """What looks planned, where, and how to say so."""
    return (
        f"this looks planned: {course(look, ruler)}; say so with --plan or a tick, and it is judged by that"
    )


def course(look: LooksPlanned, ruler: Ruler) -> str:
    """A course of colours and where it lies, such as ``fade of the body from 30 to 65 % of the length``."""
    start, stop = f"{100 * look.start:.0f}", f"{100 * look.stop:.0f} %"
    where = f" of the length, counted from the {ruler.first_end} end"
    match look.kind:
        case "fade":
            return f"fade of the {look.role} from {start} to {stop}{where}"
        case "bands":
            return f"{look.bands} bands of the {look.role} in two colours"
        case "middle":
            return f"another {look.role} from {start} to {stop}{where}"
        case "change":
            return f"another {look.role} from {start} %{where} on"


def plan_part(part: PlanPart) -> str:
    """What a plan wants along a stretch, such as ``accent fading from teal to coral``."""
    says = []
    for role, before in part.before.items():
        after = part.after[role]
        if before != after:
            says.append(f"{role} fading from {_bead(before, role)} to {_bead(after, role)}")
        elif before is not None:
            says.append(f"{role} {before}")
    return ", ".join(says) or "as without a plan"


def _much(off: OffPlan) -> str:
    share = f"{100 * abs(off.share):.0f} % of the length"
    return share if off.rounds is None else f"about {_rounds(abs(off.rounds))} ({share})"


def _bead(text: str | None, role: str) -> str:
    return f"the usual {role}" if text is None else text


def _slack(stretch: SlackStretch, at: float, ruler: Ruler) -> str:
    part = stretch.stop - stretch.start
    size = f"{100 * part:.0f} % of the length"
    if ruler.length_mm is not None:
        size = f"{part * ruler.length_mm / 10:.1f} cm"
    return (
        f"{size}, with its middle {place(at, ruler)}, is drawn up less tightly: its rounds lie "
        f"{100 * (stretch.ratio - 1):.0f} % farther apart; gaps darken it, and that is no fault of colour"
    )


def _size(at: float, end: End, ruler: Ruler, where: str = "") -> str:
    share = ruler.share(at, end)
    text = f"{100 * share:.0f} % of the length{where}"
    if ruler.length_mm is not None:
        text = f"{share * ruler.length_mm / 10:.1f} cm{where}"
    return f"{text}, about {_rounds(share * ruler.rounds)}" if ruler.rounds else text


def _rounds(number: float) -> str:
    whole = max(1, round(number))
    return "1 round" if whole == 1 else f"{whole} rounds"


def _a(role: str) -> str:
    return f"an {role}" if role[:1] in "aeiou" else f"a {role}"


def not_told_apart(role: str, bead: str) -> str:
    """That a bead was named for a role which the photo does not show apart."""
    return f"no {role} is told apart, so {bead} is held against nothing"
