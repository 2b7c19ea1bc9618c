"""Pieces of a set against each other, a new lot against a rope, a rope against its beads, in words."""

from __future__ import annotations

from collections.abc import Sequence

from analyser.audit.comparing import AgainstStock, Between
from analyser.audit.new_lots import OLD_LOT, NewLot, NewLotVerdict
from analyser.audit.verdict import Verdict
from analyser.phrases.audits import FADE
from analyser.phrases.figures import difference as figure

_ADVICE: dict[NewLotVerdict, str] = {
    "same": "it may go straight on",
    "usable if blended": (
        f"a pile alone can look this much unlike the same bead woven; weave two rounds to be sure, or {FADE}"
    ),
    "visible": "more than pile against weave explains; keep it for another piece",
}

_ADVICE_PILED: dict[NewLotVerdict, str] = {
    "same": "it may go straight on",
    "usable if blended": f"side by side it shows; {FADE}",
    "visible": "a fade would not hide it; keep it for another piece",
}


def between(one: Between) -> str:
    """Whether two pieces' colours of a role can be told apart."""
    twin = "" if one.role == one.role_b else f" (the {one.role_b} of the other)"
    role = f"the {one.role}{twin}"
    if one.told == "same":
        sure = figure(one.uncertainty_de00)
        return f"{role} of both pieces is the same as far as the photos can tell (±{sure})"
    if one.told == "cannot tell" and one.referenced:
        return (
            f"cannot tell whether {role} is the same: it looks {figure(one.de00)} apart, little beyond the "
            f"photos' uncertainty of {figure(one.uncertainty_de00)}; lay both close together in even light"
        )
    if one.told == "cannot tell":
        return (
            f"cannot tell whether {role} is the same: it looks {figure(one.de00)} apart, in two photos that "
            "do not each show a card or sheet; photograph the ropes together, or with a card"
        )
    doubt = f"more than the photos' uncertainty of {figure(one.uncertainty_de00)}"
    return f"{role} differs by {figure(one.de00)}, {doubt}"


def of_a_set(verdicts: Sequence[Verdict]) -> str:
    """How many ropes of a set are even."""
    even = sum(verdict == "even" for verdict in verdicts)
    if even == len(verdicts):
        return f"all {even} ropes are even"
    return f"{even} of {len(verdicts)} ropes {'is' if even == 1 else 'are'} even"


def new_lot(lot: NewLot) -> str:
    """Whether beads of a new lot may go on."""
    if lot.role == OLD_LOT:
        lead = f"the new lot is CIEDE2000 {figure(lot.de00)} from the old lot beside it"
        return f"{lead}: {lot.verdict}; {_ADVICE_PILED[lot.verdict]}"
    lead = f"the new lot is CIEDE2000 {figure(lot.de00)} from the rope's {lot.role}"
    return f"{lead}: {lot.verdict}; {_ADVICE[lot.verdict]}"


def against_stock(one: AgainstStock) -> str:
    """Whether a role can be of the bead it is said to be of."""
    lead, allowance = f"the {one.role} is {figure(one.de00)} from {one.bead}", figure(one.allowance_de00)
    if one.explained:
        return f"{lead}, within what weaving and the photo explain ({allowance})"
    return f"{lead}, more than weaving and the photo explain ({allowance}); was it woven from another bead?"
