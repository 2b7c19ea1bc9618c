"""Accent and body: pairs of beads one owns, ranked for a photo and a motif.

The order is that of ``scores``; what is shown of it is spread out, so that five suggestions are not five
shades of one idea.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import Literal

import numpy as np

from analyser.arrays import FloatArray, IntArray, Lab
from analyser.colour.difference import delta_e_2000
from analyser.colour.nearest import nearest_2000
from analyser.colourway import further, reasons, scores
from analyser.colourway.further import APART_DE00, STANDS_FOR_DE00, Further, LetterSets
from analyser.colourway.measures import Measured, Measures, PairView, measure
from analyser.colourway.palette import PaletteColour
from analyser.colourway.reasons import Reason
from analyser.colourway.scores import CONTRASTS
from analyser.stock.bead import Bead

Wanted = Literal["soft", "clear", "bold"]
ROLES = ("accent", "body")

#: Nearest beads of each palette colour that are tried in each role.
TRIED = 8
#: Pairs of the order that are weighed with the beads of the motif's further letters.
WEIGHED = 150


@dataclass(frozen=True, slots=True)
class Pair:
    """An accent and a body of the stock, judged for a photo and a motif.

    Attributes
    ----------
    accent, body : Bead
        The lots proposed.
    others : mapping of role to Bead
        Those for the further letters of the motif; without the letters that no bead was found for.
    stands_for : mapping of role to int
        Index of the palette colour each stands for.
    fit_de00 : mapping of role to float
        CIEDE2000 to that colour.
    measures : Measures
        The pair by itself.
    needs : mapping of role to int, or None
        Beads each role of the motif needs, spare included; None where no length was given.
    enough : bool or None
        Whether one lot of each holds that many by the low end of what it may hold; None where unknown, or
        where a letter of the motif has no bead.
    scores : mapping of str to float
        As named in ``scores.NAMES``, each in [0, 1].
    reasons : tuple of Reason
        Why it is proposed, and what to mind, the strongest first.
    """

    accent: Bead
    body: Bead
    others: Mapping[str, Bead]
    stands_for: Mapping[str, int]
    fit_de00: Mapping[str, float]
    measures: Measures
    needs: Mapping[str, int] | None
    enough: bool | None
    scores: Mapping[str, float]
    reasons: tuple[Reason, ...]

    @property
    def beads(self) -> dict[str, Bead]:
        """The beads of all roles, accent and body first."""
        return {"accent": self.accent, "body": self.body, **self.others}


@dataclass(frozen=True, slots=True, eq=False)
class Ranking:
    """All pairs that a stock gives for a palette, in their order; parallel arrays, one entry a pair.

    Attributes
    ----------
    colours, beads : tuple
        What ``accent_for``, ``body_for`` and ``accent``, ``body`` count in.
    accent, body, accent_for, body_for : int arrays
        The beads, and the palette colours they stand for.
    accent_fit, body_fit : float arrays
        CIEDE2000 from bead to colour.
    measured : Measured
    scores : float array, shape (n, 5)
    order : int array
        Indices of the pairs worth proposing, best first.
    needs : mapping of role to int, or None
    contrast : str
    chances : sequence of mapping of str to float
        For each colour the chance of each bead, by its id; empty where none is known.
    """

    colours: tuple[PaletteColour, ...]
    beads: tuple[Bead, ...]
    accent: IntArray
    body: IntArray
    accent_for: IntArray
    body_for: IntArray
    accent_fit: FloatArray
    body_fit: FloatArray
    measured: Measured
    scores: FloatArray
    order: IntArray
    needs: Mapping[str, int] | None
    contrast: Wanted
    chances: Sequence[Mapping[str, float]] = ()

    def best(self, top: int) -> tuple[Pair, ...]:
        """The best pairs that are ideas of their own; fewer than ``top`` where the stock gives no more."""
        return tuple(self.pair(index) for index in self._spread(top))

    def pair(self, index: int, spoken_for: Collection[str] = ()) -> Pair:
        """One of the pairs, with its measures and its reasons.

        ``spoken_for`` are ids of beads that are not to be had for the further letters of the motif.
        """
        accent, body = self.beads[self.accent[index]], self.beads[self.body[index]]
        stands_for = {"accent": int(self.accent_for[index]), "body": int(self.body_for[index])}
        fit_de00 = {"accent": float(self.accent_fit[index]), "body": float(self.body_fit[index])}
        letters = [role for role in self.measured.view.motif.roles if role not in ROLES]
        free = [bead for bead in self.beads if bead.id not in spoken_for]
        added = further.choose(letters, (accent, body), stands_for.values(), self.colours, free, self.needs)
        for role, one in added.items():
            stands_for[role], fit_de00[role] = one.colour, one.fit_de00
        beads = {"accent": accent, "body": body} | {role: one.bead for role, one in added.items()}
        measures = self.measured.one(index, _labs_of(added))
        needs = None if self.needs is None else {role: self.needs[role] for role in (*ROLES, *letters)}
        held = min(scores.holds(bead, self.needs, role) for role, bead in beads.items())
        enough = {0.0: False, 0.5: None, 1.0: None if len(added) < len(letters) else True}[held]
        told = [self._fit(role, beads[role], one, fit_de00[role]) for role, one in stands_for.items()]
        reads, value, *more = reasons.of_measures(measures, accent, body, self.contrast)
        in_stock = [] if needs is None else [reasons.in_stock(beads, needs, enough)]
        return Pair(
            accent,
            body,
            {role: one.bead for role, one in added.items()},
            stands_for,
            fit_de00,
            measures,
            needs,
            enough,
            dict(zip(scores.NAMES, self.scores[index].tolist(), strict=True)),
            (*told, reads, value, *in_stock, *more),
        )

    def _fit(self, role: str, bead: Bead, colour: int, de00: float) -> reasons.Fit:
        """How near a bead of a pair comes to the colour it stands for."""
        of = self.colours[colour]
        known = float(np.hypot(of.uncertainty_de00, bead.uncertainty_de00 or 0.0))
        chance = self.chances[colour].get(bead.id, 0.0) if self.chances else 0.0
        return reasons.Fit(role, of.name, de00, known, chance)

    def holding(self, bead_id: str | None, colour: int | None) -> Ranking:
        """The ranking without pairs in which neither bead has that id and stands for that colour."""
        of_accent = np.ones(len(self.accent), dtype=bool)
        of_body = of_accent.copy()
        if colour is not None:
            of_accent, of_body = self.accent_for == colour, self.body_for == colour
        if bead_id is not None and self.beads:
            mine = np.array([bead.id == bead_id for bead in self.beads])
            of_accent, of_body = of_accent & mine[self.accent], of_body & mine[self.body]
        return replace(self, order=self.order[(of_accent | of_body)[self.order]])

    def alike_de00(self, one: int, others: Sequence[int]) -> FloatArray:
        """How far one pair is from others: the larger of the differences in accent and in body.

        A pair with its beads changed over is no new idea: the nearer of straight and swapped counts.
        """
        accents, bodies = self.measured.accent_lab, self.measured.body_lab
        index = np.asarray(others, dtype=np.intp)
        own = np.stack([accents[one], bodies[one]])
        theirs = np.stack([accents[index], bodies[index]])
        straight, swapped = delta_e_2000(own[:, None], np.stack([theirs, theirs[::-1]])).max(axis=1)
        return np.asarray(np.minimum(straight, swapped))

    def _spread(self, top: int) -> list[int]:
        """The first of the order that are ideas of their own; loosened step by step if too few are."""
        chosen: list[int] = []
        for limit, most_a_colour in ((APART_DE00, 2), (APART_DE00 / 2, 3), (0.0, len(self.order))):
            for k in (int(k) for k in self.order):
                if len(chosen) >= top:
                    return chosen
                shared = max(
                    np.count_nonzero(self.accent_for[chosen] == self.accent_for[k]),
                    np.count_nonzero(self.body_for[chosen] == self.body_for[k]),
                )
                if k in chosen or shared >= most_a_colour:
                    continue
                if not chosen or self.alike_de00(k, chosen).min() >= limit:
                    chosen.append(k)
        return chosen


def _labs_of(added: Mapping[str, Further]) -> dict[str, Lab]:
    return {role: one.bead.lab for role, one in added.items() if one.bead.lab is not None}


def rank(
    colours: Sequence[PaletteColour],
    beads: Sequence[Bead],
    view: PairView,
    *,
    contrast: Wanted = "clear",
    needs: Mapping[str, int] | None = None,
    mind_colour_vision: bool = False,
    stands_for: Mapping[str, int] | None = None,
    chances: Sequence[Mapping[str, float]] = (),
) -> Ranking:
    """Rank pairs of beads as accent and body.

    Parameters
    ----------
    colours : sequence of PaletteColour
        The subject's palette, without the background.
    beads : sequence of Bead
        Those that may be used; each with a colour, one lot a bead.
    view : PairView
        The motif at its bead size, as the eye has it.
    contrast : str
        ``soft``, ``clear`` or ``bold``.
    needs : mapping of role to int, optional
        Beads that each role of the motif needs.
    mind_colour_vision : bool
        Let the difference under colour vision deficiency count in the contrast.
    stands_for : mapping of role to int, optional
        The colours that accent and body are to stand for, where a finished rope has settled that; then pairs
        of any contrast are worth proposing, and the nearest beads come first.
    chances : sequence of mapping of str to float
        For each colour the chance of each bead, by its id; it is told, and ranks nothing.
    """
    labs = np.array([bead.lab for bead in beads], dtype=np.float64).reshape(-1, 3)
    bead, colour, fit = _candidates(colours, labs)
    one, two = np.divmod(np.arange(len(bead) ** 2), max(len(bead), 1))
    one, two = (kept[bead[one] != bead[two]] for kept in (one, two))
    accent, body = bead[one], bead[two]
    # A bead may stand for several colours: what two beads are together is measured once.
    two_beads, of_pair = np.unique(accent * len(labs) + body, return_inverse=True)
    first, second = np.divmod(two_beads, max(len(labs), 1))
    measured = measure(labs[first], labs[second], view).for_each(of_pair)
    seen = measured.seen[scores.SEEN_FROM_M]
    if mind_colour_vision:
        seen = seen * np.minimum(1.0, measured.worst_cvd_de00 / np.maximum(measured.de00, 1e-9))
    body_standing, accent_standing = scores.standings(colours)
    tried = np.unique(bead)
    accent_held, body_held = (
        _of_tried(beads, tried, partial(scores.holds, needs=needs, role=role)) for role in ROLES
    )
    reading = measured.reads_about_m
    scored = np.column_stack(
        [
            scores.fit_score(fit[one], fit[two]),
            0.5 * (accent_standing[colour[one]] + body_standing[colour[two]]),
            scores.contrast_score(seen, CONTRASTS[contrast]),
            np.minimum(accent_held[accent], body_held[body]),
            reading / max(float(reading.max(initial=0.0)), 1e-9),
        ]
    )
    worth = (colour[one] != colour[two]) & (scored[:, scores.NAMES.index("contrast")] > 0)
    if contrast == "soft":
        # Tone on tone is a real wish: one colour, told apart by its finish. Two beads that blur are not.
        shine = _of_tried(beads, tried, reasons.shine)
        worth |= (np.abs(shine[accent] - shine[body]) >= reasons.SHINE_APART) & (
            seen < CONTRASTS["soft"].at_least
        )
    if stands_for is not None:
        worth = (colour[one] == stands_for["accent"]) & (colour[two] == stands_for["body"])
    order = scores.in_order(np.flatnonzero(worth), scored, colour[one] * len(colours) + colour[two])
    if stands_for is not None and len(order):
        # Another of the same: the nearest bead of each role first, whatever the pair's rank otherwise.
        nearest = order[np.argmin((fit[one] + fit[two])[order])]
        order = np.concatenate([[nearest], order[order != nearest]])
    ranking = Ranking(
        tuple(colours),
        tuple(beads),
        accent,
        body,
        colour[one],
        colour[two],
        fit[one],
        fit[two],
        measured,
        scored,
        order,
        needs,
        contrast,
        chances,
    )
    return ranking if stands_for else _with_letters(ranking)


def _of_tried(beads: Sequence[Bead], tried: IntArray, what: Callable[[Bead], float]) -> FloatArray:
    """A number of each bead that is tried, shape (len(beads),); 0 for the others."""
    found = np.zeros(len(beads))
    found[tried] = [what(beads[index]) for index in tried]
    return found


def _with_letters(ranking: Ranking) -> Ranking:
    """The first pairs of the order put in order again by what they leave for the motif's further letters."""
    letters = [role for role in ranking.measured.view.motif.roles if role not in ROLES]
    if not letters or not len(ranking.order):
        return ranking
    sets = LetterSets(letters, ranking.colours, ranking.beads, ranking.needs)
    first = ranking.order[:WEIGHED]
    filled, total = np.zeros(len(first)), ranking.scores[first, : scores.SUMMED].sum(axis=1)
    for place, index in enumerate(int(k) for k in first):
        shown = (int(ranking.accent_for[index]), int(ranking.body_for[index]))
        beads = (ranking.beads[ranking.accent[index]], ranking.beads[ranking.body[index]])
        found, score = sets.best(beads, shown)
        filled[place] = len(found)
        total[place] += score
    again = first[np.lexsort((np.arange(len(first)), -total, -filled))]
    return replace(ranking, order=np.concatenate([again, ranking.order[WEIGHED:]]))


def _candidates(colours: Sequence[PaletteColour], labs: FloatArray) -> tuple[IntArray, IntArray, FloatArray]:
    """Beads that can stand for palette colours: bead, colour and CIEDE2000, one entry a (bead, colour)."""
    if not len(labs) or not colours:
        return np.empty(0, np.intp), np.empty(0, np.intp), np.empty(0)
    indices, de00 = nearest_2000([colour.lab for colour in colours], labs, k=TRIED)
    colour = np.repeat(np.arange(len(colours)), indices.shape[1])
    near = de00.ravel() <= STANDS_FOR_DE00
    return indices.ravel()[near], colour[near], de00.ravel()[near]
