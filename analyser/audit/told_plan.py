"""A plan as an audit needs it: with the colours of its beads as far as they are known."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

from analyser.arrays import Lab
from analyser.errors import AnalyserError
from analyser.motif.motif import Motif
from analyser.motif.plan import Plan
from analyser.piece.planned_count import check_roles
from analyser.stock.colour_text import read_colour
from analyser.stock.stock import Stock


@dataclass(frozen=True, slots=True, eq=False)
class ToldPlan:
    """A plan and what is known of its beads.

    Attributes
    ----------
    plan : Plan
    colours : mapping of str to Lab
        By the text of the plan, where it names a colour or a bead of a stock.
    roles : tuple of str
        Of the motif; empty where it is not known.
    guessed : bool
        Read from the rope itself, not told: then nothing can be off it.
    """

    plan: Plan
    colours: Mapping[str, Lab] = field(default_factory=lambda: MappingProxyType({}))
    roles: tuple[str, ...] = ()
    guessed: bool = False


def told_plan(plan: Plan, stock: Stock | None = None, motif: Motif | None = None) -> ToldPlan:
    """Look up the colours of a plan's beads.

    Parameters
    ----------
    plan : Plan
    stock : Stock, optional
        Without it ids are labels: they say which stretches share a bead.
    motif : Motif, optional

    Raises
    ------
    PlanError
        If the plan names a role that the motif has not.
    StockError, OptionError
        If a text is neither a bead of the stock nor a colour.
    """
    if motif is not None:
        check_roles(plan, motif.name, motif.roles)
    colours: dict[str, Lab] = {}
    for text in (text for role in plan.roles for text in plan.texts(role)):
        try:
            colours[text] = read_colour(text, stock).lab
        except AnalyserError:
            if stock is not None:
                raise
    return ToldPlan(plan, colours, () if motif is None else motif.roles)
