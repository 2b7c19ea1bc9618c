"""What a design was made by, in words."""

from __future__ import annotations

from analyser.colourway.collection import Collection
from analyser.colourway.further import APART_DE00
from analyser.colourway.remarks import (
    FewerPairs,
    NoBeads,
    NoPairs,
    NotCounted,
    PairsFor,
    Remark,
    RolesByShare,
    Stays,
)
from analyser.phrases.pairs import CONTRAST


def remark(what: Remark) -> str:
    """One remark as a sentence without its capital and full stop."""
    match what:
        case Collection():
            return _collection(what)
        case PairsFor():
            return f"pairs for {what.motif} in {what.beads}, contrast {CONTRAST[what.contrast]}"
        case RolesByShare():
            return "the body is sought among what fills the photo, the accent among what is small and vivid"
        case NoBeads():
            return f"no bead of the stock is {what.beads} and has a colour"
        case NoPairs():
            return "no two beads of the stock stand for colours of this photo and stay apart in the motif"
        case FewerPairs():
            return f"the stock gives {what.found} pairs, not {what.wanted}"
        case Stays():
            name = f"“{what.name}”" if what.is_bead else f"the {what.name}"
            if what.found:
                return f"only pairs with {name}, which stays"
            return f"no bead of the stock stands for a colour of this photo and stays apart from {name}"
        case NotCounted():
            return "nothing counted: give --length to know whether the stock is enough"


def _collection(chosen: Collection) -> str:
    says = (
        f"{len(chosen.pairs)} of {chosen.wanted} colourways, {APART_DE00:g} or more apart in accent or body"
    )
    if chosen.counted:
        says += ", and one lot of each bead holds enough for all of them together"
        if chosen.unknown:
            names = ", ".join(bead.name for bead in chosen.unknown)
            says += f", as far as quantities are noted: they are missing for {names}"
    if len(chosen.pairs) < chosen.wanted:
        says += f"; no more can be made at once of the {chosen.weighed} best pairs"
    return says
