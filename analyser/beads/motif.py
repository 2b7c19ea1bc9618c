"""Motifs: which bead goes where in a beaded rope, as plain numbers.

A motif is rows of stitches: a base, rounds that repeat, a closing. Everything is counted in beads, so
the same motif serves every bead size: along the rope in bead lengths (a bead's length is measured
along its hole), outwards in bead diameters, around in turns. The rope's axis points from the base to
the closing; around grows anticlockwise as seen from the closing end.

Nothing here opens a file; ``load`` hands that to ``motif_files``.

Sources
-------
Stitch structures and usual column numbers are common practice, no single source; the geometry was
worked out from solid beads of 2.1 x 1.5 mm that must not cut into each other.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.floating]
TextArray = npt.NDArray[np.str_]

ROLES = {"A": "accent", "B": "body", "C": "third"}
"""Letters of a motif file and the roles they stand for; a further letter is its own role."""


@dataclass(frozen=True, slots=True)
class Place:
    """Where one bead of a stitch lies.

    Attributes
    ----------
    around : float
        In stitches, from the middle of its stitch.
    along : float
        In rises of its row, from the row's lower edge.
    out : float
        In bead diameters, from the tube's surface (the ring of bead centres).
    lean_deg : float
        Of the hole, from the rope's axis towards growing ``around``: 0 stands on end, 90 lies around.
    tip_deg : float
        Of the hole, outwards.
    passes : int
        Times the thread goes through this bead in all.
    """

    around: float
    along: float
    out: float = 0.0
    lean_deg: float = 0.0
    tip_deg: float = 0.0
    passes: int = 1


@dataclass(frozen=True, slots=True)
class Row:
    """One row of stitches: a round, or a row of base or closing.

    Attributes
    ----------
    stitch : tuple of Place
        The beads of one stitch, in stringing order.
    beads : tuple of str
        The role letters of each stitch, as many as the row has stitches.
    rise : float
        Bead lengths that the row adds to the rope.
    turn : float
        Stitches by which it is turned against the row before.
    """

    stitch: tuple[Place, ...]
    beads: tuple[str, ...]
    rise: float
    turn: float


@dataclass(frozen=True, slots=True)
class Rise:
    """What one round adds to the rope; hands and beads differ.

    Attributes
    ----------
    low, likely, high : float
        In bead lengths or bead diameters.
    of : str
        ``"length"`` where beads stand on end, ``"diameter"`` where their holes lie around the rope.
    """

    low: float
    likely: float
    high: float
    of: str = "length"

    def mm(self, diameter_mm: float, length_mm: float) -> tuple[float, float, float]:
        """Millimetres a round adds with beads of this size: low, likely, high."""
        unit = length_mm if self.of == "length" else diameter_mm
        return self.low * unit, self.likely * unit, self.high * unit


@dataclass(frozen=True, slots=True)
class Thread:
    """The thread's way.

    Attributes
    ----------
    step_up : int
        Beads passed again to reach the next round.
    first_round : int or None
        Bead passes of the first round on the base, where it differs.
    """

    step_up: int = 0
    first_round: int | None = None


@dataclass(frozen=True, slots=True, eq=False)
class RopeBeads:
    """The beads of one rope in stringing order, n of them.

    Attributes
    ----------
    role : str array (n,)
        ``accent``, ``body``, ``third`` or a further letter.
    angle_turns : float array (n,)
        Round the rope, in [0, 1).
    along_beads : float array (n,)
        Of the bead's centre, in bead lengths from the start of the base.
    out : float array (n,)
        Of the bead's centre, in bead diameters from the rope's axis.
    hole_axis : float array (n, 3)
        Unit vectors (around, along, out).
    part : str array (n,)
        ``base``, ``pattern`` or ``closing``.
    round : int array (n,)
        1 to the number of rounds in the pattern; 0 in the base; the last round in the closing.
    length_beads : float
        Of the whole rope, in bead lengths.
    """

    role: TextArray
    angle_turns: FloatArray
    along_beads: FloatArray
    out: FloatArray
    hole_axis: FloatArray
    part: TextArray
    round: npt.NDArray[np.int64]
    length_beads: float

    def __len__(self) -> int:
        return len(self.role)

    def counts(self) -> dict[str, int]:
        """Beads of each role, in the order of their first bead."""
        names, first, numbers = np.unique(self.role, return_index=True, return_counts=True)
        return {str(names[i]): int(numbers[i]) for i in np.argsort(first)}


@dataclass(frozen=True, slots=True, eq=False)
class FlatPattern:
    """One repeat of a motif, unrolled: it continues over all four edges.

    Attributes
    ----------
    width_mm, height_mm : float
        Of the tile: once around, and the rounds after which the motif repeats.
    x_mm, y_mm : float array (n,)
        Bead centres, in [0, width) around and [0, height) along.
    role : str array (n,)
        As in ``RopeBeads``.
    bead_w_mm, bead_h_mm : float array (n,)
        The bead's outline before it is turned: its diameter across the hole, its length along it.
    angle_deg : float array (n,)
        How far the hole leans from the rope's axis towards growing x.
    out : float array (n,)
        Bead diameters from the axis. Beads come in this order: a later one covers an earlier one.
    """

    width_mm: float
    height_mm: float
    x_mm: FloatArray
    y_mm: FloatArray
    role: TextArray
    bead_w_mm: FloatArray
    bead_h_mm: FloatArray
    angle_deg: FloatArray
    out: FloatArray

    def shares(self) -> dict[str, float]:
        """Share of the beads that each role has; not of the area seen."""
        names, numbers = np.unique(self.role, return_counts=True)
        return {
            str(name): float(number) / len(self.role) for name, number in zip(names, numbers, strict=True)
        }


@dataclass(frozen=True, slots=True)
class Motif:
    """A motif, as its file says it.

    Attributes
    ----------
    name, title, says : str
        Short name for options; name for people; one line about it.
    columns : int
        Bead columns around the tube; with ``pitch_around`` they give its radius.
    pitch_around : float
        Bead diameters from column to column.
    rise : Rise
        Bead lengths that a round adds.
    base, rounds, closing : tuple of Row
        ``rounds`` are repeated in turn.
    a_turn : float or None
        Stitches in one full turn of a spiral, whose stitches climb one by one; None where rounds are closed.
    repeat_rounds : int
        Rounds after which places and roles come back unturned.
    thread : Thread
        Passes beyond those of the beads.
    bead_mm : (float, float)
        Diameter and length of the bead for which the geometry was worked out.
    """

    name: str
    title: str
    says: str
    columns: int
    pitch_around: float
    rise: Rise
    base: tuple[Row, ...]
    rounds: tuple[Row, ...]
    closing: tuple[Row, ...]
    a_turn: float | None
    repeat_rounds: int
    thread: Thread
    bead_mm: tuple[float, float] = (2.1, 1.5)

    @property
    def stitches(self) -> int:
        """Stitches of a round."""
        return len(self.rounds[0].beads)

    @property
    def around(self) -> int:
        """Bead columns around the tube."""
        return self.columns

    @property
    def roles(self) -> tuple[str, ...]:
        """All its roles: accent, body, third, then further letters."""
        letters = {
            letter for row in (*self.rounds, *self.base, *self.closing) for s in row.beads for letter in s
        }
        return tuple(ROLES.get(letter, letter) for letter in sorted(letters))

    @property
    def radius(self) -> float:
        """Of the ring of bead centres, in bead diameters."""
        if self.columns == 1:
            return 0.0
        return self.pitch_around / (2.0 * math.sin(math.pi / self.columns))

    @property
    def rise_beads(self) -> float:
        """The likely rise in bead lengths, of beads in the proportions of ``bead_mm``."""
        return self.rise.mm(*self.bead_mm)[1] / self.bead_mm[1]

    @property
    def opening_diameters(self) -> float:
        """The hole down the middle of the tube in bead diameters, at least 0."""
        return max(0.0, 2.0 * self.radius - 1.0)

    @property
    def outer_diameters(self) -> float:
        """The rope's outer diameter in bead diameters."""
        places = [place for row in self.rounds for place in row.stitch]
        return 2.0 * (self.radius + max(place.out for place in places) + 0.5)

    def rope(self, rounds: int, *, rise: float | None = None) -> RopeBeads:
        """Lay out a whole rope.

        Parameters
        ----------
        rounds : int
            Rounds of the pattern, at least 0.
        rise : float, optional
            Bead lengths that a round adds; the motif's likely rise if left out.

        Returns
        -------
        RopeBeads
            Base, pattern and closing in stringing order.

        Raises
        ------
        ValueError
            If ``rounds`` is negative or ``rise`` is not above 0.
        """
        if rounds < 0:
            raise ValueError(f"rounds must be 0 or more; got {rounds}")
        step = self.rise_beads if rise is None else rise
        if not step > 0:
            raise ValueError(f"rise must be above 0 bead lengths; got {rise}")
        layer = _Layer(self.radius)
        for row in self.base:
            layer.add(row, row.rise, "base", 0)
        layer.turns = 0.0
        for number in range(1, rounds + 1):
            row = self.rounds[(number - 1) % len(self.rounds)]
            layer.add(row, step * row.rise, "pattern", number, self.a_turn)
        for row in self.closing:
            layer.add(row, row.rise, "closing", rounds)
        return layer.beads()

    def flat(self, bead_mm: tuple[float, float] | None = None, *, rise: float | None = None) -> FlatPattern:
        """One repeat of the pattern, unrolled to millimetres as seen from outside.

        Parameters
        ----------
        bead_mm : (diameter, length), optional
            The bead's size; that of ``Motif.bead_mm`` if left out. All lengths grow in proportion to it.
        rise : float, optional
            Bead lengths that a round adds; the motif's likely rise if left out.

        Returns
        -------
        FlatPattern
            A tile that continues over all four edges.
        """
        diameter, length = bead_mm or self.bead_mm
        step = self.rise_beads if rise is None else rise
        layer = _Layer(self.radius)
        for number in range(1, self.repeat_rounds + 1):
            row = self.rounds[(number - 1) % len(self.rounds)]
            layer.add(row, step * row.rise, "pattern", number, self.a_turn)
        beads = layer.beads()
        # A core shows only in the gaps between the beads around it: it becomes a backing as wide as the tile.
        core = beads.out < 0.5
        radius = self.radius or (float(beads.out[~core].mean()) if not core.all() else 0.5)
        width, height = 2.0 * math.pi * radius * diameter, layer.top * length
        order = np.argsort(beads.out, kind="stable")
        around, along, _ = beads.hole_axis[order].T
        return FlatPattern(
            width_mm=width,
            height_mm=height,
            x_mm=beads.angle_turns[order] * width,
            y_mm=np.mod(beads.along_beads[order] * length, height),
            role=beads.role[order],
            bead_w_mm=np.where(core[order], width, diameter),
            bead_h_mm=np.full(len(beads), length),
            angle_deg=np.degrees(np.arctan2(around, along)),
            out=beads.out[order],
        )

    def counts(self, rounds: int) -> dict[str, int]:
        """Beads of each role in a rope of so many rounds, by arithmetic alone; roles as in ``roles``.

        Raises
        ------
        ValueError
            If ``rounds`` is negative.
        """
        if rounds < 0:
            raise ValueError(f"rounds must be 0 or more; got {rounds}")
        totals = dict.fromkeys(self.roles, 0)
        whole, rest = divmod(rounds, len(self.rounds))
        repeated = [(row, whole + (i < rest)) for i, row in enumerate(self.rounds)]
        for row, times in [*((row, 1) for row in (*self.base, *self.closing)), *repeated]:
            for letter in "".join(row.beads):
                totals[ROLES.get(letter, letter)] += times
        return totals


