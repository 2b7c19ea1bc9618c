"""A rope judged by its plan: which bead of the plan each one is, and where the plan was not kept.

The colours of a plan take turns along the rope, so the rope is placed anew with as many colours as the plan
has beads, in a few ways; the way in which the plan explains the beads best is kept. Beads of one role are
then taken together to look for stray ones, and apart to look for changes of lot.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import chain, combinations

import numpy as np
import numpy.typing as npt

from analyser.arrays import BoolArray, FloatArray, IntArray
from analyser.audit.plan_course import Key, Woven, keys_of, wanted_of
from analyser.audit.plan_reading import Laid, Scale, Seen, lay_plan, nominal
from analyser.audit.ruler import Ruler
from analyser.audit.splitting import split_by_light, split_where
from analyser.audit.strays import END_BEADS
from analyser.audit.told_plan import ToldPlan
from analyser.colour.difference import delta_e_2000
from analyser.colour.spaces import lab_to_linear
from analyser.errors import PhotoError
from analyser.imaging.logs import log_features
from analyser.motif.plan import Plan, PlannedBead, role_and_bead
from analyser.photo.even_sky import bead_lab
from analyser.rope import colours
from analyser.rope.colours import RoleLook
from analyser.rope.motif_steps import SEEN_WIDER, MotifSteps
from analyser.rope.placing import Beads, Placed, place, with_colours
from analyser.rope.roles import BEAD_OF_RADIUS

RISES = tuple(np.exp(np.arange(np.log(0.65), np.log(1.15), 0.06)).tolist())
"""What a round adds, in bead diameters, where the motif is not known: 0.67 to 1.11 on drawn ropes of four
stitches. Less than twice as much at most, or bands could be read as half as long."""

LIKELY_RISE = 0.9
"""The same where only shares are told, to say about how many rounds a border is off."""

WELL_READ = 0.06
"""Share of a role's beads that may be read otherwise than planned before another reading is tried."""

UNREADABLE = 0.3
"""The share from which the plan tells nothing of this rope."""

UNLIKE = 0.5
"""The share of the length that may be off: beyond it this is another rope, or another plan."""

UNREAD_COST, UNREAD_KIND_COST = 1.5, 6.0
"""What a bead costs that only another reading tells apart, in natural logs of likelihood; and
what each bead of the plan costs of which a reading has none."""

SIDE = 0.85
"""Share of the radius within which beads are read."""


@dataclass(frozen=True, slots=True)
class PlanPart:
    """A stretch of a plan as it lies on a rope.

    Attributes
    ----------
    stretch : int
        Its place in the plan, from 0.
    start, stop : float
        Fractions of the length.
    before, after : mapping of role to str or None
        What the plan wants there; the same unless it fades.
    """

    stretch: int
    start: float
    stop: float
    before: Mapping[str, str | None]
    after: Mapping[str, str | None]


@dataclass(frozen=True, slots=True, eq=False)
class Course:
    """A rope read by its plan.

    Attributes
    ----------
    laid : Laid
    beads : Placed
        With a role for each bead of the plan.
    roles : Placed
        With the beads of a role taken together.
    looks : list of RoleLook
        Of ``beads``, the largest first; ``name`` is that of ``PlannedBead.key``.
    role_looks : list of RoleLook
        Of ``roles``, the largest first.
    rounds_known : bool
        Rounds can be told, from the motif or from the plan's own.
    """

    laid: Laid
    beads: Placed
    roles: Placed
    looks: list[RoleLook]
    role_looks: list[RoleLook]
    rounds_known: bool

    def beside(self, series_at: FloatArray, names: npt.NDArray[np.str_]) -> FloatArray:
        """How the other roles' beads take turns where a bead lies, shape (n, m): their light falls on it.

        Parameters
        ----------
        series_at : ndarray, shape (n,)
            Fraction of the length.
        names : ndarray of str, shape (n,)
            Key of each bead.
        """
        own = np.array([role_and_bead(name)[0] for name in names.tolist()])
        columns = []
        for role, bead in self.laid.classes[1:]:
            shares = np.array(
                [_share(wanted_there(self.laid, at), at, role, bead) for at in series_at.tolist()]
            )
            columns.append(np.where(own == role, 0.0, shares))
        return np.column_stack([np.zeros((len(series_at), 0)), *columns])

    def own_light(self, at: FloatArray) -> FloatArray:
        """How light the rope's own beads are at places of it, over their mean, shape of ``at``."""
        light = np.zeros(len(at))
        for look in self.looks:
            role, bead = role_and_bead(look.name)
            share = [_share(wanted_there(self.laid, place), place, role, bead) for place in at.tolist()]
            beads = sum(one.beads for one in self.looks if role_and_bead(one.name)[0] == role)
            light += np.array(share) * beads * float(look.linear.mean())
        return np.asarray(light / max(float(light.mean()), 1e-9))

    @property
    def parts(self) -> tuple[PlanPart, ...]:
        """The stretches from the rope's first end to its last."""
        return tuple(
            PlanPart(one.wanted.stretch, one.start, one.stop, one.wanted.before, one.wanted.after)
            for one in self.laid.woven
            if one.stop > one.start
        )


