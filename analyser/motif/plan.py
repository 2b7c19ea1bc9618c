"""Plans: which bead each role takes along the rope, from stretch to stretch, bead by bead in a fade.

A plan names beads by the maker's own text (an id, a name, a colour); what the text stands for is looked up
elsewhere. It stretches to any number of rounds. Within a fade each round gets its whole number of beads by
rounding the running sum, so that any run of rounds is right to within one bead. Where in the round they lie
is chosen by ``planned_rope``.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from types import MappingProxyType

from analyser.motif.geometry import ROLES
from analyser.motif.motif import Motif

PLAIN_END = 0.1
"""Share of the rope that stays plain at either end of an even fade."""


@dataclass(frozen=True, slots=True)
class Stretch:
    """One stretch of a plan; at most one of ``rounds``, ``share``, ``length_mm`` is given.

    Attributes
    ----------
    beads : mapping of role to str
        The bead that a role takes from here on; a role that is not named keeps the one it had.
    rounds : int or None
        How long it is, in rounds.
    share : float or None
        How long it is, as a share of the patterned length, 0 to 1.
    length_mm : float or None
        How long it is, in millimetres.
    fade : bool
        Goes bead by bead from the stretch before to the one after.
    """

    beads: Mapping[str, str] = field(default_factory=lambda: MappingProxyType({}))
    rounds: int | None = None
    share: float | None = None
    length_mm: float | None = None
    fade: bool = False

    @property
    def takes_the_rest(self) -> bool:
        """Whether it is as long as the others leave it."""
        return self.rounds is None and self.share is None and self.length_mm is None


@dataclass(frozen=True, slots=True)
class Plan:
    """The course of colours along a rope.

    Attributes
    ----------
    stretches : tuple of Stretch
        From the base to the closing.
    repeat : bool
        They come again and again.
    mirror : bool
        The second half mirrors the first.
    """

    stretches: tuple[Stretch, ...]
    repeat: bool = False
    mirror: bool = False

    @property
    def roles(self) -> tuple[str, ...]:
        """Roles that it names, in the order of their first naming."""
        return tuple(dict.fromkeys(role for stretch in self.stretches for role in stretch.beads))

    def texts(self, role: str) -> tuple[str, ...]:
        """Beads that it names for a role, in the order of their first naming."""
        named = (stretch.beads.get(role) for stretch in self.stretches)
        return tuple(dict.fromkeys(text for text in named if text is not None))


@dataclass(frozen=True, slots=True)
class Span:
    """A stretch as it falls on a rope.

    Attributes
    ----------
    stretch : int
        Its place in the plan.
    start, stop : int
        Rounds, counted from 0; ``stop`` is not in it.
    """

    stretch: int
    start: int
    stop: int


@dataclass(frozen=True, slots=True)
class PlannedBead:
    """A bead of a planned rope.

    Attributes
    ----------
    role : str
        Of the motif.
    text : str or None
        As the plan names it; None for the bead that the role has where the plan says nothing.
    """

    role: str
    text: str | None = None

    @property
    def key(self) -> str:
        """One word for it: the role alone, or the role and the bead."""
        return self.role if self.text is None else f"{self.role}:{self.text}"


def even_fade(role: str, texts: Sequence[str], plain: float = PLAIN_END) -> Plan:
    """A plan that goes evenly from bead to bead over the rope.

    Parameters
    ----------
    role : str
    texts : sequence of str
        Two or more beads.
    plain : float
        Share of the rope that stays plain at either end.
    """
    # Four decimals read well in a file; the last stretch goes on to the end.
    step = math.floor(1e4 * (1.0 - 2.0 * plain) / (len(texts) - 1) + 1e-9) / 1e4
    stretches = [Stretch({role: texts[0]}, share=plain)]
    for number, text in enumerate(texts[1:], start=2):
        end = number == len(texts)
        stretches += [Stretch(share=step, fade=True), Stretch({role: text}, share=plain if end else 0.0)]
    return Plan(tuple(stretches))


def role_of_key(key: str) -> str:
    """The role in the ``key`` of a planned bead, and a role itself.

    >>> role_of_key("body:teal-deep"), role_of_key("accent")
    ('body', 'accent')
    """
    return key.partition(":")[0]


def role_and_bead(key: str) -> tuple[str, str | None]:
    """The role and the bead of the ``key`` of a planned bead.

    Examples
    --------
    >>> role_and_bead("accent:teal-deep"), role_and_bead("body")
    (('accent', 'teal-deep'), ('body', None))
    """
    role, sign, text = key.partition(":")
    return role, text if sign else None


def spans_of(plan: Plan, rounds: int, rise_mm: float) -> tuple[Span, ...]:
    """Where the stretches of a plan fall on a rope.

    Parameters
    ----------
    plan : Plan
    rounds : int
        Of the pattern, at least 0.
    rise_mm : float
        What a round adds, for stretches given in millimetres; above 0.

    Returns
    -------
    tuple of Span
        From the first to the last round without gaps, empty ones included. What does not fit is cut off;
        where nothing takes the rest, the last stretch goes on to the end.

    Raises
    ------
    ValueError
        If ``rounds`` is negative or ``rise_mm`` not above 0.
    """
    if rounds < 0 or not rise_mm > 0:
        raise ValueError(f"rounds must be 0 or more and rise_mm above 0; got {rounds}, {rise_mm}")
    half = first_half(plan, rounds)
    found = _unmirrored(plan, half, rise_mm)
    if plan.mirror:
        # The middle round of an odd number stands once, in the first half.
        mirrored = [Span(s.stretch, max(half, rounds - s.stop), rounds - s.start) for s in reversed(found)]
        found += [span for span in mirrored if span.start < span.stop]
    return tuple(found)


def first_half(plan: Plan, rounds: int) -> int:
    """Rounds up to the mirror; all of them where there is none."""
    return -(-rounds // 2) if plan.mirror else rounds


def _unmirrored(plan: Plan, rounds: int, rise_mm: float) -> list[Span]:
    wanted = [_wanted(stretch, rounds, rise_mm) for stretch in plan.stretches]
    rest = max(0.0, rounds - sum(size for size in wanted if size is not None))
    sizes = [rest if size is None else size for size in wanted]
    found: list[Span] = []
    start, reached = 0, 0.0
    while True:
        for index, size in enumerate(sizes):
            reached += size
            stop = min(rounds, math.floor(reached + 0.5))
            found.append(Span(index, start, stop))
            start = stop
        if not plan.repeat or start >= rounds or sum(sizes) < 0.5:
            break
    if start < rounds:
        found[-1] = replace(found[-1], stop=rounds)
    return found


def _wanted(stretch: Stretch, rounds: int, rise_mm: float) -> float | None:
    """Rounds that a stretch asks for, None where it takes the rest."""
    if stretch.rounds is not None:
        return float(stretch.rounds)
    if stretch.share is not None:
        return stretch.share * rounds
    return None if stretch.length_mm is None else stretch.length_mm / rise_mm


@dataclass(frozen=True, slots=True)
class RoundMix:
    """What one role takes in one round: ``fresh`` of its beads are ``after``, the others ``before``."""

    before: str | None
    after: str | None
    share: float
    fresh: int
    beads: int

    @property
    def main(self) -> str | None:
        """The bead that most of them are."""
        return self.after if 2 * self.fresh > self.beads else self.before


def mixes_of(plan: Plan, motif: Motif, rounds: int, rise_mm: float, role: str) -> list[RoundMix]:
    """What a role takes, round by round."""
    each = [sum(ROLES.get(c, c) == role for c in "".join(row.beads)) for row in motif.rounds]
    half = first_half(plan, rounds)
    bead: str | None = None
    found: list[RoundMix] = []
    for span in _unmirrored(plan, half, rise_mm):
        stretch = plan.stretches[span.stretch]
        before = bead if stretch.fade else stretch.beads.get(role, bead)
        bead = _target(plan, span.stretch).beads.get(role, bead) if stretch.fade else before
        wanted = 0.0
        for round_ in range(span.start, span.stop):
            here = each[round_ % len(each)]
            share = (round_ - span.start + 0.5) / (span.stop - span.start) if bead != before else 0.0
            # Rounding the running sum keeps every run of rounds right to within one bead.
            fresh = math.floor(wanted + here * share + 0.5) - math.floor(wanted + 0.5)
            wanted += here * share
            found.append(RoundMix(before, bead, share, fresh, here))
    for round_ in range(half, rounds):
        mirrored = found[rounds - 1 - round_]
        here = each[round_ % len(each)]
        fresh = math.floor(mirrored.fresh * here / mirrored.beads + 0.5) if mirrored.beads else 0
        found.append(replace(mirrored, fresh=fresh, beads=here))
    return found


def _target(plan: Plan, fade: int) -> Stretch:
    """The stretch that a fade leads to: the next that is none, round the end where stretches repeat."""
    count = len(plan.stretches)
    following = (plan.stretches[(fade + step) % count] for step in range(1, count + 1))
    return next((stretch for stretch in following if not stretch.fade), Stretch())


def counts(plan: Plan, motif: Motif, rounds: int, rise_mm: float) -> dict[PlannedBead, int]:
    """Beads of a planned rope, base and closing with it, by arithmetic alone.

    Parameters
    ----------
    plan, rounds, rise_mm
        As of ``spans_of``.
    motif : Motif

    Returns
    -------
    dict of PlannedBead to int
        The same numbers as those of ``planned_rope.lay``; a bead that comes to nothing is not in it.

    Raises
    ------
    ValueError
        As ``spans_of``.
    """
    if rounds < 0 or not rise_mm > 0:
        raise ValueError(f"rounds must be 0 or more and rise_mm above 0; got {rounds}, {rise_mm}")
    plain = motif.counts(rounds)
    totals: dict[PlannedBead, int] = {}
    for role in motif.roles:
        if role not in plan.roles:
            totals[PlannedBead(role)] = plain[role]
            continue
        mixes = mixes_of(plan, motif, rounds, rise_mm, role)
        first, last = ends_of(plan, mixes, role)
        # By text: to hash a bead in every round would take most of the time.
        numbers = dict.fromkeys((None, *plan.texts(role)), 0)
        for rows, text in ((motif.base, first), (motif.closing, last)):
            numbers[text] += sum(ROLES.get(c, c) == role for row in rows for c in "".join(row.beads))
        for mix in mixes:
            numbers[mix.before] += mix.beads - mix.fresh
            numbers[mix.after] += mix.fresh
        totals |= {PlannedBead(role, text): number for text, number in numbers.items()}
    return {bead: number for bead, number in totals.items() if number}


def ends_of(plan: Plan, mixes: list[RoundMix], role: str) -> tuple[str | None, str | None]:
    """The bead of the base and that of the closing."""
    first = plan.stretches[0].beads.get(role) if plan.stretches else None
    last = first if plan.mirror or not mixes else mixes[-1].main
    return first, last
