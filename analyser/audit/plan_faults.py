"""Where a rope that was laid to its plan does not keep to it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from analyser.audit.plan_course import END_ROUNDS, Key, Woven
from analyser.audit.plan_reading import Laid
from analyser.audit.planned import Course, read_beads, wanted_there
from analyser.colour.difference import delta_e_2000
from analyser.colour.spaces import linear_to_lab
from analyser.motif.plan import PlannedBead

FADE_SHARE = 0.35
"""Of a fade's length by which its ends may be off: they show by single beads."""

OFF_ROUNDS, OFF_SHARE = 3.2, 0.045
"""Rounds, and share of the length, from which a border is told to be off."""

ODD_AREA = 0.3
"""Least area of a bead of another colour of its role, in squared bead diameters."""

NEAR_ROUNDS = 1.5
"""Rounds from a border within which a bead may be of either side."""

ODD_SIDE = 0.7
"""Share of the radius within which such a bead is told: farther out light and neighbours colour it."""

ALIKE_DE00 = 5.0
"""CIEDE2000 within which a bead is one of another colour in less or more light."""

SHADES = np.geomspace(0.25, 1.5, 19)
"""Times its usual light that a bead has in the shade of its neighbours, or on the tube's top."""

How = Literal["border", "length", "missing", "bead", "order", "plain"]


@dataclass(frozen=True, slots=True)
class OffPlan:
    """Where a rope does not keep to its plan.

    Attributes
    ----------
    how : How
        ``border``: off by ``rounds``. ``length``: a stretch longer or shorter than planned by ``rounds``.
        ``missing``: a stretch is not there. ``bead``: a stretch is in another bead. ``order``: a fade runs
        the other way. ``plain``: a fade is not there.
    role : str
    at : float
    start, stop : float
        The part of the length that is off.
    rounds : float or None
        None where they are not known.
    share : float
        The same as a share of the length, with its sign.
    wanted, found : str or None
        Beads; before and after the border of the first kind.
    sure : float
        0 to 1.
    """

    how: How
    role: str
    at: float
    start: float
    stop: float
    rounds: float | None
    share: float
    wanted: str | None
    found: str | None
    sure: float = 0.99


def off_plan(laid: Laid, *, rounds_known: bool) -> list[OffPlan]:
    """Where the plan was not kept, in order along the rope."""
    least = max(OFF_ROUNDS, OFF_SHARE * laid.rounds)
    found: list[OffPlan] = []
    woven = laid.woven
    skip = False
    for number, one in enumerate(woven):
        following = woven[number + 1] if number + 1 < len(woven) else None
        role, wanted = _named(one, following or woven[max(number - 1, 0)])
        middle = (one.start + one.stop) / 2
        if one.shown != one.wanted and (one.stop - one.start) * laid.rounds >= 1.5:
            other = _otherwise(one, role, wanted, middle, laid)
            if not laid.wants_unread(one) or laid.fills(one, (other.role, other.found)):
                found.append(other)
            skip = False
            continue
        ends = number in (0, len(woven) - 1)
        if one.stop - one.start < 0.5 / laid.rounds and one.wanted.rounds >= 1.5:
            if not ends and not laid.wants_unread(one):
                found.append(
                    OffPlan(
                        "missing", role, middle, one.start, one.stop, one.wanted.rounds,
                        one.wanted.rounds / laid.rounds, wanted, None,
                    )
                )  # fmt: skip
            continue
        if skip:
            skip = False
            continue
        if following is None:
            continue
        rounds, following_off = one.off_rounds, following.off_rounds
        shifted = following.shown == following.wanted and rounds * following_off < 0
        # At an end as many rounds are let pass as base and closing may have.
        border = shifted and abs(rounds + following_off) <= max(END_ROUNDS + 1.0, 0.5 * abs(rounds))
        if border and number == 0:
            rounds = -following_off
        if abs(rounds) < max(least, FADE_SHARE * _fading(woven, number)):
            continue
        # A border is read off the beads on its two sides.
        if laid.wants_unread(one) or laid.wants_unread(following):
            continue
        left_out = _left_out(woven, number, role, laid)
        if left_out is not None:
            found.append(left_out)
            continue
        skip = border
        found.append(
            OffPlan(
                "border" if border else "length", role, one.stop, one.start, one.stop, rounds,
                rounds / laid.rounds, wanted, following.wanted.after[role],
            )
        )  # fmt: skip
    return found if rounds_known else [replace(one, rounds=None) for one in found]


