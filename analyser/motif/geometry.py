"""Rows of stitches laid out as beads on a tube.

Along the rope counts in bead lengths (a bead's length is measured along its hole), outwards in bead
diameters, around in turns. The rope's axis points from the base to the closing; around grows
anticlockwise as seen from the closing end.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING

from analyser.arrays import FloatArray

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

    TextArray = npt.NDArray[np.str_]

ROLES = {"A": "accent", "B": "body", "C": "third"}
"""Letters of a motif file and the roles they stand for; a further letter is its own role."""


def letter_of(role: str) -> str:
    """The letter that stands for a role in motif files.

    Examples
    --------
    >>> letter_of("body"), letter_of("D")
    ('B', 'D')
    """
    return next((letter for letter, name in ROLES.items() if name == role), role)


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
        return dict(Counter(self.role.tolist()))


@dataclass(frozen=True, slots=True, eq=False)
class FlatPattern:
    """One repeat of a motif, unrolled: it continues over all four edges.

    A core inside the rope is seen from all sides, so its beads stand several times across the tile.

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


class Layer:
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
        """Put a row on top that adds ``rise`` bead lengths."""
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
        """All beads so far."""
        import numpy as np

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
