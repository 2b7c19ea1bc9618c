"""Thread for a rope, from the thread's own path through the beads.

Sources
-------
Passes by motif: its file. Lengths of tails, joins and of a working thread: common practice, no single
source. What thread needs to turn from bead to bead (a tenth): from memory.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from analyser.motif.geometry import ROLES, Row
from analyser.motif.motif import Motif


@dataclass(frozen=True, slots=True)
class Threading:
    """How a maker threads; every length a stated default.

    Attributes
    ----------
    working_mm : float
        Thread taken at a time (1.5 to 2 m is usual).
    tail_mm : float
        Left at either end of the piece to sew the clasp on (15 to 20 cm).
    join_tail_mm, left_mm : float
        A new thread starts with this tail (2 to 3 cm at a join) when this much of the old one is left.
    turns : float
        Share added for the way from bead to bead.
    reinforced : bool
        Whether each round is gone through a second time.
    """

    working_mm: float = 1800.0
    tail_mm: float = 180.0
    join_tail_mm: float = 25.0
    left_mm: float = 150.0
    turns: float = 0.10
    reinforced: bool = False


@dataclass(frozen=True, slots=True)
class ThreadNeed:
    """Thread for one piece.

    Attributes
    ----------
    path_m : float
        Through the beads alone, turns included.
    total_m : float
        With tails and what joins cost.
    joins : int
        Times a new thread is joined.
    round_passes, first_round_passes : int
        Beads the thread goes through in a round, and in the first one on the base.
    """

    path_m: float
    total_m: float
    joins: int
    round_passes: int
    first_round_passes: int


def passes(motif: Motif, *, reinforced: bool = False) -> tuple[int, int]:
    """Beads that the thread goes through in a round, and in the first round on the base.

    Examples
    --------
    A chenille round passes 9 new beads, 3 shared accents and 2 at the step up; a reinforcing lap 12 more:

    >>> from analyser.motif import parsing
    >>> passes(parsing.load("chenille")), passes(parsing.load("chenille"), reinforced=True)
    ((14, 23), (26, 35))
    """
    row = motif.rounds[0]
    through = sum(place.passes for _ in row.beads for place in row.stitch)
    lap = through if reinforced else 0
    ordinary = through + motif.thread.step_up
    return ordinary + lap, (motif.thread.first_round or ordinary) + lap


def need(motif: Motif, rounds: int, length_mm: Mapping[str, float], how: Threading) -> ThreadNeed:
    """Thread for a rope of so many rounds.

    Parameters
    ----------
    motif : Motif
        Its passes are counted bead by bead.
    rounds : int
        At least 0.
    length_mm : mapping of role to float
        Length of each role's bead along its hole.
    how : Threading
        The maker's habits.

    Raises
    ------
    ValueError
        If a working thread is too short for its own tails.
    """
    laps = 2 if how.reinforced else 1
    cycle = len(motif.rounds)
    ends = sum(_row_mm(row, length_mm) for row in (*motif.base, *motif.closing))
    pattern = sum(
        laps * _row_mm(row, length_mm) * (rounds // cycle + (i < rounds % cycle))
        for i, row in enumerate(motif.rounds)
    )
    ordinary, first = passes(motif, reinforced=how.reinforced)
    commonest = max(length_mm.values())
    steps = motif.thread.step_up * rounds + ((first - ordinary) if rounds else 0)
    path = (ends + pattern + steps * commonest) * (1.0 + how.turns)
    joins = _joins(path, how)
    total = path + 2 * how.tail_mm + joins * (how.join_tail_mm + how.left_mm)
    return ThreadNeed(path / 1000, total / 1000, joins, ordinary, first)


def _row_mm(row: Row, length_mm: Mapping[str, float]) -> float:
    return sum(
        place.passes * length_mm[ROLES.get(letter, letter)]
        for letters in row.beads
        for letter, place in zip(letters, row.stitch, strict=True)
    )


def _joins(path_mm: float, how: Threading) -> int:
    between = how.working_mm - how.join_tail_mm - how.left_mm
    if between <= 0:
        raise ValueError(f"a working thread of {how.working_mm:g} mm is all tails")
    only = how.working_mm - 2 * how.tail_mm
    if path_mm <= only:
        return 0
    # The first thread has the piece's tail and what its join leaves; the last a join's tail and the piece's.
    ends = 2 * how.working_mm - 2 * how.tail_mm - how.join_tail_mm - how.left_mm
    return 1 + max(0, math.ceil((path_mm - ends) / between))
