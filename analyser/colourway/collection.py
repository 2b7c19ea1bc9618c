"""Several colourways at once, for a class or a shop window: clearly different, and makeable together.

What one colourway uses the other cannot. So the choice is a small integer program: one yes or no for each
pair of the ranking, a limit for each lot, a conflict between any two that look alike, and the sum of scores
to gain.

Sources
-------
The exact search is that of ``scipy.optimize.milp`` (branch and cut, HiGHS).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from analyser.colourway.further import APART_DE00
from analyser.colourway.pairing import ROLES, Pair, Ranking
from analyser.colourway.scores import SUMMED
from analyser.stock.bead import Bead
from analyser.stock.lots import sure_beads

#: Pairs of the ranking that are weighed against each other; a class rarely needs more than a dozen.
WEIGHED = 150
#: So many colourways of a collection may share a bead: with more it is one colourway in several dresses.
MOST_WITH_ONE_BEAD = 2


@dataclass(frozen=True, slots=True)
class Collection:
    """Colourways that go together.

    Attributes
    ----------
    pairs : tuple of Pair
        Best first; fewer than asked where the stock makes no more.
    wanted : int
    weighed : int
        Pairs of the ranking that were weighed against each other.
    counted : bool
        Whether one lot of each bead had to hold enough for all of them together.
    unknown : tuple of Bead
        Beads of the collection whose quantity the list does not say; empty where nothing was counted.
    """

    pairs: tuple[Pair, ...]
    wanted: int
    weighed: int
    counted: bool
    unknown: tuple[Bead, ...]


def choose(ranking: Ranking, count: int, *, needs: Mapping[str, int] | None = None) -> Collection:
    """The ``count`` pairs that differ clearly, can all be made from the stock, and have the most scores.

    Parameters
    ----------
    ranking : Ranking
    count : int
        Colourways wanted, at least 1.
    needs : mapping of role to int, optional
        Beads that each colourway takes in all (for several kits of one: their sum); the ranking's own needs
        if left out. Without any, lots are not limited.

    Returns
    -------
    Collection
        As many as possible up to ``count``, and of those sets the one with the highest sum of scores.
    """
    wanted = needs or ranking.needs
    rows = [int(k) for k in ranking.order[:WEIGHED]]
    chosen = _solve(ranking, rows, count, wanted) if rows else []
    chosen.sort(key=rows.index)
    taken = sorted({bead for k in chosen for bead in (int(ranking.accent[k]), int(ranking.body[k]))})
    beads = [ranking.beads[b] for b in taken if wanted is not None]
    unknown = sorted((bead for bead in beads if sure_beads(bead) is None), key=lambda bead: bead.name)
    # Beads for further letters come from what no other colourway of the collection uses.
    spoken_for = {ranking.beads[b].id for b in taken}
    pairs = []
    for k in chosen:
        pairs.append(ranking.pair(k, spoken_for))
        spoken_for |= {bead.id for bead in pairs[-1].others.values()}
    return Collection(tuple(pairs), count, len(rows), wanted is not None, tuple(unknown))


def conflicts(ranking: Ranking, rows: Sequence[int]) -> list[tuple[int, int]]:
    """Which of the rows look too alike to stand side by side, as pairs of places in ``rows``."""
    found: list[tuple[int, int]] = []
    for place, row in enumerate(rows[:-1]):
        near = ranking.alike_de00(row, rows[place + 1 :]) < APART_DE00
        found.extend((place, place + 1 + int(other)) for other in np.flatnonzero(near))
    return found


def _solve(ranking: Ranking, rows: list[int], count: int, needs: Mapping[str, int] | None) -> list[int]:
    from scipy.optimize import Bounds, LinearConstraint, milp

    places = len(rows)
    gain = ranking.scores[rows][:, :SUMMED].sum(axis=1)
    lines, limits = [np.ones(places)], [float(count)]
    weighed = np.unique([ranking.accent[rows], ranking.body[rows]])
    for index in weighed:
        uses = (ranking.accent[rows] == index) | (ranking.body[rows] == index)
        if uses.sum() > MOST_WITH_ONE_BEAD:
            lines.append(uses.astype(float))
            limits.append(float(MOST_WITH_ONE_BEAD))
    for one, two in conflicts(ranking, rows):
        line = np.zeros(places)
        line[[one, two]] = 1.0
        lines.append(line)
        limits.append(1.0)
    if needs is not None:
        for index in weighed:
            held = sure_beads(ranking.beads[index])
            taken = sum(
                needs.get(role, 0) * (getattr(ranking, role)[rows] == index).astype(float) for role in ROLES
            )
            if held is not None and np.any(taken):
                lines.append(np.asarray(taken))
                limits.append(float(held))
    # One more colourway is worth more than all scores together: as many as can be, and the best of those.
    answer = milp(
        -(gain + SUMMED * places),
        integrality=np.ones(places),
        bounds=Bounds(0, 1),
        constraints=LinearConstraint(np.array(lines), ub=np.array(limits)),
    )
    return [rows[place] for place in np.flatnonzero(answer.x > 0.5)] if answer.x is not None else []
