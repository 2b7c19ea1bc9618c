"""What the stock holds for a piece or a class, each role of each piece from one lot."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from analyser.stock import lots as dye_lots
from analyser.stock.bead import Bead


@dataclass(frozen=True, slots=True)
class Held:
    """What the stock holds of a role.

    Attributes
    ----------
    bead : Bead
        The largest single lot.
    have : int or None
        Beads it holds for sure; None where the list does not say.
    enough : bool or None
        Whether every piece can be made, each from one lot.
    short : int or None
        Beads that are missing, in lots of at least one piece each.
    shares : tuple of Share
        For a class: which kits each lot serves.
    blend : BlendedLots or None
        How to mix two lots where no single one suffices and two do.
    """

    bead: Bead
    have: int | None
    enough: bool | None
    short: int | None
    shares: tuple[dye_lots.Share, ...] = ()
    blend: dye_lots.BlendedLots | None = None


def hold(needs: Mapping[str, int], stock: Mapping[str, Sequence[Bead]], kits: int = 1) -> dict[str, Held]:
    """What the stock holds for so many pieces, each role of each piece from one lot.

    Parameters
    ----------
    needs : mapping of role to int
        Beads of one piece.
    stock : mapping of role to lots
        All lots of the bead that each role takes; two roles may take the same bead.
    kits : int
        Pieces.
    """
    found = {}
    for role, lots in stock.items():
        # Roles that take the same bead draw on the same lots.
        together = [other for other in stock if stock[other][0].id == lots[0].id]
        entries = [(other, kit) for kit in range(kits) for other in together]
        shares = dye_lots.share_out([needs[other] for other, _ in entries], lots)
        mine = tuple(
            dye_lots.Share(share.bead, kits_of)
            for share in shares
            if (kits_of := tuple(entries[i][1] for i in share.served if entries[i][0] == role))
        )
        served = sum(len(share.served) for share in mine)
        told = [sure for bead in lots if (sure := dye_lots.sure_beads(bead)) is not None]
        have = None if not told else max(told) if kits == 1 else sum(told)
        enough = True if served == kits else None if len(told) < len(lots) else False
        found[role] = Held(
            bead=dye_lots.largest(lots),
            have=have,
            enough=enough,
            short=None if enough is None else _short(needs[role], kits, served, have or 0),
            shares=mine,
        )
    return found


def _short(need_of_one: int, kits: int, served: int, have: int) -> int:
    """Beads to buy: for a class whole kits, since each needs one lot; for a piece what the lot lacks."""
    if kits == 1 and have < need_of_one:
        return need_of_one - have
    return (kits - served) * need_of_one
