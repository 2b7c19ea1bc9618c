"""A photo's colourway along a plan: given by the maker, or proposed; completed, counted and measured."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from analyser.arrays import Lab
from analyser.colourway import further, plan_choice
from analyser.colourway.design import Colourway, Wishes, counted, seen_motif, usable
from analyser.colourway.measures import PairView
from analyser.colourway.plan_choice import Choosing, PlanProposal, PlanWish
from analyser.colourway.plan_seen import PlanSeen, plan_seen
from analyser.colourway.series import BeadSeries, FadeCourse
from analyser.errors import OptionError, StockError
from analyser.motif.plan import Plan, Stretch
from analyser.piece import counting
from analyser.piece.counting import BeadCount
from analyser.piece.gauge import Gauge
from analyser.piece.planned_count import check_roles, count_plan
from analyser.piece.planned_piece import PlannedPiece, planned_piece
from analyser.stock.bead import Bead
from analyser.stock.colour_text import GivenColour, read_colour
from analyser.stock.stock import Stock

USUAL_MM = 180.0
"""Where no length is told, a plan is measured and drawn on a bracelet of 18 cm; nothing is counted for it."""


@dataclass(frozen=True, slots=True, eq=False)
class PlannedDesign:
    """A colourway along a plan.

    Attributes
    ----------
    piece : PlannedPiece
        Of the wanted length, else of ``USUAL_MM``.
    proposal : PlanProposal or None
        None where the maker gave the plan.
    beside : mapping of role to Bead
        Chosen for the roles of which the maker's plan says nothing.
    seen : PlanSeen
    counts : bool
        Whether a length was wanted.
    """

    piece: PlannedPiece
    proposal: PlanProposal | None
    beside: Mapping[str, Bead]
    seen: PlanSeen
    counts: bool

    @property
    def plan(self) -> Plan:
        """The plan itself, beads named as in the list."""
        return self.piece.planned.plan


def design_plan(
    result: Colourway, stock: Stock, wishes: Wishes, wish: Plan | PlanWish
) -> PlannedDesign | None:
    """Lay a photo's colourway along a plan.

    Parameters
    ----------
    result : Colourway
        As ``design.design`` made it.
    stock, wishes
        Those it was made with.
    wish : Plan or PlanWish
        The maker's own plan, or what to propose.

    Returns
    -------
    PlannedDesign or None
        None where the stock gives no such plan, or no pair to lead it.

    Raises
    ------
    PlanError, StockError, OptionError
        If the plan names what is not there.
    """
    made = counted(replace(wishes, length_mm=wishes.length_mm or USUAL_MM))
    assert made is not None
    among = _choosing(result, stock, wishes, made if wishes.length_mm else None)
    proposal = None
    if isinstance(wish, PlanWish):
        shown = len(result.palette.colours)
        if wish.between and max(wish.between) >= shown:
            raise OptionError(
                f"the photo's palette has {shown} colours; there is no colour {max(wish.between) + 1}"
            )
        if not result.pairs:
            return None
        proposal = plan_choice.propose(wish, result.pairs[0], among)
        if proposal is None:
            return None
        plan = plan_choice.plan_from(proposal, lambda bead: text_of(bead, stock))
    else:
        plan = wish
        check_roles(plan, wishes.motif.name, wishes.motif.roles)
    beside = _beside(plan, result, stock, wishes, among)
    if proposal is not None:  # its file is complete in itself
        first, *rest = plan.stretches
        texts = {role: text_of(bead, stock) for role, bead in beside.items()}
        plan = replace(plan, stretches=(replace(first, beads={**texts, **first.beads}), *rest))
        beside |= proposal.beside
    named = {
        role: stock.lots(text_of(bead, stock)) for role, bead in beside.items() if role not in plan.roles
    }
    piece = planned_piece(plan, made, named, stock)
    return PlannedDesign(piece, proposal, beside, seen_of(piece, result.view), wishes.length_mm is not None)


def piece_of(
    plan: Plan,
    view: PairView,
    size: str,
    given: Mapping[str, GivenColour],
    stock: Stock | None,
    *,
    length_mm: float = USUAL_MM,
    gauge: Gauge | None = None,
) -> PlannedPiece:
    """A planned piece in given beads or colours, which hold where the plan is silent.

    Parameters
    ----------
    plan : Plan
    view : PairView
    size : str
        Of the beads.
    given : mapping of role to GivenColour
    stock : Stock or None
        Where the plan's beads are looked up.
    length_mm : float
        Finished length.
    gauge : Gauge, optional
        The maker's own.

    Raises
    ------
    PlanError, StockError, OptionError
        If the plan names what is not there, or the length is no piece.
    """
    check_roles(plan, view.motif.name, view.motif.roles)
    named = {
        role: stock.lots(text_of(one.bead, stock))
        for role, one in given.items()
        if one.bead is not None and stock is not None
    }
    made = counting.count(view.motif, length_mm=length_mm, size=size, stock=named, gauge=gauge)
    piece = planned_piece(plan, made, named, stock)
    return replace(piece, colours={role: one.lab for role, one in given.items()} | dict(piece.colours))


def seen_of(piece: PlannedPiece, view: PairView) -> PlanSeen:
    """A planned piece as the eye has it."""
    planned = piece.planned
    return plan_seen(planned.plan, view, planned.count.rounds, planned.rise_mm, piece.colours)


def text_of(bead: Bead, stock: Stock) -> str:
    """How a bead is named so that the list finds it again: its id, with its size where several have it."""
    try:
        stock.lots(bead.id)
    except StockError:
        return f"{bead.id}@{bead.size}"
    return bead.id


def series_between(
    first: Lab, last: Lab, count: int, stock: Stock, wishes: Wishes, role: str = "body"
) -> BeadSeries | None:
    """The beads of a list that step most evenly from one colour to another, for a role of a motif.

    Parameters
    ----------
    first, last : tuple of 3 float
        Lab (D65).
    count : int
        Beads, 2 or more.
    stock, wishes
        With a length, each lot must suffice for its place in the fade.
    role : str
    """
    made = counted(wishes)
    needs = None if made is None else _needs(made)
    return plan_choice.even_series(FadeCourse(first, last, usable(stock, wishes)), count, needs, role)


def _choosing(result: Colourway, stock: Stock, wishes: Wishes, made: BeadCount | None) -> Choosing:
    return Choosing(
        result.palette.colours,
        usable(stock, wishes),
        seen_motif(wishes),
        wishes.contrast,
        None if made is None else _needs(made),
    )


def _needs(made: BeadCount) -> plan_choice.Needs:
    return lambda plan: {need.bead.key: need.with_spare for need in count_plan(plan, made).needs}


def _whole(roles: Sequence[str], among: Choosing) -> dict[str, int] | None:
    """Beads that roles need where one bead serves the whole rope."""
    if among.needs is None:
        return None
    needs = among.needs(Plan((Stretch(),)))
    return {role: needs[role] for role in roles}


def _beside(plan: Plan, result: Colourway, stock: Stock, wishes: Wishes, among: Choosing) -> dict[str, Bead]:
    """Beads for the roles that have none from the first stretch on."""
    first = plan.stretches[0].beads
    open_roles = [role for role in wishes.motif.roles if role not in first]
    found: dict[str, Bead] = {}
    lead = result.pairs[0] if result.pairs else None
    for role in open_roles:
        other = {"accent": "body", "body": "accent"}.get(role)
        if other is not None and role not in plan.roles and other in plan.roles:
            series: list[Lab] = [read_colour(text, stock).lab for text in plan.texts(other)]
            taken = [bead for text in plan.texts(other) if (bead := read_colour(text, stock).bead)]
            beside = plan_choice.best_beside(role, series, [], among, not_these=taken)
            if beside is not None:
                found[role] = beside[0]
        elif other is not None and lead is not None:
            found[role] = lead.accent if role == "accent" else lead.body
        elif role in plan.roles and lead is not None and role in lead.others:
            found[role] = lead.others[role]
    letters = [role for role in open_roles if role not in ("accent", "body", *found)]
    named = [
        bead for role in plan.roles for text in plan.texts(role) if (bead := read_colour(text, stock).bead)
    ]
    stood_for = lead.stands_for.values() if lead else ()
    added = further.choose(
        letters, (*found.values(), *named), stood_for, among.colours, among.beads, _whole(letters, among)
    )
    found |= {role: one.bead for role, one in added.items()}
    return found
