"""A piece as a maker asks for it, in texts: its length, its beads' size, the gauge, what finishes it."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass

from analyser.errors import OptionError
from analyser.motif.motif import Motif
from analyser.piece import counting
from analyser.piece.gauge import Gauge
from analyser.piece.kits import KitColourway
from analyser.piece.lengths import CLASP_MM
from analyser.piece.thread import Threading
from analyser.stock import units
from analyser.stock.bead import Bead


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

    def __post_init__(self) -> None:
        told = [name for name in ("length", "wrist", "neck", "rounds") if getattr(self, name) is not None]
        if len(told) > 1:
            raise OptionError(f"say one of {', '.join(told)}: how long the piece is to be")

    @property
    def has_length(self) -> bool:
        """Whether the piece can be counted."""
        return any(one is not None for one in (self.length, self.wrist, self.neck, self.rounds))

    def counted(self, motif: Motif, lots: Mapping[str, tuple[Bead, ...]], name: str = "") -> KitColourway:
        """One piece, counted for its beads.

        Parameters
        ----------
        motif : Motif
        lots : mapping of role to lots
            All lots of each role's bead; ``end`` for the end beads.
        name : str
            As a card calls it.

        Raises
        ------
        OptionError
            If no length is given, a text cannot be read, or it is no piece.
        """
        if not self.has_length:
            raise OptionError("say how long the piece is to be, such as 18cm")
        body = self.wrist or self.neck
        made = counting.count(
            motif,
            length_mm=units.length_mm(self.length) if self.length else None,
            body_mm=units.length_mm(body) if body else None,
            rounds=self.rounds,
            size=units.size(self.size) if self.size else None,
            shape=self.shape,
            gauge=Gauge.parse(self.gauge) if self.gauge else None,
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
