"""Beads, grams and thread for a piece, from a length or a number of rounds.

Patterned length / rise of a round = rounds; rounds and the motif give the beads. Without a gauge the rise
is a range, and so are the counts: low, likely, high. What is set aside is the high count and the spare,
weighed by the low end of beads per gram, so that it is enough whoever made the beads and whoever weaves.

Sources
-------
Spare shares: common practice, no single source. Bead sizes: the table of ``sizes``.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

from analyser.errors import OptionError
from analyser.motif.geometry import letter_of
from analyser.motif.motif import Motif
from analyser.piece.gauge import Gauge
from analyser.piece.lengths import CLASP_MM, Lengths, end_bead_mm
from analyser.piece.thread import Threading, ThreadNeed, need
from analyser.stock import lots as dye_lots
from analyser.stock.bead import Bead
from analyser.stock.holding import Held, hold
from analyser.stock.kinds import BeadKind, kind_of, kind_of_bead

SPARE_PIECE, SPARE_KIT = 0.10, 0.15
SIZE = "11/0"
END_BEADS = 2
_MOST_ROUNDS, _MOST_KITS = 100_000, 1000


@dataclass(frozen=True, slots=True)
class UnlikeSize:
    """A role whose bead has another size in the stock list than the one asked for."""

    role: str
    name: str
    size: str
    asked: str


@dataclass(frozen=True, slots=True)
class BeadCount:
    """What a piece, or each kit of a class, takes.

    Attributes
    ----------
    motif : Motif
        What is woven.
    lengths : Lengths
        The chain they were reckoned from.
    rounds, rounds_low, rounds_high : int
        Likely, and the range; all the same with a gauge.
    rise_mm : (float, float, float)
        A round's rise: low, likely, high.
    gauge : Gauge or None
        The maker's, if one was used.
    kinds : dict of role to BeadKind
        Size and shape.
    beads, low, high : dict of role to int
        Of the stitched tube: base, rounds and closing.
    with_spare : dict of role to int
        To set aside for one piece: the high count and the spare.
    grams : dict of role to float
        Weight to set aside, by the low end of beads per gram.
    spare : float
        Share on top.
    thread : ThreadNeed
        Of one piece, for the high count.
    end_bead_mm : float
        Diameter of each of the two end beads; 0 for none.
    kits : int
        Pieces in all.
    stock : dict of role to Held, or None
        None where no stock was given.
    cost, currency : float or None, str
        Of one piece's beads; None where the list does not say it for every role.
    unlike : tuple of UnlikeSize
        Where the stock list has another size than the one asked for; the list holds.
    """

    motif: Motif
    lengths: Lengths
    rounds: int
    rounds_low: int
    rounds_high: int
    rise_mm: tuple[float, float, float]
    gauge: Gauge | None
    kinds: dict[str, BeadKind]
    beads: dict[str, int]
    low: dict[str, int]
    high: dict[str, int]
    with_spare: dict[str, int]
    grams: dict[str, float]
    spare: float
    thread: ThreadNeed
    end_bead_mm: float
    kits: int
    stock: dict[str, Held] | None
    cost: float | None
    currency: str
    unlike: tuple[UnlikeSize, ...]

    @property
    def size(self) -> str:
        """Size of the beads that make most of the rope."""
        return self.kinds[leading(self.motif)].size

    @property
    def opening_mm(self) -> float:
        """Inner width of the tube, into which an end bead must not slip."""
        return self.motif.opening_diameters * self.kinds[leading(self.motif)].diameter_mm

    @property
    def taken(self) -> dict[str, int]:
        """Beads to set aside for one piece: ``with_spare``, and the end beads where the stock has them."""
        ends = {"end": END_BEADS} if self.stock and "end" in self.stock else {}
        return {**self.with_spare, **ends}

    @property
    def enough(self) -> bool | None:
        """Whether the stock holds every role; None where it is not known or none was given."""
        if not self.stock:
            return None
        told = [held.enough for held in self.stock.values()]
        return False if False in told else None if None in told else True


@lru_cache(maxsize=32)
def leading(motif: Motif) -> str:
    """The role of most beads in the repeating rounds: its size is the rope's."""
    shares = motif.shares()
    return max(shares, key=lambda role: shares[role])


