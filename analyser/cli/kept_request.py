"""Kept colourways as the colourways of a class: ``--kept 'NAME x3'``."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import TYPE_CHECKING

from analyser.errors import OptionError

if TYPE_CHECKING:
    from analyser.piece.kits import KitColourway
    from analyser.stock.stock import Stock


def kept_kits(texts: Sequence[str], stock: Stock | None, spare: float | None) -> list[KitColourway]:
    """The kept colourways that were named, each counted from the list for its kits.

    Parameters
    ----------
    texts : sequence of str
        Names, each with its kits or for one: ``Quay bracelet x3``.
    stock : Stock or None
        The list they are kept beside.
    spare : float or None
        Share on top; that of kits if None.
    """
    from analyser.piece import counting, kept, kept_pieces

    if stock is None:
        raise OptionError("--kept looks beside a stock list; give it as --stock FILE")
    made = []
    for text in texts:
        parts = re.fullmatch(r"(.+?)(?:\s+x\s*(\d+))?", text.strip())
        if not parts:
            raise OptionError(f"expected --kept 'NAME x3', got {text!r}")
        one = kept.read(kept.find(kept.folder_of(stock.path), parts[1]))
        aside = counting.SPARE_KIT if spare is None else spare
        made.append(kept_pieces.counted(one, stock, kits=int(parts[2] or 1), spare=aside))
    return made