def read_course(
    placed: Placed, told: ToldPlan, ruler: Ruler, frame: tuple[int, int], motif: MotifSteps | None = None
) -> Course | None:
    """Read a rope by its plan.

    Parameters
    ----------
    placed : Placed
        As it was placed without the plan.
    told : ToldPlan
    ruler : Ruler
        Laid to the rope.
    frame : (height, width)
        Of the photo's array.
    motif : MotifSteps, optional
        Of the motif that was woven, where known.

    Returns
    -------
    Course or None
        None where the plan cannot be laid to the rope.
    """
    roles = told.roles or tuple(dict.fromkeys(["body", "accent", *told.plan.roles]))
    scale = _scale(placed, told.plan, ruler, frame, motif)
    count = len(keys_of(wanted_of(told.plan, roles, max(1, round(scale.rounds[0])), scale.rise_mm), roles))
    readings: list[tuple[int, Laid, Placed]] = []
    tried: Iterator[Placed] = _placings(placed, count)
    while (one := next(tried, None)) is not None:
        seen = _seen(one, told)
        if not np.bincount(seen.kind, minlength=len(seen.unlike)).all():
            continue  # a colour that was looked for and is not there would fit any dark bead
        laid = lay_plan(told.plan, seen, roles, scale)
        if laid is None:
            continue
        if len(seen.unlike) < count:
            courses = [laid.woven, *nominal(told.plan, roles, scale)]
            parted = _parted(one, courses, told.plan)
            tried = tried if parted is None else chain([parted], tried)
            sought = _sought(one, laid, seen)
            tried = tried if sought is None else chain([sought], tried)
        misread = _misread(laid, seen)
        if misread < UNREADABLE and laid.off < UNLIKE:
            readings.append((len(seen.at), laid, one))
        if misread < WELL_READ and len(seen.unlike) == count:
            break
    if not readings:
        return None
    # Fewer colours are read at less cost; but then beads of the others are not read at all.
    _, laid, one = min(readings, key=_total)
    return _course(laid, one, scale.known)


def _total(reading: tuple[int, Laid, Placed]) -> float:
    beads, laid, _ = reading
    return laid.cost - UNREAD_COST * beads + UNREAD_KIND_COST * len(laid.unread)


