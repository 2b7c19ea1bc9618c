"""Kits for a class.

A class is one motif in one or several colourways. Its lots are shared out kit by kit: each role of each
kit comes from one lot, and colourways that use the same bead draw on the same lots.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from analyser.motif.plan import Plan
from analyser.piece.counting import END_BEADS, BeadCount
from analyser.piece.piece_cards import KitCard, card, needle_for, thread_for
from analyser.stock import lots as dye_lots
from analyser.stock.bead import Bead

PACK_GRAMS = 10.0
_SAME_MM = 0.25
"""Large beads are sold by the half millimetre."""


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
class KitColourway:
    """A colourway of a class: its name, what a piece takes, and the lots of each role's bead.

    Attributes
    ----------
    name : str
        As the cards call it.
    count : BeadCount
        Of one kit, counted for the beads of this colourway; of a planned piece bead by bead.
    stock : mapping of role to lots
        All lots of each role's bead (of a planned piece of each bead, by its key); empty where no stock is
        used.
    kits : int
        Bags of this colourway.
    along : Plan or None
        The plan along the rope, where the count is bead by bead.
    """

    name: str
    count: BeadCount
    stock: Mapping[str, Sequence[Bead]]
    kits: int
    along: Plan | None = None


@dataclass(frozen=True, slots=True)
class ClassPlan:
    """A class: a card for each bag, what is short, and the shopping list.

    Attributes
    ----------
    cards : tuple of KitCard
        In the order of the colourways.
    missing : tuple of (str, str, int)
        Colourway, role and kits that no lot serves.
    unknown : tuple of (str, str, int)
        The same where a lot may serve them whose content the list does not say.
    shopping : tuple of ToBuy
        Beads first, then parts.
    taken : tuple of (Bead, int)
        Lots, and the beads to set aside of each, kit by kit and role by role.
    """

    cards: tuple[KitCard, ...]
    missing: tuple[tuple[str, str, int], ...]
    unknown: tuple[tuple[str, str, int], ...]
    shopping: tuple[ToBuy, ...]
    taken: tuple[tuple[Bead, int], ...]

    @property
    def enough(self) -> bool | None:
        """Whether the stock serves every kit in every role; None where the list does not say."""
        return False if self.missing else None if self.unknown else True


def split_kits(kits: int, ways: int) -> tuple[int, ...]:
    """Kits of each colourway, as even as can be, the first ones larger.

    Examples
    --------
    >>> split_kits(10, 4)
    (3, 3, 2, 2)
    """
    each, rest = divmod(kits, ways)
    return tuple(each + (i < rest) for i in range(ways))


def owned_end_beads(colourways: Sequence[KitColourway], beads: Sequence[Bead]) -> dict[float, Bead]:
    """For each size of end bead that no colourway names, a lot of the list that has enough of them.

    Parameters
    ----------
    colourways : sequence of KitColourway
        The class.
    beads : sequence of Bead
        The maker's list; a bead that the ropes are woven of is left to them.

    Returns
    -------
    dict of float to Bead
        By the end bead's mm; sizes of which the list has too few are not there.
    """
    woven = {lots[0].id for made in colourways for lots in made.stock.values()}
    needs: dict[float, int] = {}
    for made in colourways:
        if made.count.end_bead_mm and "end" not in made.stock:
            needs[made.count.end_bead_mm] = needs.get(made.count.end_bead_mm, 0) + END_BEADS * made.kits
    found = {}
    for mm, need in needs.items():
        enough = [
            bead
            for bead in beads
            if bead.id not in woven
            and abs((bead.diameter_mm or 0.0) - mm) <= _SAME_MM
            and (dye_lots.sure_beads(bead) or 0) >= need
        ]
        if enough:
            found[mm] = dye_lots.largest(enough)
    return found


def plan(
    colourways: Sequence[KitColourway],
    *,
    pack_grams: float = PACK_GRAMS,
    owned_ends: Mapping[float, Bead] | None = None,
) -> ClassPlan:
    """Plan a class.

    Parameters
    ----------
    colourways : sequence of KitColourway
        At least one.
    pack_grams : float
        Grams of a pack where the stock list does not say what a tube or hank holds.
    owned_ends : mapping of float to Bead, optional
        As ``owned_end_beads`` gives it: what is owned is not bought.

    Returns
    -------
    ClassPlan
        Serves as many kits of each bead as any sharing of its lots can.
    """
    given = _given(colourways)
    total = sum(made.kits for made in colourways)
    cards: list[KitCard] = []
    for way, made in enumerate(colourways):
        for kit in range(made.kits):
            lots_here = {role: given.get((way, kit, role)) for role in made.count.taken}
            wanted = {role: lots[0] for role, lots in made.stock.items()}
            cards.append(card(made.count, lots_here, len(cards) + 1, total, made.name, wanted))
    unserved = {
        (way, role): without
        for way, made in enumerate(colourways)
        for role in made.stock
        if (without := sum((way, kit, role) not in given for kit in range(made.kits)))
    }
    # A lot whose content the list does not say may be plenty: that is a question, no shortage.
    doubtful = {
        (way, role): kits
        for (way, role), kits in unserved.items()
        if any(dye_lots.sure_beads(bead) is None for bead in colourways[way].stock[role])
    }
    missing = {at: kits for at, kits in unserved.items() if at not in doubtful}
    return ClassPlan(
        cards=tuple(cards),
        missing=tuple((colourways[way].name, role, kits) for (way, role), kits in missing.items()),
        unknown=tuple((colourways[way].name, role, kits) for (way, role), kits in doubtful.items()),
        shopping=(
            *_beads_to_buy(colourways, missing, pack_grams),
            *_parts_to_buy(colourways, missing, owned_ends or {}),
        ),
        taken=tuple((bead, colourways[way].count.taken[role]) for (way, _, role), bead in given.items()),
    )


def _given(colourways: Sequence[KitColourway]) -> dict[tuple[int, int, str], Bead]:
    """The lot that serves each role of each kit of each colourway, where one does."""
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
        needs = [colourways[way].count.taken[role] for way, _, role in wanting]
        for share in dye_lots.share_out(needs, lots):
            given |= {wanting[i]: share.bead for i in share.served}
    return given


def _beads_to_buy(
    colourways: Sequence[KitColourway], missing: Mapping[tuple[int, str], int], pack_grams: float
) -> list[ToBuy]:
    """Beads that no lot serves, or all of them where there is no stock."""
    beads: dict[str, ToBuy] = {}
    for way, made in enumerate(colourways):
        for role, number in made.count.with_spare.items():
            lots = made.stock.get(role)
            kits = missing.get((way, role), 0) if lots else made.kits
            if not kits:
                continue
            kind = made.count.kinds[role]
            what = f"{lots[0].name} ({lots[0].id})" if lots else f"{role.replace(':', ' ', 1)}, {kind}"
            grams, pack = _pack(lots, pack_grams)
            total = number * kits + (beads[what].beads if what in beads else 0)
            weight = total / kind.per_gram[0]
            each = "" if total == number else ", or of one lot for each kit"
            packs = math.ceil(weight / grams - 1e-9)
            beads[what] = ToBuy(what, total, weight, packs, pack, f"each bead of one lot{each}")
    return list(beads.values())


def _parts_to_buy(
    colourways: Sequence[KitColourway],
    missing: Mapping[tuple[int, str], int],
    owned_ends: Mapping[float, Bead],
) -> list[ToBuy]:
    """Clasps, rings, end beads, needles, thread."""
    pieces: dict[str, int] = {"clasp": 0, "jump ring": 0}
    metres: dict[str, float] = {}
    for way, made in enumerate(colourways):
        pieces["clasp"] += made.kits
        pieces["jump ring"] += 2 * made.kits
        ends = made.stock.get("end")
        without = missing.get((way, "end"), 0) if ends else made.kits
        owned = not ends and made.count.end_bead_mm in owned_ends
        if made.count.end_bead_mm and without and not owned:
            named = f", {ends[0].name} ({ends[0].id})" if ends else ""
            end_bead = f"end bead {made.count.end_bead_mm:g} mm{named}"
            pieces[end_bead] = pieces.get(end_bead, 0) + 2 * without
        bead_mm = [kind.diameter_mm for kind in made.count.kinds.values()]
        needle = f"needle, {needle_for(min(bead_mm))}"
        pieces[needle] = pieces.get(needle, 0) + made.kits
        thread = f"thread, {thread_for(max(bead_mm))}"
        metres[thread] = metres.get(thread, 0.0) + made.kits * made.count.thread.total_m
    return [
        *(ToBuy(what, 0, 0.0, number, "piece") for what, number in pieces.items()),
        *(ToBuy(what, 0, 0.0, math.ceil(length - 1e-9), "metre") for what, length in metres.items()),
    ]


def _pack(lots: Sequence[Bead] | None, pack_grams: float) -> tuple[float, str]:
    """Grams of a pack and what it is called: as the list has them, else the given grams."""
    for bead in lots or ():
        held = bead.quantity
        if held and held.grams_each:
            return held.grams_each, f"{held.unit.rstrip('s')} of {held.grams_each:g} g"
    return pack_grams, f"pack of {pack_grams:g} g"