def count(
    motif: Motif,
    *,
    length_mm: float | None = None,
    body_mm: float | None = None,
    rounds: int | None = None,
    size: str | None = None,
    shape: str | None = None,
    kinds: Mapping[str, BeadKind] | None = None,
    gauge: Gauge | None = None,
    spare: float | None = None,
    kits: int = 1,
    clasp_mm: float = CLASP_MM,
    end_mm: float | None = None,
    threading: Threading | None = None,
    stock: Mapping[str, Sequence[Bead]] | None = None,
) -> BeadCount:
    """Count what a piece, or each kit of a class, takes.

    Parameters
    ----------
    motif : Motif
        What is woven.
    length_mm, body_mm, rounds : float, float, int
        Exactly one: the finished length; the wrist or neck it is for; or the rounds themselves.
    size, shape : str, optional
        Of the beads where neither ``kinds`` nor ``stock`` says it; ``"11/0"`` and ``"round"`` if left out.
    kinds : mapping of role to BeadKind, optional
        Roles with a size or shape of their own.
    gauge : Gauge, optional
        The maker's own; beats the size table.
    spare : float, optional
        Share on top; 0.10 for a piece, 0.15 for kits if left out.
    kits : int
        Pieces in all, 1 to 1000.
    clasp_mm : float
        Clasp with its rings.
    end_mm : float, optional
        Diameter of the two end beads, 0 for none; the smallest usual size if left out.
    threading : Threading, optional
        The maker's habits of threading.
    stock : mapping of role to lots, optional
        All lots of the bead that each role takes; ``end`` for the two end beads.

    Returns
    -------
    BeadCount
        Counts with low <= beads <= high <= with_spare in every role.

    Raises
    ------
    OptionError
        If the piece is too short for its ends, too long to be one, or a bead size is not known.
    ValueError
        If not exactly one of the three lengths is given.
    """
    if sum(given is not None for given in (length_mm, body_mm, rounds)) != 1:
        raise ValueError("give one of length_mm, body_mm, rounds")
    if not 1 <= kits <= _MOST_KITS:
        raise OptionError(f"kits from 1 to {_MOST_KITS}, got {kits}")
    stock = dict(stock or {})
    ends = stock.pop("end", ())
    _check_roles(motif, [*stock, *(kinds or {})])
    made = role_kinds(motif, size, kinds or {}, stock, shape)
    rope = made[leading(motif)]
    rise = (gauge.rise_mm,) * 3 if gauge else motif.rise.mm(rope.diameter_mm, rope.length_mm)
    opening = motif.opening_diameters * rope.diameter_mm
    if end_mm is None and ends:
        end_mm = ends[0].diameter_mm
    each_end = end_bead_mm(rope.diameter_mm, opening) if end_mm is None else end_mm
    chain = (clasp_mm, 2 * each_end, motif.ends_beads * rope.length_mm)
    if rounds is not None:
        lengths, low, likely, high = Lengths.of_patterned(rounds * rise[1], *chain), rounds, rounds, rounds
    else:
        lengths = _lengths(motif, rope, length_mm, body_mm, chain)
        low, likely, high = _rounds_in(lengths.patterned_mm, rise)
    if not 0 <= high <= _MOST_ROUNDS:
        raise OptionError(f"{high} rounds are no piece of jewellery; give a length in cm, mm or in")
    share = (SPARE_PIECE if kits == 1 else SPARE_KIT) if spare is None else spare
    most = motif.counts(high)
    aside = {role: _ceil(number * (1.0 + share)) for role, number in most.items()}
    thread = need(
        motif, high, {role: kind.length_mm for role, kind in made.items()}, threading or Threading()
    )
    taken = {**aside, "end": END_BEADS} if ends else aside
    held = _held(taken, {**stock, "end": ends} if ends else stock, kits, motif, high, share)
    cost, currency = cost_of(taken, held)
    return BeadCount(
        motif=motif,
        lengths=lengths,
        rounds=likely,
        rounds_low=low,
        rounds_high=high,
        rise_mm=rise,
        gauge=gauge,
        kinds=made,
        beads=motif.counts(likely),
        low=motif.counts(low),
        high=most,
        with_spare=aside,
        grams={role: number / made[role].per_gram[0] for role, number in aside.items()},
        spare=share,
        thread=thread,
        end_bead_mm=each_end,
        kits=kits,
        stock=held,
        cost=cost,
        currency=currency,
        unlike=_unlike(size, made, stock),
    )


