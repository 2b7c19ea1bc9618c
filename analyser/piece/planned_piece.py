"""A piece made to a plan: its beads looked up in the list, counted bead by bead, with their colours."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from analyser.arrays import Lab
from analyser.errors import OptionError, PlanError
from analyser.motif.motif import Motif
from analyser.motif.plan import Plan, PlannedBead
from analyser.piece.counting import BeadCount
from analyser.piece.kits import KitColourway
from analyser.piece.planned_count import PlannedCount, by_bead, check_roles, count_plan
from analyser.stock.bead import Bead
from analyser.stock.colour_text import read_colour
from analyser.stock.lots import largest
from analyser.stock.stock import Stock

Lots = dict[str, tuple[Bead, ...]]


@dataclass(frozen=True, slots=True)
class PlannedPiece:
    """A planned piece as counted.

    Attributes
    ----------
    planned : PlannedCount
    lots : mapping of str to lots
        Of its beads, by ``PlannedBead.key``; ``end`` for end beads that were named. A colour has none.
    colours : mapping of str to Lab
        Of its beads, by their key, where they are known.
    """

    planned: PlannedCount
    lots: Mapping[str, Sequence[Bead]]
    colours: Mapping[str, Lab]

    @property
    def kits(self) -> KitColourway:
        """The piece as a colourway of a class, bead by bead."""
        counted = by_bead(self.planned, self.lots)
        used = {key: lots for key, lots in self.lots.items() if key in counted.beads or key == "end"}
        return KitColourway("", counted, used, counted.kits, self.planned.plan)

    @property
    def takes(self) -> tuple[tuple[Bead, int], ...]:
        """Lots and beads that one piece took, without spare: of each bead the lot that holds most."""
        return tuple(
            (largest(self.lots[need.bead.key]), need.beads)
            for need in self.planned.needs
            if need.bead.key in self.lots
        )

    def require_beads(self) -> None:
        """See that nothing is named as a colour, before it is booked out.

        Raises
        ------
        PlanError
            With the first colour that is no bead of the list.
        """
        for need in self.planned.needs:
            if need.bead.text is not None and need.bead.key not in self.lots:
                raise PlanError(
                    f"the plan names {need.bead.text} for the {need.bead.role}: a colour, no bead of the list"
                )


def usual_lots(plan: Plan, named: Mapping[str, tuple[Bead, ...]], stock: Stock | None, motif: Motif) -> Lots:
    """The lots by which each role's kind of bead is told: those named, else those of its first in the plan.

    Parameters
    ----------
    plan : Plan
    named : mapping of role to lots
        Where the maker named a bead for the role.
    stock : Stock or None
    motif : Motif

    Raises
    ------
    PlanError
        If the plan names a role that the motif has not.
    StockError
        If a text is neither a bead of the stock nor a colour.
    """
    check_roles(plan, motif.name, motif.roles)
    lots = lots_of(plan, named, stock, motif)
    found = dict(named)
    for role in plan.roles:
        keys = (PlannedBead(role, text).key for text in plan.texts(role))
        first = next((lots[key] for key in keys if key in lots), None)
        if first is not None:
            found.setdefault(role, first)
    return found


def planned_piece(
    plan: Plan, count: BeadCount, named: Mapping[str, tuple[Bead, ...]], stock: Stock | None
) -> PlannedPiece:
    """Count a piece by its plan.

    Parameters
    ----------
    plan : Plan
    count : BeadCount
        Of the piece without the plan.
    named : mapping of role to lots
        Beads of the roles where the plan says nothing; ``end`` for end beads.
    stock : Stock or None
        Where the plan's beads are looked up.

    Raises
    ------
    StockError, OptionError
        If a text is neither a bead of the stock nor a colour; without a stock any text stands for itself.
    PlanError
        As ``count_plan``.
    """
    motif = count.motif
    lots = lots_of(plan, named, stock, motif)
    if "end" in named:
        lots["end"] = named["end"]
    colours = {key: held[0].lab for key, held in lots.items() if key != "end" and held[0].lab is not None}
    for role in motif.roles:
        for text in plan.texts(role):
            key = PlannedBead(role, text).key
            if key not in lots:
                try:
                    colours[key] = read_colour(text).lab
                except OptionError:
                    if stock is not None:
                        raise
    planned = count_plan(plan, count, lots)
    counted = by_bead(planned, lots)
    roles = None if counted.stock is None else {k: v for k, v in counted.stock.items() if ":" not in k}
    told = replace(count, stock=roles or None, cost=counted.cost, currency=counted.currency)
    return PlannedPiece(replace(planned, count=told), lots, colours)


def lots_of(plan: Plan, named: Mapping[str, tuple[Bead, ...]], stock: Stock | None, motif: Motif) -> Lots:
    """The lots of each planned bead, by its key; a colour has none, and without a stock nothing has.

    Raises
    ------
    StockError, OptionError
        If a text is neither a bead of the stock nor a colour.
    """
    found = {role: lots for role, lots in named.items() if role in motif.roles}
    for role in motif.roles:
        for text in plan.texts(role):
            if stock is not None and _is_bead(text, stock):
                found[PlannedBead(role, text).key] = stock.lots(text)
    return found


def _is_bead(text: str, stock: Stock) -> bool:
    """Whether a text names a bead of the stock, with or without a colour; else it must be a colour."""
    if text.lower().startswith("lab:"):
        return False
    if _names_colour(text):
        return any(text.casefold() in (bead.id.casefold(), bead.name.casefold()) for bead in stock.beads)
    stock.lots(text)
    return True


def _names_colour(text: str) -> bool:
    try:
        read_colour(text)
    except OptionError:
        return False
    return True