class _Layer:
    """Rows put on top of each other."""

    def __init__(self, radius: float) -> None:
        self.radius = radius
        self.top = 0.0
        self.turns = 0.0
        self.role: list[str] = []
        self.part: list[str] = []
        self.round: list[int] = []
        self.numbers: list[tuple[float, float, float, float, float]] = []

    def add(self, row: Row, rise: float, part: str, number: int, a_turn: float | None = None) -> None:
        stitches = len(row.beads)
        full = a_turn or float(stitches)
        self.turns += row.turn / full
        for j, letters in enumerate(row.beads):
            climb = j / stitches if a_turn else 0.0
            for letter, place in zip(letters, row.stitch, strict=True):
                self.role.append(ROLES.get(letter, letter))
                self.part.append(part)
                self.round.append(number)
                self.numbers.append(
                    (
                        self.turns + (j + place.around) / full,
                        self.top + (climb + place.along) * rise,
                        self.radius + place.out,
                        place.lean_deg,
                        place.tip_deg,
                    )
                )
        if a_turn:
            self.turns += stitches / full
        self.top += rise

    def beads(self) -> RopeBeads:
        turns, along, out, lean, tip = np.array(self.numbers, dtype=np.float64).reshape(-1, 5).T
        lean, tip = np.radians(lean), np.radians(tip)
        hole = np.stack([np.sin(lean) * np.cos(tip), np.cos(lean) * np.cos(tip), np.sin(tip)], axis=-1)
        # Rounding first keeps a whole turn at 0: sums of thirds end at 0.9999... as often as at 1.
        angle = np.mod(np.round(turns, 12), 1.0)
        return RopeBeads(
            role=np.array(self.role, dtype=np.str_),
            angle_turns=angle,
            along_beads=along,
            out=out,
            hole_axis=hole,
            part=np.array(self.part, dtype=np.str_),
            round=np.array(self.round, dtype=np.int64),
            length_beads=self.top,
        )


def load(name_or_path: str | Path) -> Motif:
    """A shipped motif by its name, or the maker's own from a ``.toml`` file.

    Raises
    ------
    MotifError
        If there is no such motif, or its file has a fault: with the line and the mend.
    """
    from analyser.beads import motif_files

    return motif_files.load(name_or_path)


def names() -> tuple[str, ...]:
    """The names of the shipped motifs, sorted."""
    from analyser.beads import motif_files

    return motif_files.names()
