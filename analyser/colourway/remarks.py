"""What a design was made by, and what stood in the way: typed values for ``phrases.designs``."""

from __future__ import annotations

from dataclasses import dataclass

from analyser.colourway.collection import Collection


@dataclass(frozen=True, slots=True)
class PairsFor:
    """What the pairs are for: the motif's title, the beads (size and shape), the wish for contrast."""

    motif: str
    beads: str
    contrast: str


@dataclass(frozen=True, slots=True)
class RolesByShare:
    """The body was sought among what fills the photo, the accent among what is small and vivid."""


@dataclass(frozen=True, slots=True)
class NoBeads:
    """No bead of the stock is of that size and shape and has a colour."""

    beads: str


@dataclass(frozen=True, slots=True)
class NoPairs:
    """No two beads stand for colours of the photo and stay apart in the motif."""


@dataclass(frozen=True, slots=True)
class FewerPairs:
    """The stock gives fewer pairs than wanted."""

    found: int
    wanted: int


@dataclass(frozen=True, slots=True)
class Stays:
    """Only pairs with a bead, or for a colour, that the maker has chosen; and whether there are any."""

    name: str
    is_bead: bool
    found: bool


@dataclass(frozen=True, slots=True)
class NotCounted:
    """Nothing was counted, because no length was given."""


Remark = Collection | PairsFor | RolesByShare | NoBeads | NoPairs | FewerPairs | Stays | NotCounted
