"""Kits for a class.

A class is one motif in one or several colourways. Its lots are shared out kit by kit: each role of each
kit comes from one lot, and colourways that use the same bead draw on the same lots.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from analyser.beads import lots as dye_lots
from analyser.beads.bead import Bead
from analyser.beads.cards import KitCard, card, needle_for, thread_for
from analyser.beads.counting import BeadCount

PACK_GRAMS = 10.0


@dataclass(frozen=True, slots=True)
class ToBuy:
    """One line of the shopping list.

    Attributes
    ----------
    what : str
        The bead, or the part.
    beads : int
        Beads that are missing; 0 for parts.
    grams : float
        Their weight by the low end of beads per gram; 0 for parts.
    packs : int
        Packs to buy, or pieces.
    pack : str
        What a pack is.
    note : str
        Such as that it must be one lot.
    """

    what: str
    beads: int
    grams: float
    packs: int
    pack: str
    note: str = ""


@dataclass(frozen=True, slots=True)
class Colourway:
    """A colourway of a class: its name, what a piece takes, and the lots of each role's bead.

    Attributes
    ----------
    name : str
        As the cards call it.
    count : BeadCount
        Of one kit, counted for the beads of this colourway.
    stock : mapping of role to lots
        All lots of each role's bead; empty where no stock is used.
    kits : int
        Bags of this colourway.
    """

    name: str
    count: BeadCount
    stock: Mapping[str, Sequence[Bead]]
    kits: int


@dataclass(frozen=True, slots=True)
class ClassPlan:
    """A class: a card for each bag, what is short, and the shopping list.

    Attributes
    ----------
    cards : tuple of KitCard
        In the order of the colourways.
    missing : tuple of (str, str, int)
        Colourway, role and kits that no lot serves.
    shopping : tuple of ToBuy
        Beads first, then parts.
    """

    cards: tuple[KitCard, ...]
    missing: tuple[tuple[str, str, int], ...]
    shopping: tuple[ToBuy, ...]

    @property
    def enough(self) -> bool:
        """Whether the stock serves every kit in every role."""
        return not self.missing


def split_kits(kits: int, ways: int) -> tuple[int, ...]:
    """Kits of each colourway, as even as can be, the first ones larger.

    Examples
    --------
    >>> split_kits(12, 5)
    (3, 3, 2, 2, 2)
    """
    each, rest = divmod(kits, ways)
    return tuple(each + (i < rest) for i in range(ways))


def plan(colourways: Sequence[Colourway], *, pack_grams: float = PACK_GRAMS) -> ClassPlan:
    """Plan a class.

    Parameters
    ----------
    colourways : sequence of Colourway
        At least one.
    pack_grams : float
        Grams of a pack where the stock list does not say what a tube or hank holds.

    Returns
    -------
    ClassPlan
        Serves as many kits of each bead as any sharing of its lots can.
    """
    entries = [
        (way, kit, role)
        for way, made in enumerate(colourways)
        for kit in range(made.kits)
        for role in made.stock
    ]
    given: dict[tuple[int, int, str], Bead] = {}
    lots_of = {made.stock[role][0].id: made.stock[role] for made in colourways for role in made.stock}
    for bead_id, lots in lots_of.items():
        wanting = [entry for entry in entries if colourways[entry[0]].stock[entry[2]][0].id == bead_id]
        needs = [colourways[way].count.with_spare[role] for way, _, role in wanting]
        for share in dye_lots.share_out(needs, lots):
            given |= {wanting[i]: share.bead for i in share.served}
    total = sum(made.kits for made in colourways)
    cards: list[KitCard] = []
    for way, made in enumerate(colourways):
        for kit in range(made.kits):
            lots_here = {role: given.get((way, kit, role)) for role in made.count.with_spare}
            cards.append(card(made.count, lots_here, len(cards) + 1, total, made.name))
    missing = tuple(
        (made.name, role, without)
        for way, made in enumerate(colourways)
        for role in made.stock
        if (without := sum((way, kit, role) not in given for kit in range(made.kits)))
    )
    return ClassPlan(tuple(cards), missing, _shopping(colourways, missing, pack_grams))


def _shopping(
    colourways: Sequence[Colourway], missing: Sequence[tuple[str, str, int]], pack_grams: float
) -> tuple[ToBuy, ...]:
    beads: dict[str, ToBuy] = {}
    for made in colourways:
        for role, number in made.count.with_spare.items():
            lots = made.stock.get(role)
            kits = (
                made.kits
                if lots is None
                else sum(n for name, r, n in missing if (name, r) == (made.name, role))
            )
            if not kits:
                continue
            kind = made.count.kinds[role]
            what = f"{lots[0].name} ({lots[0].id})" if lots else f"{role}, {kind}"
            grams, pack = _pack(lots, pack_grams)
            old = beads.get(what)
            total = number * kits + (old.beads if old else 0)
            weight = total / kind.per_gram[0]
            note = (
                "each bead of one lot"
                if total == number
                else "each bead of one lot, or of one lot for each kit"
            )
            beads[what] = ToBuy(what, total, weight, math.ceil(weight / grams - 1e-9), pack, note)
    kits = sum(made.kits for made in colourways)
    parts = [ToBuy("clasp", 0, 0.0, kits, "piece"), ToBuy("jump ring", 0, 0.0, 2 * kits, "piece")]
    ends: dict[float, int] = {}
    for made in colourways:
        if made.count.end_bead_mm:
            ends[made.count.end_bead_mm] = ends.get(made.count.end_bead_mm, 0) + 2 * made.kits
    parts += [
        ToBuy(f"end bead {size:g} mm", 0, 0.0, number, "piece") for size, number in sorted(ends.items())
    ]
    threads: dict[str, float] = {}
    needles: dict[str, int] = {}
    for made in colourways:
        bead_mm = [kind.diameter_mm for kind in made.count.kinds.values()]
        kind_of_thread, needle = thread_for(max(bead_mm)), needle_for(min(bead_mm))
        threads[kind_of_thread] = threads.get(kind_of_thread, 0.0) + made.kits * made.count.thread.total_m
        needles[needle] = needles.get(needle, 0) + made.kits
    parts += [ToBuy(f"needle, {needle}", 0, 0.0, number, "piece") for needle, number in needles.items()]
    parts += [
        ToBuy(f"thread, {what}", 0, 0.0, math.ceil(metres - 1e-9), "metre")
        for what, metres in threads.items()
    ]
    return (*beads.values(), *parts)


def _pack(lots: Sequence[Bead] | None, pack_grams: float) -> tuple[float, str]:
    """Grams of a pack and what it is called: as the list has them, else the given grams."""
    for bead in lots or ():
        held = bead.quantity
        if held and held.grams_each:
            return held.grams_each, f"{held.unit.rstrip('s')} of {held.grams_each:g} g"
    return pack_grams, f"pack of {pack_grams:g} g"
