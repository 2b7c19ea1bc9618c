"""Colour for bead-woven rope jewellery, from measured photos.

What is named in ``__all__`` is the library's interface; everything else is private and may change. Names are
loaded when they are first used, so that ``import analyser`` costs nothing.

Examples
--------
What a bracelet takes, and the colours nearest to one:

>>> import analyser
>>> count = analyser.counts(motif="chenille", length="18cm")
>>> sorted(count.beads)
['accent', 'body']
>>> count.low["body"] <= count.beads["body"] <= count.with_spare["body"]
True
"""

from __future__ import annotations

import sys
from importlib import import_module
from types import ModuleType
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from analyser.api import audit, counts, match, pairs, palette, read_stock, tray
    from analyser.audit.verdict import Finding, Piece
    from analyser.colourway.matching import Match, Matches
    from analyser.colourway.measures import Measures
    from analyser.colourway.pairing import Pair
    from analyser.colourway.palette import Palette, PaletteColour
    from analyser.errors import AnalyserError
    from analyser.piece.counting import BeadCount
    from analyser.stock.bead import Bead
    from analyser.stock.stock import Stock
    from analyser.tray.measuring import Pile, Tray

__version__ = "0.1.0"

__all__ = [
    "AnalyserError",
    "Bead",
    "BeadCount",
    "Finding",
    "Match",
    "Matches",
    "Measures",
    "Pair",
    "Palette",
    "PaletteColour",
    "Piece",
    "Pile",
    "Stock",
    "Tray",
    "audit",
    "counts",
    "match",
    "pairs",
    "palette",
    "read_stock",
    "tray",
]

#: Module that holds each name.
_HOMES = {
    **dict.fromkeys(("audit", "counts", "match", "pairs", "palette", "read_stock", "tray"), "api"),
    **dict.fromkeys(("Finding", "Piece"), "audit.verdict"),
    **dict.fromkeys(("Match", "Matches"), "colourway.matching"),
    "Measures": "colourway.measures",
    "Pair": "colourway.pairing",
    **dict.fromkeys(("Palette", "PaletteColour"), "colourway.palette"),
    "AnalyserError": "errors",
    "BeadCount": "piece.counting",
    "Bead": "stock.bead",
    "Stock": "stock.stock",
    **dict.fromkeys(("Pile", "Tray"), "tray.measuring"),
}


class _Interface(ModuleType):
    """The package's own module: a name of the interface stays what it is.

    Python sets a room that is imported on the package by its name; for ``audit`` and ``tray`` that would
    hide the functions so called. ``from analyser.audit import ...`` does not look here and works as ever.
    """

    def __setattr__(self, name: str, value: object) -> None:
        if not (name in _HOMES and isinstance(value, ModuleType)):
            super().__setattr__(name, value)


sys.modules[__name__].__class__ = _Interface


def __getattr__(name: str) -> Any:
    if name not in _HOMES:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(f"{__name__}.{_HOMES[name]}"), name)


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})
