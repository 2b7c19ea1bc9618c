"""Beads for the letters of a motif beyond accent and body: each stands for another colour of the photo.

The letters of a motif are chosen together: of all sets that fill most of them the one with the highest sum of
scores. A bead's score for a letter is how near it comes to its colour, how small and vivid that colour is in
the photo, and whether its lot holds enough; each between 0 and 1 as in ``scores``.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from analyser.arrays import FloatArray
from analyser.colour.difference import delta_e_2000
from analyser.colour.nearest import nearest_2000
from analyser.colourway import scores
from analyser.colourway.palette import PaletteColour
from analyser.stock.bead import Bead

STANDS_FOR_DE00 = 15.0
"""A bead farther from its palette colour than this does not stand for it any more: the page tells what to
shop for instead. Three times the end of small differences, so that a small box still gives pairs."""
APART_DE00 = 10.0
"""Two colours are told apart at a glance: twice the end of small differences."""
TRIED = 8
"""Nearest beads of each palette colour that are tried for a letter."""
_TOGETHER = 3  # letters that are chosen together; of more the first ones are taken one by one

BoolArray = npt.NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Further:
    """A bead for a further letter.

    Attributes
    ----------
    bead : Bead
    colour : int
        Index of the palette colour it stands for.
    fit_de00 : float
        CIEDE2000 to that colour.
    """

    bead: Bead
    colour: int
    fit_de00: float


class LetterSets:
    """The sets of beads that the further letters of a motif can have.

    Parameters
    ----------
    roles : sequence of str
        The letters' roles, in their order.
    colours : sequence of PaletteColour
    beads : sequence of Bead
        Those that may be used; each with a colour.
    needs : mapping of role to int, optional
        Beads that each role needs.
    """

    def __init__(
        self,
        roles: Sequence[str],
        colours: Sequence[PaletteColour],
        beads: Sequence[Bead],
        needs: Mapping[str, int] | None = None,
    ) -> None:
        self.roles = tuple(roles)
        usable = [bead for bead in beads if bead.lab is not None]
        labs = np.array([bead.lab for bead in usable], dtype=np.float64).reshape(-1, 3)
        bead, colour = np.empty(0, np.intp), np.empty(0, np.intp)
        fit: FloatArray = np.empty(0)
        if usable and colours and roles:
            nearest, de00 = nearest_2000([one.lab for one in colours], labs, k=TRIED)
            near = de00.ravel() <= STANDS_FOR_DE00
            bead, fit = nearest.ravel()[near], de00.ravel()[near]
            colour = np.repeat(np.arange(len(colours)), nearest.shape[1])[near]
        self._beads = [usable[int(index)] for index in bead]
        self._labs, self._colour, self._fit = labs[bead], colour, fit
        apart = delta_e_2000(self._labs[:, None], self._labs[None]) >= APART_DE00
        self._go: BoolArray = apart & (colour[:, None] != colour[None])
        standing = scores.standings(colours)[1][colour] if len(colour) else np.empty(0)
        own = scores.fit_score(fit, fit) + standing
        self._score = {
            role: own + np.array([scores.holds(one, needs, role) for one in self._beads])
            for role in self.roles
        }

    def best(self, taken: Sequence[Bead], shown: Collection[int]) -> tuple[dict[str, Further], float]:
        """The best set beside some beads.

        Parameters
        ----------
        taken : sequence of Bead
            Beads of accent and body.
        shown : collection of int
            Palette colours that those stand for.

        Returns
        -------
        dict of role to Further
            Without the roles, from the last on, that no bead is left for.
        float
            The sum of its scores, in parts of the most there could be: 0 to 1; 1 for a motif without further
            letters.
        """
        if not self.roles:
            return {}, 1.0
        labs = np.array([bead.lab for bead in taken], dtype=np.float64).reshape(-1, 3)
        free = ~np.isin(self._colour, list(shown))
        free &= (delta_e_2000(self._labs[:, None], labs[None]) >= APART_DE00).all(axis=1)
        ids = {bead.id for bead in taken}
        free &= np.array([bead.id not in ids for bead in self._beads], dtype=bool)
        chosen = self._filled(self.roles, free)
        found = {
            role: Further(self._beads[k], int(self._colour[k]), float(self._fit[k]))
            for role, k in zip(self.roles, chosen, strict=False)
        }
        total = sum(float(self._score[role][k]) for role, k in zip(self.roles, chosen, strict=False))
        return found, total / (3.0 * len(self.roles))

    def _filled(self, roles: Sequence[str], free: BoolArray) -> list[int]:
        """Candidates for as many of the roles as can be filled, from the first on."""
        for count in range(len(roles), 0, -1):
            found = self._together(roles[:count], free)
            if found is not None:
                return found
        return []

    def _together(self, roles: Sequence[str], free: BoolArray) -> list[int] | None:
        """The set of highest sum for all the roles; None where there is none."""
        if not np.any(free):
            return None
        score = np.where(free, self._score[roles[0]], -np.inf)
        if len(roles) == 1:
            return [int(np.argmax(score))]
        if len(roles) == 2:
            second = np.where(free, self._score[roles[1]], -np.inf)
            both: FloatArray = np.where(self._go, score[:, None] + second[None], -np.inf)
            at = int(np.argmax(both))
            return None if not np.isfinite(both.flat[at]) else list(divmod(at, len(score)))
        best: tuple[float, list[int]] | None = None
        for k in (int(k) for k in np.argsort(-score, kind="stable") if np.isfinite(score[k])):
            rest = self._together(roles[1:], free & self._go[k])
            if rest is None:
                continue
            total = float(score[k]) + sum(
                float(self._score[role][one]) for role, one in zip(roles[1:], rest, strict=True)
            )
            if best is None or total > best[0]:
                best = total, [k, *rest]
            if len(roles) > _TOGETHER:
                break
        return None if best is None else best[1]


def choose(
    roles: Sequence[str],
    taken: Sequence[Bead],
    shown: Collection[int],
    colours: Sequence[PaletteColour],
    beads: Sequence[Bead],
    needs: Mapping[str, int] | None = None,
) -> dict[str, Further]:
    """A bead for each further letter: ``LetterSets.best`` of ``LetterSets``."""
    return LetterSets(roles, colours, beads, needs).best(taken, shown)[0] if roles else {}
