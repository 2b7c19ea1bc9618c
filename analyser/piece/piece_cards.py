"""Cards to print: what goes into a kit's bag, and what a finished piece was made of.

Sources
-------
Needles and threads by bead size: common practice, no single source. Cautions name the usual dangers and
defer to local rules.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from itertools import groupby

from analyser.motif.geometry import letter_of
from analyser.motif.plan import role_of_key
from analyser.piece.counting import END_BEADS, BeadCount
from analyser.stock.bead import Bead

SCALE_GRAMS = 0.1
CAUTION = (
    "Small parts: not for children under 3. Swallowed beads and thread are dangerous to children and pets. "
    "Metal parts may hold nickel. Follow your local product-safety rules."
)
#: By the largest bead size each serves; higher numbers are thinner. Common practice, no source.
_NEEDLES = ((1.6, "size 12 to 13"), (2.3, "size 10 to 12"), (math.inf, "size 10"))
_THREADS = (
    (1.6, "4 lb braided"),
    (2.3, "nylon D, or 4 to 8 lb braided"),
    (math.inf, "nylon D, or 8 to 10 lb braided"),
)


def needle_for(bead_mm: float) -> str:
    """The usual needle for beads of that diameter.

    Examples
    --------
    >>> needle_for(2.1)
    'size 10 to 12'
    """
    return next(needle for most, needle in _NEEDLES if bead_mm <= most)


def thread_for(bead_mm: float) -> str:
    """The usual thread for beads of that diameter."""
    return next(thread for most, thread in _THREADS if bead_mm <= most)


def to_scale(grams: float) -> float:
    """The next tenth of a gram: what a kitchen scale can show without giving short weight.

    Examples
    --------
    >>> to_scale(8.91), to_scale(4.7)
    (9.0, 4.7)
    """
    return math.ceil(grams / SCALE_GRAMS - 1e-6) / round(1 / SCALE_GRAMS)


@dataclass(frozen=True, slots=True)
class Portion:
    """Beads of one role in a bag or a piece.

    Attributes
    ----------
    role, letter : str
        ``accent`` and ``A``.
    bead : Bead or None
        The lot it comes from; None where no stock was given, or none holds enough.
    kind : str
        Size and shape.
    beads : int
        How many.
    grams : float
        Their weight to the scale's tenth, never short.
    key : str
        What the count has it under: the role, or in a plan the bead's key.
    wanted : Bead or None
        The bead it is of, where that is known, though no lot serves it.
    """

    role: str
    letter: str
    bead: Bead | None
    kind: str
    beads: int
    grams: float
    key: str
    wanted: Bead | None = None


@dataclass(frozen=True, slots=True)
class KitCard:
    """What goes into one bag.

    Attributes
    ----------
    number, of : int
        This kit, and how many there are.
    colourway : str
        Its name, empty where there is but one.
    motif : str
        Title of the motif.
    rounds : int
        Likely rounds; the beads are counted for the most there may be.
    finished_mm : float
        Length with clasp, to weave to.
    spare : float
        Share on top of the most beads that may be needed.
    portions : tuple of Portion
        By letter.
    end_beads : str
        ``2 of 6 mm``, or empty.
    needle, thread : str
        Size; metres and kind.
    """

    number: int
    of: int
    colourway: str
    motif: str
    rounds: int
    finished_mm: float
    spare: float
    portions: tuple[Portion, ...]
    end_beads: str
    needle: str
    thread: str

    def text(self, alike: int = 1) -> str:
        """The card as lines to print and cut; or what so many cards from this one on have in common."""
        kits = f"Kit {self.number}"
        if alike > 1:
            kits = f"Kits {self.number} {'and' if alike == 2 else 'to'} {self.number + alike - 1}"
        lines = [
            f"{kits} of {self.of}"
            + (f" · {self.colourway}" if self.colourway else "")
            + (", all alike" if alike > 1 else ""),
            f"{self.motif}, {self.finished_mm / 10:.1f} cm with clasp: about {self.rounds} rounds",
            f"Beads with {self.spare:.0%} spare:",
        ]
        for portion in self.portions:
            wanted = portion.bead or portion.wanted
            bead = f"{wanted.name} ({wanted.id})" if wanted else portion.role
            lot = ", no lot yet" if wanted and not portion.bead else _of_lot(portion.bead)
            lines.append(
                f"{portion.letter}  {bead}, {portion.kind}{lot}: "
                f"{portion.grams:.1f} g ({portion.beads} beads)"
            )
        if self.end_beads:
            lines.append(f"End beads: {self.end_beads}")
        lines += ["Clasp: 1 with 2 rings", f"Needle: {self.needle}", f"Thread: {self.thread}", CAUTION]
        return "\n".join(lines)


def in_short(cards: Sequence[KitCard]) -> str:
    """The cards of a class as lines; those in a row that differ in their number only are told once."""
    alike = [list(some) for _, some in groupby(cards, key=lambda card: replace(card, number=0))]
    return "\n\n".join(some[0].text(len(some)) for some in alike)


def card(
    count: BeadCount,
    lots_of: Mapping[str, Bead | None],
    number: int,
    of: int,
    colourway: str = "",
    wanted: Mapping[str, Bead] | None = None,
) -> KitCard:
    """The card of one bag.

    Parameters
    ----------
    count : BeadCount
        Of one piece.
    lots_of : mapping of role to Bead or None
        The lot each role comes from.
    number, of : int
        This kit, and how many there are.
    colourway : str
        Its name, if there are several.
    wanted : mapping of role to Bead, optional
        The bead of each role, whether or not a lot serves it.
    """
    bead_mm = max(kind.diameter_mm for kind in count.kinds.values())
    smallest = min(kind.diameter_mm for kind in count.kinds.values())
    metres = math.ceil(count.thread.total_m * 10) / 10
    return KitCard(
        number=number,
        of=of,
        colourway=colourway,
        motif=count.motif.title,
        rounds=count.rounds,
        finished_mm=count.lengths.finished_mm,
        spare=count.spare,
        portions=portions(count, lots_of, wanted),
        end_beads=_end_beads(count, lots_of.get("end")),
        needle=needle_for(smallest),
        thread=f"{metres:.1f} m of {thread_for(bead_mm)}",
    )


def _end_beads(count: BeadCount, bead: Bead | None) -> str:
    if not count.end_bead_mm:
        return ""
    named = f", {bead.name} ({bead.id})" if bead else ""
    return f"{END_BEADS} of {count.end_bead_mm:g} mm{named}{_of_lot(bead)}"


def _of_lot(bead: Bead | None) -> str:
    return f", lot {bead.lot}" if bead and bead.lot else ""


def portions(
    count: BeadCount, lots_of: Mapping[str, Bead | None], wanted: Mapping[str, Bead] | None = None
) -> tuple[Portion, ...]:
    """What one piece takes of each role, with spare, by letter."""
    made = []
    for key, beads in count.with_spare.items():
        role, kind, grams = role_of_key(key), str(count.kinds[key]), to_scale(count.grams[key])
        of = (wanted or {}).get(key)
        made.append(Portion(role, letter_of(role), lots_of.get(key), kind, beads, grams, key, of))
    return tuple(made)


@dataclass(frozen=True, slots=True)
class PieceCard:
    """What a piece was made of, so that it can be made again or mended.

    Attributes
    ----------
    made_on : date
        The day.
    motif : str
        Title of the motif.
    rounds : int
        As counted.
    finished_mm : float
        Length with clasp.
    gauge : str
        The gauge it was woven to, or empty.
    portions : tuple of Portion
        Beads of the stitched tube with their lots; no spare.
    end_beads, thread : str
        As on a kit card.
    notes : str
        Free.
    """

    made_on: date
    motif: str
    rounds: int
    finished_mm: float
    gauge: str
    portions: tuple[Portion, ...]
    end_beads: str
    thread: str
    notes: str = ""

    def text(self) -> str:
        """The card as lines to print and keep with the piece."""
        lines = [
            f"{self.motif}, {self.made_on.isoformat()}",
            f"{self.rounds} rounds, {self.finished_mm / 10:.1f} cm with clasp",
            f"Gauge: {self.gauge or 'not counted; reckoned from the size table'}",
        ]
        for portion in self.portions:
            bead = f"{portion.bead.name} ({portion.bead.id})" if portion.bead else portion.role
            lot = _of_lot(portion.bead) or ", lot not noted"
            lines.append(
                f"{portion.letter}  {portion.role}: {bead}, {portion.kind}{lot}: {portion.beads} beads"
            )
        if self.end_beads:
            lines.append(f"End beads: {self.end_beads}")
        lines.append(f"Thread: {self.thread}")
        if self.notes:
            lines.append(self.notes)
        return "\n".join(lines)


def piece_card(
    count: BeadCount, lots_of: Mapping[str, Bead | None], made_on: date, notes: str = ""
) -> PieceCard:
    """The card of a piece that took what was counted: the likely beads, no spare.

    Parameters
    ----------
    count : BeadCount
        Of the piece.
    lots_of : mapping of role to Bead or None
        The lot each role came from.
    made_on : date
        The day.
    notes : str
        Free text.
    """
    used = tuple(
        Portion(role_of_key(key), letter_of(role_of_key(key)), lots_of.get(key), str(count.kinds[key]), beads,
                beads / count.kinds[key].per_gram[1], key)
        for key, beads in count.beads.items()
    )  # fmt: skip
    whole = card(count, lots_of, 1, 1)
    return PieceCard(
        made_on=made_on,
        motif=count.motif.title,
        rounds=count.rounds,
        finished_mm=count.lengths.finished_mm,
        gauge=str(count.gauge) if count.gauge else "",
        portions=used,
        end_beads=whole.end_beads,
        thread=whole.thread,
        notes=notes,
    )
