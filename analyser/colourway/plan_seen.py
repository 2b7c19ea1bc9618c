"""A planned rope as the eye has it: how far each stretch reads, and how large the steps of a fade are."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from analyser.arrays import Lab
from analyser.colour import viewing
from analyser.colour.difference import delta_e_2000
from analyser.colourway.measures import Measures, PairView, measure
from analyser.colourway.scores import SEEN_FROM_M
from analyser.colourway.turns import taking_turns
from analyser.motif.plan import Plan, PlannedBead, mixes_of


@dataclass(frozen=True, slots=True)
class StretchSeen:
    """Rounds in which every role has one bead.

    Attributes
    ----------
    beads : mapping of role to str
        The ``key`` of each role's bead.
    start : float
        Where it is first met, 0 to 1 along the patterned length.
    share : float
        Of the patterned length, wherever the same beads come again.
    measures : Measures
        Of its accent and body.
    """

    beads: Mapping[str, str]
    start: float
    share: float
    measures: Measures


@dataclass(frozen=True, slots=True)
class FadeStep:
    """From one bead of a fade to the next, where they lie side by side.

    Attributes
    ----------
    role, before, after : str
        The role, and the keys of the two beads.
    de00 : float
        CIEDE2000 between them; above about 5 it only ranks.
    seen : float
        Contrast of the two at arm's length, where they take turns (``viewing.seen_contrast``; no CIEDE2000).
    reads_to_m : float
        Farthest distance at which they are told apart at a glance.
    """

    role: str
    before: str
    after: str
    de00: float
    seen: float
    reads_to_m: float


@dataclass(frozen=True, slots=True)
class PlanSeen:
    """A planned rope as the eye has it.

    Attributes
    ----------
    stretches : tuple of StretchSeen
        Different ones, in the order in which they are met; those of which a colour is not known are left out.
    steps : tuple of FadeStep
        In the order of the roles, then along the rope.
    """

    stretches: tuple[StretchSeen, ...]
    steps: tuple[FadeStep, ...]

    @property
    def largest_step(self) -> FadeStep | None:
        """The step that shows most at arm's length; None without a fade."""
        return max(self.steps, key=lambda step: step.seen, default=None)

    @property
    def unevenness(self) -> float | None:
        """The largest step as seen, in parts of the mean one: 1 where all are like; None without a fade."""
        largest = self.largest_step
        if largest is None:
            return None
        mean = float(np.mean([step.seen for step in self.steps]))
        return largest.seen / max(mean, 1e-9)


def plan_seen(
    plan: Plan, view: PairView, rounds: int, rise_mm: float, colours: Mapping[str, Lab]
) -> PlanSeen:
    """Measure a planned rope.

    Parameters
    ----------
    plan : Plan
    view : PairView
        The motif at its bead size, as the eye has it.
    rounds, rise_mm
        As of ``plan.spans_of``.
    colours : mapping of str to Lab
        Of the planned beads, by their key; one whose colour is not known may be missing.
    """
    motif = view.motif
    by_role = {role: mixes_of(plan, motif, rounds, rise_mm, role) for role in motif.roles}
    met: dict[tuple[str, ...], list[int]] = {}
    steps: dict[tuple[str, str, str], None] = {}
    for role, mixes in by_role.items():
        for mix in mixes:
            if mix.before != mix.after:
                one, two = (PlannedBead(role, text).key for text in (mix.before, mix.after))
                if (role, two, one) not in steps:  # a mirrored fade has the steps of the first half
                    steps[role, one, two] = None
    for number in range(rounds):
        here = [mixes[number] for mixes in by_role.values()]
        if all(mix.before == mix.after for mix in here):
            beads = tuple(PlannedBead(role, mix.after).key for role, mix in zip(by_role, here, strict=True))
            met.setdefault(beads, []).append(number)
    known = {beads: at for beads, at in met.items() if all(key in colours for key in beads)}
    return PlanSeen(
        tuple(_stretch(dict(zip(by_role, beads, strict=True)), at, rounds, view, colours)
              for beads, at in known.items()),
        _steps([step for step in steps if step[1] in colours and step[2] in colours], view, colours),
    )  # fmt: skip


def _stretch(
    beads: Mapping[str, str], at: list[int], rounds: int, view: PairView, colours: Mapping[str, Lab]
) -> StretchSeen:
    others = {role: colours[key] for role, key in beads.items()}
    measured = measure([others.pop("accent")], [others.pop("body")], view)
    return StretchSeen(beads, at[0] / rounds, len(at) / rounds, measured.one(0, others))


def _steps(
    steps: list[tuple[str, str, str]], view: PairView, colours: Mapping[str, Lab]
) -> tuple[FadeStep, ...]:
    found = []
    for role in dict.fromkeys(role for role, _, _ in steps):
        mine = [step for step in steps if step[0] == role]
        turns = taking_turns(view.motif, view.bead_mm, role)
        one, two = ([colours[step[place]] for step in mine] for place in (1, 2))
        labs = turns.labs(one, two)
        seen = viewing.seen_contrast(turns.pattern, labs, SEEN_FROM_M, turns.pair)
        reads = viewing.reads_to_m(turns.pattern, labs, turns.pair)
        apart = delta_e_2000(np.array(one), np.array(two))
        found += [
            FadeStep(*step, float(apart[k]), float(seen[k]), float(reads[k])) for k, step in enumerate(mine)
        ]
    return tuple(found)
