"""Motifs: which bead goes where in a beaded rope, as plain numbers.

A motif is rows of stitches: a base, rounds that repeat, a closing. Everything is counted in beads, so
the same motif serves every bead size: along the rope in bead lengths (a bead's length is measured
along its hole), outwards in bead diameters, around in turns. The rope's axis points from the base to
the closing; around grows anticlockwise as seen from the closing end.

Nothing here opens a file; ``parsing.load`` does.

Sources
-------
Stitch structures and usual column numbers are common practice, no single source; the geometry was
worked out from solid beads of 2.1 x 1.5 mm that must not cut into each other.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from analyser.motif.geometry import ROLES, FlatPattern, Layer, RopeBeads, Row


@dataclass(frozen=True, slots=True)
class RoundRise:
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
    rise : RoundRise
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
    rise: RoundRise
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
    def ends_beads(self) -> float:
        """Bead lengths that base and closing add to the rope."""
        return sum(row.rise for row in (*self.base, *self.closing))

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
        layer = Layer(self.radius)
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
        import numpy as np

        diameter, length = bead_mm or self.bead_mm
        step = self.rise_beads if rise is None else rise
        layer = Layer(self.radius)
        for number in range(1, self.repeat_rounds + 1):
            row = self.rounds[(number - 1) % len(self.rounds)]
            layer.add(row, step * row.rise, "pattern", number, self.a_turn)
        beads = layer.beads()
        core = beads.out < 0.5
        radius = self.radius or (float(beads.out[~core].mean()) if not core.all() else 0.5)
        width, height = 2.0 * math.pi * radius * diameter, layer.top * length
        # A core is seen from all sides, in the gaps of what lies around it: it stands again and again.
        sides = max(1, round(width / diameter))
        places = [
            (i, beads.angle_turns[i] + side / sides)
            for i in np.argsort(beads.out, kind="stable")
            for side in range(sides if core[i] else 1)
        ]
        order = np.array([i for i, _ in places])
        around, along, _ = beads.hole_axis[order].T
        return FlatPattern(
            width_mm=width,
            height_mm=height,
            x_mm=np.mod([turn for _, turn in places], 1.0) * width,
            y_mm=np.mod(beads.along_beads[order] * length, height),
            role=beads.role[order],
            bead_w_mm=np.full(len(order), diameter),
            bead_h_mm=np.full(len(order), length),
            angle_deg=np.degrees(np.arctan2(around, along)),
            out=beads.out[order],
        )

    def shares(self) -> dict[str, float]:
        """Share of the beads that each role has in the repeating rounds; not of the area seen."""
        none, one = self.counts(0), self.counts(len(self.rounds))
        beads = sum(one.values()) - sum(none.values())
        return {role: (one[role] - none[role]) / beads for role in self.roles}

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
