"""Pieces of a set against each other, a new lot against a rope, a rope against its beads, in words."""

from __future__ import annotations

from analyser.audit.comparing import AgainstStock, Between, NewLot, NewLotVerdict
from analyser.phrases.audits import FADE

_ADVICE: dict[NewLotVerdict, str] = {
    "same": "it may go straight on",
    "usable if blended": (
        f"a pile alone can look this much unlike the same bead woven; weave two rounds to be sure, or {FADE}"
    ),
    "visible": "more than pile against weave explains; keep it for another piece",
}


def between(one: Between) -> str:
    """Whether two pieces' colours of a role can be told apart."""
    if not one.told_apart:
        return f"the {one.role} of both pieces is the same as far as the photos can tell"
    doubt = f"more than the photos' uncertainty of {one.uncertainty_de00:.1f}"
    return f"the {one.role} differs by {one.de00:.1f}, {doubt}"


def new_lot(lot: NewLot) -> str:
    """Whether beads of a new lot may go on."""
    lead = f"the new lot is CIEDE2000 {lot.de00:.1f} from the rope's {lot.role}"
    return f"{lead}: {lot.verdict}; {_ADVICE[lot.verdict]}"


def against_stock(one: AgainstStock) -> str:
    """Whether a role can be of the bead it is said to be of."""
    lead, allowance = f"the {one.role} is {one.de00:.1f} from {one.bead}", f"{one.allowance_de00:.1f}"
    if one.explained:
        return f"{lead}, within what weaving and the photo explain ({allowance})"
    return f"{lead}, more than weaving and the photo explain ({allowance}); was it woven from another bead?"
