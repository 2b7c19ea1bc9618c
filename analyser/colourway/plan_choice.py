"""Plans proposed for a photo: a fade, bands or another middle, in beads that are owned.

The lead is the best pair for the photo. A fade goes between two colours of it by the series that steps most
evenly; bands and a middle put a second bead in one of the pair's roles. What lies beside several beads is
chosen for the one that it stands out from least.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import Literal

import numpy as np

from analyser.arrays import Lab
from analyser.colour.difference import delta_e_2000
from analyser.colour.nearest import nearest_2000
from analyser.colourway import scores
from analyser.colourway.further import APART_DE00, STANDS_FOR_DE00
from analyser.colourway.measures import PairView, measure
from analyser.colourway.pairing import TRIED, Pair, Wanted
from analyser.colourway.palette import PaletteColour
from analyser.colourway.scores import CONTRASTS, SEEN_FROM_M
from analyser.colourway.series import BeadSeries, FadeCourse
from analyser.motif.plan import Plan, PlannedBead, Stretch, even_fade
from analyser.stock.bead import Bead

Kind = Literal["fade", "bands", "middle"]
KINDS: tuple[Kind, ...] = ("fade", "bands", "middle")
MOST_STEPS = 7
"""Beads of a fade; more bags than a maker keeps open at once (our choice)."""
BAND_ROUNDS = 8
"""Rounds of a band: about as long as a rope of 11/0 is thick (common practice, no source)."""
_COURSES = 10  # pairs of the photo's colours whose courses are searched
_FEWER_BEADS = 0.9  # one bead more must make the largest step at least a tenth smaller

Needs = Callable[[Plan], Mapping[str, int]]
"""Beads of each planned bead, spare included, by its key."""


@dataclass(frozen=True, slots=True)
class PlanWish:
    """A plan to propose.

    Attributes
    ----------
    kind : str
        Of ``KINDS``.
    between : (int, int) or None
        Colours of the palette a fade goes between, by index; chosen if None.
    steps : int or None
        Beads of a fade, or kinds of band; chosen if None.
    """

    kind: Kind
    between: tuple[int, int] | None = None
    steps: int | None = None


@dataclass(frozen=True, slots=True)
class PlanProposal:
    """A plan in beads that are owned.

    Attributes
    ----------
    kind : str
        Of ``KINDS``.
    role : str
        The role whose bead changes.
    beads : tuple of Bead
        Of that role, in the order in which they are met.
    beside : mapping of role to Bead
        Of the roles that stay.
    stands_for : tuple of int or None
        For each of ``beads`` the palette's colour it stands for; None for the steps of a fade.
    series : BeadSeries or None
        Of a fade.
    """

    kind: Kind
    role: str
    beads: tuple[Bead, ...]
    beside: Mapping[str, Bead]
    stands_for: tuple[int | None, ...]
    series: BeadSeries | None = None


@dataclass(frozen=True, slots=True)
class Choosing:
    """What a plan is chosen from, and for.

    Attributes
    ----------
    colours : sequence of PaletteColour
    beads : sequence of Bead
        Those that may be used; each with a colour, one lot a bead.
    view : PairView
    contrast : str
        ``soft``, ``clear`` or ``bold``.
    needs : callable or None
        Beads that a plan takes; None where nothing is counted.
    """

    colours: Sequence[PaletteColour]
    beads: Sequence[Bead]
    view: PairView
    contrast: Wanted = "clear"
    needs: Needs | None = None


def propose(wish: PlanWish, lead: Pair, among: Choosing) -> PlanProposal | None:
    """A plan for a photo; None where the stock gives none.

    Parameters
    ----------
    wish : PlanWish
    lead : Pair
        The best pair for the photo.
    among : Choosing
    """
    if wish.kind == "fade":
        return _fade(wish, among)
    if wish.kind == "middle":
        found = best_beside("body", [lead.measures.accent_lab], [lead.body], among, not_these=[lead.accent])
        if found is None:
            return None
        middle, colour = found
        for_ = lead.stands_for["body"]
        return PlanProposal(
            "middle", "body", (lead.body, middle, lead.body), {"accent": lead.accent}, (for_, colour, for_)
        )
    bands, stands_for = [lead.accent], [lead.stands_for["accent"]]
    for _ in range((wish.steps or 2) - 1):
        found = best_beside("accent", [lead.measures.body_lab], bands, among, not_these=[lead.body])
        if found is None:
            break
        bands.append(found[0])
        stands_for.append(found[1])
    if len(bands) < 2:
        return None
    return PlanProposal("bands", "accent", tuple(bands), {"body": lead.body}, tuple(stands_for))


def plan_from(proposal: PlanProposal, text_of: Callable[[Bead], str]) -> Plan:
    """The proposal as a plan; ``text_of`` says how a bead is named in it."""
    texts = [text_of(bead) for bead in proposal.beads]
    beside = {role: text_of(bead) for role, bead in proposal.beside.items()}
    if proposal.kind == "fade":
        plan = even_fade(proposal.role, texts)
    elif proposal.kind == "bands":
        plan = Plan(tuple(Stretch({proposal.role: text}, rounds=BAND_ROUNDS) for text in texts), repeat=True)
    else:
        plan = Plan(tuple(Stretch({proposal.role: text}, share=0.3333) for text in texts))
    first, *rest = plan.stretches
    return Plan((Stretch({**beside, **first.beads}, first.rounds, first.share), *rest), plan.repeat)


def best_beside(
    role: str,
    against: Sequence[Lab],
    apart_from: Sequence[Bead],
    among: Choosing,
    *,
    not_these: Sequence[Bead] = (),
) -> tuple[Bead, int] | None:
    """The bead for one role of a pair, beside one or several beads in the other.

    Parameters
    ----------
    role : str
        ``accent`` or ``body``.
    against : sequence of Lab
        Of the other role's beads, one or more; the one it stands out from least decides.
    apart_from : sequence of Bead
        Beads it must be told from at a glance.
    among : Choosing
    not_these : sequence of Bead
        Beads that are taken.

    Returns
    -------
    (Bead, int) or None
        The bead, and the palette's colour it stands for.
    """
    taken = {bead.id for bead in (*apart_from, *not_these)}
    beads = [bead for bead in among.beads if bead.id not in taken]
    if not beads or not among.colours:
        return None
    labs = np.array([bead.lab for bead in beads], dtype=np.float64)
    nearest, fit = nearest_2000([colour.lab for colour in among.colours], labs, k=TRIED)
    colour = np.repeat(np.arange(len(among.colours)), nearest.shape[1])
    index, de00 = nearest.ravel(), fit.ravel()
    worth = de00 <= STANDS_FOR_DE00
    for other in apart_from:
        worth &= delta_e_2000(labs[index], np.asarray(other.lab)) >= APART_DE00
    index, colour, de00 = index[worth], colour[worth], de00[worth]
    if not len(index):
        return None
    mine, theirs = np.repeat(labs[index], len(against), axis=0), np.tile(np.asarray(against), (len(index), 1))
    accents, bodies = (mine, theirs) if role == "accent" else (theirs, mine)
    measured = measure(accents, bodies, among.view)
    seen = measured.seen[SEEN_FROM_M].reshape(len(index), -1)
    body, accent = scores.standings(among.colours)
    score = scores.fit_score(de00, de00) + (accent if role == "accent" else body)[colour]
    score += scores.contrast_score(seen, CONTRASTS[among.contrast]).min(axis=1)
    if among.needs is not None:
        whole = {role: among.needs(Plan((Stretch(),)))[role]}
        score += np.array([scores.holds(beads[k], whole, role) for k in index])
    best = int(np.argmax(score))
    return beads[index[best]], int(colour[best])


def _fade(wish: PlanWish, among: Choosing) -> PlanProposal | None:
    """The fade of the body whose ends stand for the photo best and whose steps are small and like."""
    colours = among.colours
    body, _ = scores.standings(colours)
    pairs = [wish.between] if wish.between else list(combinations(range(len(colours)), 2))
    labs = [np.asarray(colour.lab) for colour in colours]
    pairs = [
        pair
        for pair in pairs
        if wish.between or float(delta_e_2000(*(labs[k] for k in pair))) >= 2 * APART_DE00
    ]
    pairs = sorted(pairs, key=lambda pair: -(body[pair[0]] + body[pair[1]]))[:_COURSES]
    best: tuple[float, tuple[int, int], BeadSeries] | None = None
    for first, last in pairs:
        series = even_series(FadeCourse(labs[first], labs[last], among.beads), wish.steps, among.needs)
        if series is None or max(series.ends_de00) > STANDS_FOR_DE00:
            continue
        fit = float(scores.fit_score(*(np.array(end) for end in series.ends_de00)))
        smooth = float(np.exp(-max(series.steps_de00) / (2 * APART_DE00)))
        score = 0.5 * (body[first] + body[last]) + fit + smooth
        if best is None or score > best[0]:
            best = score, (first, last), series
    if best is None:
        return None
    _, (first, last), series = best
    accent = best_beside(
        "accent", [bead.lab for bead in series.beads if bead.lab], [], among, not_these=series.beads
    )
    stands_for = (first, *(None for _ in series.beads[2:]), last)
    beside = {} if accent is None else {"accent": accent[0]}
    return PlanProposal("fade", "body", series.beads, beside, stands_for, series)


def even_series(
    course: FadeCourse, count: int | None, needs: Needs | None, role: str = "body"
) -> BeadSeries | None:
    """The best series of so many beads, or of as many as make its largest step clearly smaller.

    Parameters
    ----------
    course : FadeCourse
    count : int or None
        Beads; chosen if None.
    needs : callable or None
        Beads that a plan takes, so that each lot suffices for its place in the fade.
    role : str
        The role that fades.
    """
    best: BeadSeries | None = None
    for number in [count] if count else range(2, MOST_STEPS + 1):
        texts = [str(place) for place in range(number)]
        taken = needs(even_fade(role, texts)) if needs else {}
        each = [taken.get(PlannedBead(role, text).key, 0) for text in texts] if needs else None
        series = course.best(number, each)
        if series and (best is None or max(series.steps_de00) < _FEWER_BEADS * max(best.steps_de00)):
            best = series
    return best
