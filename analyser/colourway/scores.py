"""Scores between 0 and 1 for pairs, and the order they give.

fit       how near both beads come to the colours they stand for;
standing  the body from what fills the photo, the accent from what is small and vivid in it (makers' habit,
          common practice, no source);
contrast  how far accent and body stay apart at arm's length, against what was asked for (``CONTRASTS``);
stock     whether one lot of each holds enough;
reading   how far the motif reads, against the pair of this stock that reads farthest.

What no arithmetic should trade away comes first: of the pairs that stand for the same two colours of the
photo, the Pareto front (those that no other beats on every score) stands before the rest. (A pair for two
other colours is another idea, not a better one.) Among them a plain sum of the first four scores decides.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from analyser.arrays import FloatArray, IntArray
from analyser.colour import viewing
from analyser.colour.difference import delta_e_2000
from analyser.colourway.palette import PaletteColour
from analyser.stock.bead import Bead
from analyser.stock.lots import sure_beads

NAMES = ("fit", "standing", "contrast", "stock", "reading")
#: The scores that are summed; ``reading`` only counts towards the Pareto front.
SUMMED = 4


@dataclass(frozen=True, slots=True)
class Contrast:
    """A wish for contrast: how strong accent and body should stand against each other at arm's length.

    Attributes
    ----------
    at_least, at_most : float
        The wanted contrast as seen from ``SEEN_FROM_M`` (``viewing.seen_contrast``; no CIEDE2000).
    """

    at_least: float
    at_most: float


#: A rope is looked at from arm's length: the distance at which one talks with its wearer.
SEEN_FROM_M = viewing.DISTANCES_M["at arm's length"]
#: Multiples of the contrast that half the observers see (0.8, see ``viewing``), chosen on shipped motifs:
#: in chenille of 11/0, white on black comes to 33, coral on teal to 21, beige on steel blue to 10, two blues
#: that differ by 9 in the hand to 7.
CONTRASTS: Mapping[str, Contrast] = {
    "soft": Contrast(3.0, 9.0),
    "clear": Contrast(10.0, 24.0),
    "bold": Contrast(18.0, np.inf),
}
#: Below this the motif is lost at arm's length: three times what half the observers just see.
BLURS = 2.4


def pareto_front(scores: FloatArray) -> IntArray:
    """The Pareto front: rows that no other beats, being as good on every score and better on one.

    Parameters
    ----------
    scores : float array, shape (n, m)
        More is better; n of some hundreds, as each is held against each. Scores are compared in steps of
        0.02: a smaller lead is no reason to drop a pair.

    Returns
    -------
    int array
        Indices, ascending. Of rows equal on all scores every one is kept.
    """
    steps = np.round(scores / 0.02).astype(np.int32)
    total = steps.sum(axis=1)
    beats = total[:, np.newaxis] > total
    for score in steps.T:
        beats &= score[:, np.newaxis] >= score
    return np.flatnonzero(~beats.any(axis=0))


def in_order(worth: IntArray, scores: FloatArray, idea: IntArray) -> IntArray:
    """The pairs worth proposing, best first.

    Parameters
    ----------
    worth : int array
        Rows of ``scores`` that may be proposed.
    scores : float array, shape (n, 5)
    idea : int array, shape (n,)
        Pairs of the same number stand for the same two colours of the photo.

    Returns
    -------
    int array
        ``worth`` in order: first the Pareto front of each idea.
    """
    first = np.zeros(len(scores), dtype=bool)
    for number in np.unique(idea[worth]):
        same = worth[idea[worth] == number]
        first[same[pareto_front(scores[same])]] = True
    return worth[np.lexsort((worth, -scores[worth, :SUMMED].sum(axis=1), ~first[worth]))]


def standings(colours: Sequence[PaletteColour]) -> tuple[FloatArray, FloatArray]:
    """How well each palette colour stands as the body, and as the accent, in [0, 1]."""
    labs = np.array([colour.lab for colour in colours])
    share = np.array([colour.share for colour in colours])
    share = share / max(float(share.sum()), 1e-12)
    body = np.sqrt(share / share.max())
    chroma = np.hypot(labs[:, 1], labs[:, 2])
    apart = delta_e_2000(labs[:, None], labs[None])
    # Distinct from all that fills more of the photo: the small vivid thing, not a shade of the wall.
    larger = share[None] > share[:, None]
    distinct = np.where(larger, apart, np.inf).min(axis=1)
    distinct = np.where(np.isfinite(distinct), distinct, 0.0)
    vivid = np.clip(chroma / 50.0, 0, 1)
    accent = 0.5 * vivid + 0.3 * np.clip(distinct / 30.0, 0, 1) + 0.2 * (1 - np.sqrt(share))
    return body, accent


def fit_score(accent_de00: FloatArray, body_de00: FloatArray) -> FloatArray:
    """1 for two perfect beads; the worse of the two decides, the other is heard."""
    worse, better = np.maximum(accent_de00, body_de00), np.minimum(accent_de00, body_de00)
    return np.asarray(np.exp(-(0.75 * worse + 0.25 * better) / 8.0))


def contrast_score(seen: FloatArray, wish: Contrast) -> FloatArray:
    """1 inside the wanted range; falls with the ratio outside it; 0 for pairs that blur."""
    short = np.clip(seen / wish.at_least, 0.0, 1.0)
    beyond = np.clip(seen / wish.at_most, 1.0, None)
    return np.where(seen >= BLURS, short**1.5 / beyond, 0.0)


def holds(bead: Bead, needs: Mapping[str, int] | None, role: str) -> float:
    """1 enough, 0.5 unknown, 0 too few, by the low end of what the lot may hold."""
    sure = sure_beads(bead)
    if needs is None or sure is None:
        return 0.5
    return float(sure >= needs.get(role, 0))
