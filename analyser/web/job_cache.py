"""What the jobs of a worker share: the last few of a kind, limits, and the motifs."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any, TypeVar

from analyser.motif import own_motifs
from analyser.motif.motif import Motif
from analyser.photo import papers
from analyser.photo.cards import Card

T = TypeVar("T")

#: Megapixels a photo may have: twice what telephones take; keeps a worker within its memory.
LIMIT_MP = 64.0
SHOWN_PX = 1600


class Kept:
    """The last few of a kind, by key."""

    def __init__(self, most: int) -> None:
        self._most = most
        self._held: OrderedDict[Any, Any] = OrderedDict()

    def get(self, key: Any, make: Callable[[], T]) -> T:
        """What is kept under the key, made if need be; the oldest goes for it."""
        if key not in self._held:
            self._held[key] = make()
            while len(self._held) > self._most:
                self._held.popitem(last=False)
        self._held.move_to_end(key)
        found: T = self._held[key]
        return found

    def __contains__(self, key: Any) -> bool:
        return key in self._held


def known_motif(name: str, stock_file: str | Path) -> Motif:
    """A shipped motif, or one of the maker's own beside the list; the page opens no others."""
    return own_motifs.load(name, own_motifs.folder_of(Path(stock_file)))


def light_key(wishes: Mapping[str, Any]) -> tuple[Any, ...]:
    """What a photo's correction depends on beside its file: what was said of it, and the papers learnt."""
    return (*card_told(wishes).values(), papers.stamp())


def card_told(wishes: Mapping[str, Any]) -> dict[str, Any]:
    """What was said of calibration and card, as ``calibrate`` takes it."""
    card = wishes.get("card")
    return {
        "method": wishes.get("calibration", "auto"),
        "card": Card.parse(card) if card else None,
        "no_card": bool(wishes.get("no_card")),
        "even_light": bool(wishes.get("even_light")),
    }