def seen_kept(laid: Laid) -> bool:
    """Whether what is seen of a plan lies where it should: then what is not told apart does so too.

    A bead that passes for another role's shows by the gap that its stretch leaves between its role's others.
    """
    if not laid.unread:
        return True
    least = max(OFF_ROUNDS, OFF_SHARE * laid.rounds)
    seen = {role for role, _ in set(laid.classes) - laid.unread}
    return all(role in seen for role, _ in laid.unread) and all(
        one.shown == one.wanted and abs(one.off_rounds) < max(least, FADE_SHARE * _fading(laid.woven, number))
        for number, one in enumerate(laid.woven)
    )


def _fading(woven: tuple[Woven, ...], number: int) -> float:
    """Rounds of the longest fade among a stretch and those beside it."""
    return max(part.wanted.rounds * part.wanted.fades for part in woven[max(number - 1, 0) : number + 2])


def _left_out(woven: tuple[Woven, ...], number: int, role: str, laid: Laid) -> OffPlan | None:
    """A stretch so much longer that the one after it is missing, which joins it to the next of its beads."""
    one, gap = woven[number], woven[number + 1].wanted
    own, off = one.wanted.rounds, one.off_rounds
    if one.wanted.fades or gap.fades or one.shown != one.wanted or laid.wants_unread(woven[number + 1]):
        return None
    middle = (one.start + one.stop) / 2
    for how, joined in (("missing", own), ("bead", own + gap.rounds)):
        if abs(off - joined) <= max(2.0, 0.3 * joined):
            share = gap.rounds / laid.rounds
            bead, shown = gap.before[role], one.wanted.before[role]
            found = None if how == "missing" else shown
            return OffPlan(how, role, middle, one.start, one.stop, gap.rounds, share, bead, found)  # type: ignore[arg-type]  # how is one of the kinds
    return None


def _otherwise(one: Woven, role: str, wanted: str | None, middle: float, laid: Laid) -> OffPlan:
    role, found = next(
        (
            (name, bead)
            for name, bead in one.shown.before.items()
            if bead != one.wanted.before[name]
            or one.shown.after[name] != one.wanted.after[name]
            or (one.shown.jumps and bead != one.shown.after[name])
        ),
        (role, None),
    )
    how: How = (
        "bead" if not one.wanted.fades else "order" if one.shown.fades and not one.shown.jumps else "plain"
    )
    bead = one.wanted.before[role]
    rounds = (one.stop - one.start) * laid.rounds
    share = one.stop - one.start
    after = one.wanted.after[role] if how == "order" else found
    return OffPlan(how, role, middle, one.start, one.stop, rounds, share, bead, after)


def _named(one: Woven, other: Woven) -> tuple[str, str | None]:
    """The role that changes in a stretch or after it, else the first that the plan names; and its bead."""
    wanted, following = one.wanted, other.wanted
    changing = [
        role
        for role, bead in wanted.after.items()
        if bead != wanted.before[role] or bead not in (following.before[role], following.after[role])
    ]
    named = [role for role, bead in wanted.after.items() if bead is not None]
    role = next(iter([*changing, *named, *wanted.after]))
    return role, wanted.after[role]


def odd_ones(course: Course) -> Iterator[tuple[int, Key, str | None]]:
    """Beads that are another of the plan's than their stretch wants: index, key shown, bead wanted."""
    placed, laid = course.beads, course.laid
    near = NEAR_ROUNDS / laid.rounds
    # A border that is off leaves beads of either side on the other.
    off = [
        (one.start - abs(one.share), one.stop + abs(one.share)) for one in off_plan(laid, rounds_known=True)
    ]
    sizes = placed.beads.pixels / placed.bead**2
    inner = np.abs(placed.beads.row - placed.strip.middle) < ODD_SIDE * placed.strip.radius
    for index in np.flatnonzero(read_beads(placed) & inner & (sizes > ODD_AREA)).tolist():
        at = float(placed.strip.fraction(placed.beads.column[index]))
        key = laid.classes[int(placed.beads.role[index])]
        one = wanted_there(laid, at)
        if one.shown.fades or at - one.start < near or one.stop - at < near:
            continue
        # What is said of a whole stretch is not said of its beads again.
        if laid.wants_unread(one) or any(start <= at <= stop for start, stop in off):
            continue
        wanted = one.shown.before[key[0]]
        if wanted != key[1] and not _in_shade(course, index, one):
            yield index, key, wanted


def _in_shade(course: Course, index: int, one: Woven) -> bool:
    """Whether a bead may be one that its stretch wants, in other light."""
    looks = {look.name: look.linear.reshape(-1, 3).mean(axis=0) for look in course.looks}
    linear = course.beads.beads.linear[index]
    for role, bead in one.shown.before.items():
        own = looks.get(PlannedBead(role, bead).key)
        if own is None:
            continue
        shades = linear_to_lab(own * SHADES[:, None])
        if float(delta_e_2000(linear_to_lab(linear), shades).min()) < ALIKE_DE00:
            return True
    return False