def _lengths(
    motif: Motif,
    rope: BeadKind,
    length_mm: float | None,
    body_mm: float | None,
    chain: tuple[float, float, float],
) -> Lengths:
    """The chain of a finished length, or of what it goes round."""
    if length_mm is not None:
        return Lengths.of_finished(length_mm, *chain)
    assert body_mm is not None
    return Lengths.of_body(body_mm, motif.outer_diameters * rope.diameter_mm, *chain)


def _held(
    taken: Mapping[str, int],
    stock: Mapping[str, Sequence[Bead]],
    kits: int,
    motif: Motif,
    rounds: int,
    spare: float,
) -> dict[str, Held] | None:
    """What the stock holds; None where none was given."""
    if not stock:
        return None
    held = hold(taken, stock, kits)
    return _with_blends(held, motif, rounds, spare, stock) if kits == 1 else held


def _check_roles(motif: Motif, roles: Sequence[str]) -> None:
    for role in roles:
        if role not in motif.roles:
            raise OptionError(f"the motif {motif.name} has no {role}; it has {', '.join(motif.roles)}")


def _rounds_in(patterned_mm: float, rise_mm: tuple[float, float, float]) -> tuple[int, int, int]:
    """Rounds that fill a length, low, likely and high: the higher a round rises, the fewer."""
    high, likely, low = (math.floor(patterned_mm / step + 0.5) for step in rise_mm)
    return low, likely, high


def _ceil(value: float) -> int:
    """The next whole bead; 110.00000000000001 is 110."""
    return math.ceil(value - 1e-9)


def role_kinds(
    motif: Motif,
    size: str | None,
    kinds: Mapping[str, BeadKind],
    stock: Mapping[str, Sequence[Bead]],
    shape: str | None = None,
) -> dict[str, BeadKind]:
    """Each role's kind of bead: as told, else as the stock says, else of the rope's size."""
    lead = leading(motif)
    plain = size or (kinds[lead].size if lead in kinds else None)
    plain = plain or (stock[lead][0].size if lead in stock else None) or SIZE
    made = {}
    for role in motif.roles:
        if role in kinds:
            made[role] = kinds[role]
        elif stock.get(role):
            made[role] = kind_of_bead(dye_lots.largest(stock[role]), plain)
        else:
            made[role] = kind_of(plain, shape or "round")
    return made


def _with_blends(
    held: Mapping[str, Held], motif: Motif, rounds: int, spare: float, stock: Mapping[str, Sequence[Bead]]
) -> dict[str, Held]:
    """Add how two lots could be mixed, where no single one suffices and two together do."""
    none, cycle = motif.counts(0), motif.counts(len(motif.rounds))
    found = {}
    for role, of_role in held.items():
        found[role] = of_role
        known = [(sure, bead) for bead in stock.get(role, ()) if (sure := dye_lots.sure_beads(bead))]
        if of_role.enough is not False or len(known) < 2 or role not in cycle:
            continue
        (first, one), (second, two) = sorted(known, key=lambda lot: -lot[0])[:2]
        a_round = (cycle[role] - none[role]) / len(motif.rounds)
        base = sum("".join(row.beads).count(letter_of(role)) for row in motif.base)
        keep = 1.0 + spare
        plan = dye_lots.blend(rounds, a_round, base, none[role] - base, int(first / keep), int(second / keep))
        if plan:
            found[role] = replace(of_role, blend=dye_lots.BlendedLots(plan, one, two))
    return found


def cost_of(aside: Mapping[str, int], held: Mapping[str, Held] | None) -> tuple[float | None, str]:
    """What one piece's beads cost, where the list says it for every role in one currency."""
    if not held or set(held) != set(aside):
        return None, ""
    costs = [held[role].bead.cost_of(number) for role, number in aside.items()]
    currencies = {of_role.bead.cost.currency for of_role in held.values() if of_role.bead.cost}
    told = [cost for cost in costs if cost is not None]
    if len(told) < len(costs) or len(currencies) != 1:
        return None, ""
    return sum(told), currencies.pop()


def _unlike(
    size: str | None, made: Mapping[str, BeadKind], stock: Mapping[str, Sequence[Bead]]
) -> tuple[UnlikeSize, ...]:
    return tuple(
        UnlikeSize(role, lots[0].name, made[role].size, size)
        for role, lots in stock.items()
        if size and lots[0].size and made[role].size != size
    )
