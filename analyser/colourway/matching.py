"""From a colour to the beads one owns that come nearest, with the chance of each.

Distances are CIEDE2000 on Lab (D65, 2 degree observer). A verdict speaks of the two colours as measured; how
well they are known is another statement.

Sources
-------
[1] Paravina et al. (2015), J. Esthet. Restor. Dent. 27(S1), S1-S9: 175 observers comparing tooth-coloured
    samples side by side in a viewing booth; half of them see 0.8 CIEDE2000, half of them accept 1.8.
[2] Sharma, Wu, Dalal (2005), doi:10.1002/col.20070: CIEDE2000 was fitted to differences up to about 5 CIELAB.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt

from analyser.arrays import FloatArray, Lab
from analyser.colour.difference import delta_e_2000
from analyser.colour.gamut import lab_to_hex
from analyser.colour.names import everyday_names
from analyser.colour.spaces import triples
from analyser.colourway.chances import chances
from analyser.errors import StockError
from analyser.stock.bead import Bead
from analyser.stock.lots import sure_beads
from analyser.stock.stock import Stock

Verdict = Literal["same", "close", "off", "different"]

SAME_DE00 = 0.8
"""[1]: half the observers see this difference side by side. Below it a match is ``same``."""
CLOSE_DE00 = 1.8
"""[1]: half the observers accept this difference. Below it a match is ``close``."""
OFF_DE00 = 5.0
"""[2]: the end of small differences. Below it a match is ``off``: above, another colour."""
POSSIBLE = 0.15
"""From this chance on a bead may be the one: the photo's light may explain the rest of its difference."""


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
    chance : float
        Of being the one that would be chosen with the thing in the hand, 0 to 1; see ``chances``.
    """

    bead: Bead
    other_lots: tuple[Bead, ...]
    de00: float
    uncertainty_de00: float
    verdict: Verdict
    chance: float


@dataclass(frozen=True, slots=True)
class ShopFor:
    """A colour to buy, where no bead is near: its nearest sRGB colour and its everyday name."""

    hex: str
    name: str


@dataclass(frozen=True, slots=True)
class LeftOut:
    """Rows of the list that were not matched, and why; with ``filters`` no row is left."""

    why: Literal["no-colour", "used-up", "no-quantity", "filters"]
    rows: int
    file: str


@dataclass(frozen=True, slots=True)
class Matches:
    """The beads nearest to one colour.

    Attributes
    ----------
    lab : tuple of 3 float
        The colour asked for.
    name : str
        Its name.
    beads : tuple of Match
        Likeliest first, of equal ones (to 1 %) the nearest; each bead once; empty where the filters leave
        none.
    shop_for : ShopFor or None
        Set only where no bead is nearer than ``OFF_DE00`` and none lies within the doubt.
    uncertainty_de00 : float
        How well the colour is known.
    chance_of : mapping of str to float
        The chance of each bead by its id, those not shown too; 0 for those without.
    """

    lab: Lab
    name: str
    beads: tuple[Match, ...]
    shop_for: ShopFor | None
    uncertainty_de00: float
    chance_of: Mapping[str, float]


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
    shared_de00: float = 0.0,
    names: Sequence[str] | None = None,
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
        How well each colour is known (68 %).
    shared_de00 : float
        The part of it that all the colours share, because one photo's light is behind them.
    names : sequence of str, optional
        What the colours are called; everyday names if left out.

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
    own_de00 = np.sqrt(np.maximum(known**2 - shared_de00**2, 0.0))
    found = _likeliest_beads(colours, beads, top, own_de00, shared_de00)
    called = everyday_names(colours) if names is None else names
    rows = zip(colours, called, known, found, strict=True)
    return Matching(
        tuple(_matches(colour, name, float(sure), near, top) for colour, name, sure, near in rows), left_out
    )


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


def within_doubt(de00: float, uncertainty_de00: float, chance: float) -> bool:
    """Whether a bead may be of the colour: by itself, or by the light that all colours of a photo share."""
    return de00 <= max(OFF_DE00, uncertainty_de00) or chance >= POSSIBLE


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
    beads = stock.owned
    if used_up := len(coloured) - len(beads):
        left_out.append(LeftOut("used-up", used_up, str(stock.path)))
    if size is not None:
        wanted = f"{size}/0" if size.isdigit() else size
        beads = tuple(bead for bead in beads if bead.size == wanted)
    if shape is not None:
        beads = tuple(bead for bead in beads if bead.shape == shape)
    if finish is not None:
        beads = tuple(bead for bead in beads if finish == bead.finish or finish in bead.finishes)
    if at_least is not None:
        held = [sure_beads(bead) for bead in beads]
        if uncounted := sum(sure is None for sure in held):
            left_out.append(LeftOut("no-quantity", uncounted, str(stock.path)))
        beads = tuple(
            bead for bead, sure in zip(beads, held, strict=True) if sure is not None and sure >= at_least
        )
    if not beads:
        left_out.append(LeftOut("filters", 0, str(stock.path)))
    return beads, tuple(left_out)


@dataclass(frozen=True, slots=True)
class _Found:
    """A bead found for a colour: its lots with their differences, the nearest lot first, and its chance."""

    lots: tuple[tuple[Bead, float], ...]
    chance: float


def _kind(bead: Bead) -> tuple[str, str | None, str]:
    """What makes two rows lots of one bead."""
    return bead.id.casefold(), bead.size, bead.shape


def _likeliest_beads(
    colours: FloatArray, beads: tuple[Bead, ...], top: int, own_de00: FloatArray, shared_de00: float
) -> list[list[_Found]]:
    """For each colour at least ``top`` beads, likeliest first; of those as likely, the nearest."""
    if not beads or not len(colours):
        return [[] for _ in colours]
    rows_of: dict[tuple[str, str | None, str], list[int]] = {}
    for row, bead in enumerate(beads):
        rows_of.setdefault(_kind(bead), []).append(row)
    labs = np.array([bead.lab for bead in beads], dtype=np.float64)
    near, chance = chances(
        colours,
        labs,
        own_de00=own_de00,
        shared_de00=shared_de00,
        bead_de00=[bead.uncertainty_de00 or 0.0 for bead in beads],
        # So many rows hold that many beads, however their lots fall.
        at_least=top * max(map(len, rows_of.values())),
    )
    found = []
    for colour, rows, likely in zip(colours, near, chance, strict=True):
        of_kind: dict[tuple[str, str | None, str], float] = {}
        for row, part in zip(rows, likely, strict=True):
            kind = _kind(beads[row])
            of_kind[kind] = of_kind.get(kind, 0.0) + float(part)
        lots = [row for kind in of_kind for row in rows_of[kind]]
        de00 = dict(zip(lots, delta_e_2000(colour, labs[lots]).tolist(), strict=True))
        all_found = [_with_lots(beads, de00, rows_of[kind], of_kind[kind]) for kind in of_kind]
        all_found.sort(key=lambda one: (-round(one.chance, 2), one.lots[0][1]))
        found.append(all_found)
    return found


def _with_lots(beads: tuple[Bead, ...], de00: Mapping[int, float], rows: list[int], chance: float) -> _Found:
    nearest = sorted(rows, key=lambda row: de00[row])
    return _Found(tuple((beads[row], de00[row]) for row in nearest), min(chance, 1.0))


def _matches(
    colour: FloatArray, name: str, uncertainty_de00: float, found: list[_Found], top: int
) -> Matches:
    matches = []
    for one in found:
        (bead, de00), *others = one.lots
        together = float(np.hypot(uncertainty_de00, bead.uncertainty_de00 or 0.0))
        lots = tuple(lot for lot, _ in others)
        matches.append(Match(bead, lots, de00, together, verdict_of(de00), one.chance))
    lab = (float(colour[0]), float(colour[1]), float(colour[2]))
    shown = tuple(matches[:top])
    near = any(within_doubt(match.de00, match.uncertainty_de00, match.chance) for match in matches)
    missing = None if near else ShopFor(lab_to_hex(colour)[0], name)
    chance_of: dict[str, float] = {}
    for match in matches:
        chance_of[match.bead.id] = chance_of.get(match.bead.id, 0.0) + match.chance
    return Matches(lab, name, shown, missing, uncertainty_de00, chance_of)