def _scale(
    placed: Placed, plan: Plan, ruler: Ruler, frame: tuple[int, int], motif: MotifSteps | None
) -> Scale:
    strip = placed.strip
    length = (strip.stop - strip.start) / strip.radius
    by_rounds = any(stretch.rounds or stretch.length_mm for stretch in plan.stretches)
    bead = BEAD_OF_RADIUS if motif is None else motif.bead_of_radius
    if ruler.rounds is not None:
        rounds: tuple[float, ...] = tuple(ruler.rounds * factor for factor in (0.94, 0.97, 1.0, 1.03, 1.06))
    elif motif is not None:
        low, high = np.log(motif.low), np.log(SEEN_WIDER * motif.high)
        rises = np.exp(np.arange(low, high, 0.03)) if by_rounds else [motif.diameters_a_round]
        rounds = tuple(float(length / (bead * rise)) for rise in rises)
    else:
        rounds = tuple(length / (bead * rise) for rise in (RISES if by_rounds else (LIKELY_RISE,)))
    middle = rounds[len(rounds) // 2]
    rise_mm = 2.0 if ruler.length_mm is None else ruler.length_mm / middle
    ends = strip.pixel([strip.start, strip.stop - 1], [strip.middle, strip.middle]) / strip.scale
    margin = 1.5 * strip.radius
    height, width = frame
    cut = bool(((ends < margin) | (ends > np.array([width, height]) - margin)).any())
    base = None if ruler.worked is None else "last" if ruler.worked == "first" else "first"
    known = by_rounds or motif is not None or ruler.rounds is not None
    return Scale(rounds, rise_mm, cut, base, ruler.worked_to is not None, known)  # type: ignore[arg-type]  # base is a str to mypy


def _placings(placed: Placed, count: int) -> Iterator[Placed]:
    """The rope placed with so many colours, in the order in which they are worth trying."""
    found = [placed]
    if len(placed.model.means) == count:
        yield placed
    for colours_told, spare in ((count, 2), (count, 3), (max(count - 1, 1), 2)):
        try:
            found.append(place(placed.strip, told=colours_told, spare=spare))
        except PhotoError:
            continue
        yield found[-1]
    if len(placed.model.means) < count:
        yield placed
    for one in found:
        if len(one.model.means) < count and (split := split_by_light(one)) is not None:
            yield split


def _parted(placed: Placed, courses: Sequence[Sequence[Woven]], plan: Plan) -> Placed | None:
    """A class parted where its beads look unlike in the stretches of one bead and in those of another.

    Tried for each class, each course that the plan may have along the rope, and each two beads of a role.
    """
    at = placed.strip.fraction(placed.beads.column)
    best: tuple[float, Placed] | None = None
    for course in courses:
        wanted = [stretch_at(course, place).wanted for place in at.tolist()]
        plain = np.array([not one.fades for one in wanted])
        for role in plan.roles:
            here = np.array([one.before[role] or "" for one in wanted])
            for first, second in combinations(plan.texts(role), 2):
                for number in range(len(placed.posterior)):
                    mine = placed.beads.role == number
                    own, other = (plain & (here == text) for text in (first, second))
                    split = split_where(placed, number, own[mine], other[mine])
                    if split is not None and (best is None or split[0] > best[0]):
                        best = split
    return None if best is None else best[1]


def _sought(placed: Placed, laid: Laid, seen: Seen) -> Placed | None:
    """The rope placed with the plan's beads that were not seen, looked for by their told colours.

    How they look beside the others follows from the others': light multiplies all of them alike.
    """
    known = [number for number, key in enumerate(laid.classes) if key in seen.told]
    missing = [key for key in sorted(laid.unread, key=str) if key in seen.told]
    if not known or not missing:
        return None
    told = log_features(np.array([seen.told[laid.classes[number]] for number in known]))
    shift = (placed.model.means[known] - told).mean(axis=0)
    means = log_features(np.array([seen.told[key] for key in missing])) + shift
    return with_colours(placed, means, known[0])


def read_beads(placed: Placed) -> BoolArray:
    """Beads that are read: away from the ends and the sides."""
    strip, beads = placed.strip, placed.beads
    margin = END_BEADS * placed.bead
    across = np.abs(beads.row - strip.middle) < SIDE * strip.radius
    inner = (beads.column > strip.start + margin) & (beads.column < strip.stop - margin)
    return np.asarray(across & inner)


def _seen(placed: Placed, told: ToldPlan) -> Seen:
    beads = placed.beads
    keep = read_beads(placed)
    unlike: list[dict[Key, float]] = []
    linear = np.zeros((len(placed.posterior), 3))
    for role in range(len(placed.posterior)):
        mine = beads.role == role
        linear[role] = beads.linear[mine].mean(axis=0) if mine.any() else 0.0
        lab = bead_lab(linear[role]) if mine.any() else None
        unlike.append(
            {}
            if lab is None
            else {
                (name, text): float(delta_e_2000(lab, told.colours[text]))
                for name in told.plan.roles
                for text in told.plan.texts(name)
                if text in told.colours
            }
        )
    colours_told: dict[Key, FloatArray] = {
        (name, text): lab_to_linear(told.colours[text])
        for name in told.plan.roles
        for text in told.plan.texts(name)
        if text in told.colours
    }
    at = placed.strip.fraction(beads.column[keep])
    return Seen(at, beads.role[keep], tuple(unlike), linear, colours_told)


def wanted_there(laid: Laid, at: float) -> Woven:
    """The stretch at a place."""
    return stretch_at(laid.woven, at)


def stretch_at(course: Sequence[Woven], at: float) -> Woven:
    """The stretch of a course at a place."""
    return next((one for one in course if at < one.stop), course[-1])


def _share(woven: Woven, at: float, role: str, bead: str | None) -> float:
    """Share of a role's beads that are this one at a place of a stretch."""
    along = (at - woven.start) / max(woven.stop - woven.start, 1e-9)
    shown = woven.shown
    return (shown.before[role] == bead) * (1 - along) + (shown.after[role] == bead) * along


def _misread(laid: Laid, seen: Seen) -> float:
    """Share of a role's beads that are none of those that their stretch shows, of the role with most."""
    wrong: dict[str, list[bool]] = {}
    for at, kind in zip(seen.at.tolist(), seen.kind.tolist(), strict=True):
        role, bead = laid.classes[kind]
        shown = wanted_there(laid, at).shown
        wrong.setdefault(role, []).append(bead not in (shown.before[role], shown.after[role]))
    return max((sum(odd) / len(odd) for odd in wrong.values()), default=0.0)


def _course(laid: Laid, beads: Placed, rounds_known: bool) -> Course:
    order = tuple(dict.fromkeys(role for role, _ in laid.classes))
    number = np.array([order.index(role) for role, _ in laid.classes], np.intp)
    posterior = np.stack(
        [beads.posterior[number == index].sum(axis=0) for index in range(len(order))]
    ).astype(np.float32)
    roles = replace(
        beads,
        posterior=posterior,
        beads=_merged(beads.beads, number),
    )
    names = {index: PlannedBead(*key).key for index, key in enumerate(laid.classes)}
    looks = [replace(look, name=names[look.index]) for look in colours.role_looks(beads)]
    role_looks = [replace(look, name=order[look.index]) for look in colours.role_looks(roles)]
    return Course(laid, beads, roles, looks, role_looks, rounds_known)


def _merged(beads: Beads, number: IntArray) -> Beads:
    return replace(beads, role=number[beads.role])
