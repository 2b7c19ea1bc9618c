"""A piece as a maker asks for it, in texts: its length, its beads' size, the gauge, what finishes it."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

from analyser.errors import OptionError
from analyser.motif.geometry import ROLES
from analyser.motif.motif import Motif
from analyser.piece import counting
from analyser.piece.gauge import Gauge, key_of
from analyser.piece.kits import KitColourway
from analyser.piece.lengths import CLASP_MM
from analyser.piece.thread import Threading
from analyser.stock import units
from analyser.stock.bead import Bead
from analyser.stock.kinds import BeadKind, kind_of


@dataclass(frozen=True, slots=True, kw_only=True)
class PieceTexts:
    """What was typed; left out or None is the usual.

    Attributes
    ----------
    length, wrist, neck : str or None
        One of them: the finished length, or what it is to lie around.
    rounds : int or None
        Instead of a length.
    size, shape : str or None
        Of beads that the stock does not say it of.
    gauge : str or None
        ``"37 rounds in 5cm"``.
    spare : float or None
        Share on top.
    clasp, end_bead : str or None
        Length of the clasp with its rings, diameter of each end bead; ``0`` or ``none`` for none.
    reinforced : bool
        The thread goes through each round a second time.
    bead, role : str or None
        Roles with a bead of their own size, ``"accent=4mm, body=8/0 cylinder"``; beads of further letters by
        id or name, ``"D=teal-deep"``.
    """

    length: str | None = None
    wrist: str | None = None
    neck: str | None = None
    rounds: int | None = None
    size: str | None = None
    shape: str | None = None
    gauge: str | None = None
    spare: float | None = None
    clasp: str | None = None
    end_bead: str | None = None
    reinforced: bool = False
    bead: str | None = None
    role: str | None = None

    def __post_init__(self) -> None:
        told = [name for name in ("length", "wrist", "neck", "rounds") if getattr(self, name) is not None]
        if len(told) > 1:
            raise OptionError(f"say one of {', '.join(told)}: how long the piece is to be")

    @property
    def has_length(self) -> bool:
        """Whether the piece can be counted."""
        return any(one is not None for one in (self.length, self.wrist, self.neck, self.rounds))

    @property
    def other_roles(self) -> dict[str, str]:
        """Beads of further letters."""
        return further_letters(self.role)

    def counted(
        self,
        motif: Motif,
        lots: Mapping[str, tuple[Bead, ...]],
        name: str = "",
        *,
        gauges: Mapping[str, Gauge] = MappingProxyType({}),
    ) -> KitColourway:
        """One piece, counted for its beads.

        Parameters
        ----------
        motif : Motif
        lots : mapping of role to lots
            All lots of each role's bead; ``end`` for the end beads.
        name : str
            As a card calls it.
        gauges : mapping of str to Gauge
            The maker's usual ones by ``gauge_keys``, where the texts have none.

        Raises
        ------
        OptionError
            If no length is given, a text cannot be read, or it is no piece.
        """
        if not self.has_length:
            raise OptionError("say how long the piece is to be, such as 18cm")
        body = self.wrist or self.neck
        kinds = kinds_of(self.bead.split(","), self.shape) if self.bead else {}
        size = units.size(self.size) if self.size else None
        usual = (gauges[key] for key in gauge_keys(motif, size, self.shape, kinds, lots) if key in gauges)
        made = counting.count(
            motif,
            length_mm=units.length_mm(self.length) if self.length else None,
            body_mm=units.length_mm(body) if body else None,
            rounds=self.rounds,
            size=size,
            shape=self.shape,
            kinds=kinds,
            gauge=Gauge.parse(self.gauge) if self.gauge else next(usual, None),
            spare=self.spare,
            clasp_mm=CLASP_MM if self.clasp is None else millimetres(self.clasp),
            end_mm=None if self.end_bead is None else millimetres(self.end_bead),
            threading=Threading(reinforced=self.reinforced),
            stock=lots,
        )
        return KitColourway(name, made, lots, 1)


def millimetres(text: str) -> float:
    """A length that may be nothing: ``0`` or ``none``."""
    return 0.0 if re.fullmatch(r"\s*(none|0+\s*([a-z]+)?)\s*", text, re.IGNORECASE) else units.length_mm(text)


def role_of(text: str) -> str:
    """A role by its name or letter.

    Examples
    --------
    >>> role_of("a"), role_of("body"), role_of("d")
    ('accent', 'body', 'D')
    """
    name = text.strip()
    return ROLES.get(name.upper(), name if name in (*ROLES.values(), "end") else name.upper())


def named(texts: Iterable[str], what: str) -> dict[str, str]:
    """``ROLE=BEAD`` texts as a mapping; ``what`` names them in an error.

    Raises
    ------
    OptionError
        If one is no such text.
    """
    found = {}
    for text in texts:
        name, sign, bead = text.partition("=")
        if not sign or not name.strip() or not bead.strip():
            raise OptionError(f"{what}: expected ROLE=BEAD, got {text.strip()!r}")
        found[role_of(name)] = bead.strip()
    return found


def further_letters(text: str | None) -> dict[str, str]:
    """Beads of further letters from one line, ``"D=salt, E=fog"``; a colour may hold commas of its own.

    Raises
    ------
    OptionError
        If a part is no ``ROLE=BEAD``.

    Examples
    --------
    >>> further_letters("D=lab:60,1,2, e=fog")
    {'D': 'lab:60,1,2', 'E': 'fog'}
    """
    parts = re.split(r",(?=\s*\w+\s*=)", text) if text and text.strip() else []
    return named(parts, "beads of further letters")


def kinds_of(texts: Iterable[str], shape: str | None = None) -> dict[str, BeadKind]:
    """Roles whose bead is told by size and shape, ``"accent=4mm"`` or ``"body=8/0 cylinder"``.

    Parameters
    ----------
    texts : iterable of str
    shape : str, optional
        Of those that tell none; round if left out.

    Raises
    ------
    OptionError
        If one is no such text, or there is no such bead.
    """
    kinds = {}
    for text in texts:
        name, sign, bead = text.partition("=")
        number, _, own = bead.strip().partition(" ")
        if not sign or not number:
            raise OptionError(f"expected --bead ROLE=SIZE such as accent=4mm, got {text!r}")
        kinds[role_of(name)] = kind_of(units.size(number), own.strip() or shape or "round")
    return kinds


def gauge_keys(
    motif: Motif,
    size: str | None,
    shape: str | None,
    kinds: Mapping[str, BeadKind],
    lots: Mapping[str, Sequence[Bead]],
) -> list[str]:
    """What a gauge for this motif and bead is kept by: by the bead's id where one is named, else its kind."""
    lead = counting.leading(motif)
    keys = [key_of(motif.name, str(counting.role_kinds(motif, size, kinds, lots, shape)[lead]))]
    if lead in lots:
        keys.insert(0, key_of(motif.name, lots[lead][0].id))
    return keys
