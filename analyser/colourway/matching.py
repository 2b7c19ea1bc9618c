"""From a colour to the beads one owns that come nearest.

Distances are CIEDE2000 on Lab (D65, 2 degree observer). A verdict speaks of the two colours as measured; how
well they are known is another statement.

Sources
-------
[1] Paravina et al. (2015), J. Esthet. Restor. Dent. 27(S1), S1-S9: 175 observers comparing tooth-coloured
    samples side by side in a viewing booth; half of them see 0.8 CIEDE2000, half of them accept 1.8.
[2] Sharma, Wu, Dalal (2005), doi:10.1002/col.20070: CIEDE2000 was fitted to differences up to about 5 CIELAB.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt

from analyser.arrays import FloatArray, Lab
from analyser.colour.difference import delta_e_2000
from analyser.colour.gamut import lab_to_hex
from analyser.colour.names import everyday_name
from analyser.colour.nearest import nearest_2000
from analyser.colour.spaces import triples
from analyser.errors import StockError
from analyser.stock.bead import Bead
from analyser.stock.list.stock_list import Stock

Verdict = Literal["same", "close", "off", "different"]

SAME_DE00 = 0.8
"""[1]: half the observers see this difference side by side. Below it a match is ``same``."""
CLOSE_DE00 = 1.8
"""[1]: half the observers accept this difference. Below it a match is ``close``."""
OFF_DE00 = 5.0
"""[2]: the end of small differences. Below it a match is ``off``: above, another colour."""


@dataclass(frozen=True, slots=True)
class Match:
    """One bead of the stock, beside the colour it is for.

    Attributes
    ----------
    bead : Bead
        The bead; of several lots the nearest one. Rows of one id, size and shape are lots of one bead.
    other_lots : tuple of Bead
        Its further lots that pass the same filters, nearest first.
    de00 : float
        CIEDE2000 from the colour to the bead; above about 5 it only ranks.
    uncertainty_de00 : float
        Of photo and bead together, in CIEDE2000; a bead without a stated one counts as certain.
    verdict : str
        ``same``, ``close``, ``off`` or ``different``, of the two colours as measured.
    """

    bead: Bead
    other_lots: tuple[Bead, ...]
    de00: float
    uncertainty_de00: float
    verdict: Verdict


@dataclass(frozen=True, slots=True)
class ShopFor:
    """A colour to buy, where nothing in stock is near.

    Attributes
    ----------
    lab : tuple of 3 float
        The colour.
    hex : str
        The nearest sRGB colour.
    in_srgb : bool
        False where it had to be mapped, and the screen cannot show it.
    name : str
        Its everyday name.
    nearest_de00 : float or None
        Of the nearest bead; None where there is none.
    """

    lab: Lab
    hex: str
    in_srgb: bool
    name: str
    nearest_de00: float | None


@dataclass(frozen=True, slots=True)
class LeftOut:
    """Rows of the list that were not matched, and why; with ``filters`` no row is left."""

    why: Literal["no-colour", "no-quantity", "filters"]
    rows: int
    file: str


@dataclass(frozen=True, slots=True)
class Matches:
    """The beads nearest to one colour.

    Attributes
    ----------
    lab : tuple of 3 float
        The colour asked for.
    beads : tuple of Match
        Nearest first, each bead once; empty where the filters leave none.
    shop_for : ShopFor or None
        Set where no bead is nearer than ``OFF_DE00``.
    """

    lab: Lab
    beads: tuple[Match, ...]
    shop_for: ShopFor | None


@dataclass(frozen=True, slots=True)
class Matching:
    """Several colours matched to a stock.

    Attributes
    ----------
    colours : tuple of Matches
        One for each colour, in their order.
    left_out : tuple of LeftOut
        Such as beads without a colour.
    """

    colours: tuple[Matches, ...]
    left_out: tuple[LeftOut, ...]


def nearest(
    lab: npt.ArrayLike,
    stock: Stock,
    *,
    top: int = 3,
    size: str | None = None,
    shape: str | None = None,
    finish: str | None = None,
    at_least: int | None = None,
    uncertainty_de00: npt.ArrayLike = 0.0,
) -> Matching:
    """The beads of ``stock`` nearest to each colour.

    Parameters
    ----------
    lab : array_like, shape (m, 3)
        Lab (D65, 2 degree observer).
    stock : Stock
        Beads without a colour are left out, and said.
    top : int
        Beads for each colour, at least 1.
    size, shape, finish : str, optional
        Keep only beads of this size (``11/0``, ``11``, ``4mm``), shape, finish (one of several is enough).
    at_least : int, optional
        Keep only lots that hold so many beads even by the low end of beads to the gram; lots whose count
        is not known are left out, and said.
    uncertainty_de00 : array_like, shape () or (m,)
        How well each colour is known.

    Returns
    -------
    Matching

    Raises
    ------
    StockError
        If no bead of the stock has a colour.
    ValueError
        If a shape or ``top`` does not fit.
    """
    colours = np.atleast_2d(triples(lab, "lab", "L*, a*, b*"))
    if colours.ndim != 2:
        raise ValueError(f"lab must be a list of colours, shape (m, 3); got {colours.shape}")
    if top < 1:
        raise ValueError(f"top must be at least 1; got {top}")
    known = np.broadcast_to(np.asarray(uncertainty_de00, dtype=np.float64), len(colours))
    beads, left_out = _candidates(stock, size, shape, finish, at_least)
    found = _nearest_beads(colours, beads, top)
    rows = zip(colours, known, found, strict=True)
    return Matching(tuple(_matches(colour, float(sure), near) for colour, sure, near in rows), left_out)


def verdict_of(de00: float) -> Verdict:
    """The verdict on a difference.

    >>> verdict_of(0.3), verdict_of(3.0)
    ('same', 'off')
    """
    if de00 <= SAME_DE00:
        return "same"
    if de00 <= CLOSE_DE00:
        return "close"
    return "off" if de00 <= OFF_DE00 else "different"


def _candidates(
    stock: Stock, size: str | None, shape: str | None, finish: str | None, at_least: int | None
) -> tuple[tuple[Bead, ...], tuple[LeftOut, ...]]:
    """The lots that can be matched and pass the filters, and what was left out."""
    coloured = stock.coloured
    if not coloured:
        raise StockError(
            f"{stock.path}: no bead has a colour yet; give a hex or L, a, b column, or photograph a tray"
        )
    left_out = []
    if colourless := len(stock.beads) - len(coloured):
        left_out.append(LeftOut("no-colour", colourless, str(stock.path)))
    beads = coloured
    if size is not None:
        wanted = f"{size}/0" if size.isdigit() else size
        beads = tuple(bead for bead in beads if bead.size == wanted)
    if shape is not None:
        beads = tuple(bead for bead in beads if bead.shape == shape)
    if finish is not None:
        beads = tuple(bead for bead in beads if finish == bead.finish or finish in bead.finishes)
    if at_least is not None:
        amounts = [bead.amount() for bead in beads]
        if uncounted := sum(amount is None for amount in amounts):
            left_out.append(LeftOut("no-quantity", uncounted, str(stock.path)))
        beads = tuple(
            bead
            for bead, amount in zip(beads, amounts, strict=True)
            if amount is not None and amount.low >= at_least
        )
    if not beads:
        left_out.append(LeftOut("filters", 0, str(stock.path)))
    return beads, tuple(left_out)


_Lots = list[tuple[Bead, float]]


def _kind(bead: Bead) -> tuple[str, str | None, str]:
    """What makes two rows lots of one bead."""
    return bead.id.casefold(), bead.size, bead.shape


def _nearest_beads(colours: FloatArray, beads: tuple[Bead, ...], top: int) -> list[list[_Lots]]:
    """For each colour the ``top`` nearest beads, each as its lots, the nearest lot first."""
    if not beads:
        return [[] for _ in colours]
    lots: dict[tuple[str, str | None, str], list[int]] = {}
    for row, bead in enumerate(beads):
        lots.setdefault(_kind(bead), []).append(row)
    labs = np.array([bead.lab for bead in beads], dtype=np.float64)
    # So many rows hold that many beads, however their lots fall.
    indices, _ = nearest_2000(colours, labs, top * max(map(len, lots.values())))
    found = []
    for colour, rows in zip(colours, indices, strict=True):
        kinds = list(dict.fromkeys(_kind(beads[row]) for row in rows))[:top]
        nearest_first = []
        for kind in kinds:
            own = lots[kind]
            de00 = delta_e_2000(colour, labs[own])
            order = np.argsort(de00, kind="stable")
            nearest_first.append([(beads[own[place]], float(de00[place])) for place in order])
        found.append(nearest_first)
    return found


def _matches(colour: FloatArray, uncertainty_de00: float, beads: list[_Lots]) -> Matches:
    matches = []
    for (bead, de00), *others in beads:
        together = float(np.hypot(uncertainty_de00, bead.uncertainty_de00 or 0.0))
        matches.append(Match(bead, tuple(lot for lot, _ in others), de00, together, verdict_of(de00)))
    lab = (float(colour[0]), float(colour[1]), float(colour[2]))
    if matches and matches[0].de00 <= OFF_DE00:
        return Matches(lab, tuple(matches), None)
    code, in_srgb = lab_to_hex(colour)
    name = everyday_name(colour)
    nearest_de00 = matches[0].de00 if matches else None
    return Matches(lab, tuple(matches), ShopFor(lab, code, in_srgb, name, nearest_de00))
