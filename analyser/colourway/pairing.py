"""Accent and body: pairs of beads one owns, ranked for a photo and a motif.

What no arithmetic should trade away comes first: a pair that no other pair beats on every mark stands before
one that is beaten. Among those that no other beats a plain sum of the four marks decides, each between 0 and 1
and named in the pair's reasons; and they are spread out, so that five suggestions are not five shades of one
idea.

The marks
---------
fit       how near both beads come to the colours they stand for;
standing  the body from what fills the photo, the accent from what is small and vivid in it (makers' habit,
          common practice, no source);
contrast  how far the motif reads, against the distance asked for (``CONTRASTS``);
stock     whether one lot of each holds enough.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Literal

import numpy as np
import numpy.typing as npt

from analyser.beads.bead import Bead
from analyser.colour import viewing
from analyser.colour.difference import delta_e_2000, nearest_2000
from analyser.colourway import wording
from analyser.colourway.measures import Measures, PairView, measure
from analyser.colourway.palette import PaletteColour

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.intp]
Wanted = Literal["soft", "clear", "bold"]
ROLES = ("accent", "body")


@dataclass(frozen=True, slots=True)
class Contrast:
    """A wish for contrast: how far accent and body should stay apart as the eye has them at arm's length.

    Attributes
    ----------
    from_de00, to_de00 : float
        The wanted difference as seen from ``SEEN_FROM_M``.
    says : str
        The wish in words.
    """

    from_de00: float
    to_de00: float
    says: str


#: A rope is looked at from arm's length: the distance at which one talks with its wearer.
SEEN_FROM_M = viewing.DISTANCES_M["at arm's length"]
#: Multiples of the difference that half the observers see (0.8, see ``viewing``), chosen on shipped motifs:
#: in chenille of 11/0, black on white comes to 33, coral on teal to 21, beige on steel blue to 10, two blues
#: that differ by 9 in the hand to 7.
CONTRASTS: Mapping[str, Contrast] = {
    "soft": Contrast(3.0, 9.0, "soft: a quiet pattern at arm's length"),
    "clear": Contrast(10.0, 24.0, "clear: a plain pattern at arm's length"),
    "bold": Contrast(18.0, np.inf, "bold: a strong pattern at arm's length"),
}
#: Below this the motif is lost at arm's length: three times what half the observers just see.
BLURS_DE00 = 2.4
#: Nearest beads of each palette colour that are tried in each role.
TRIED = 8
#: A bead farther from its palette colour than this does not stand for it any more: beyond it CIEDE2000 only
#: ranks, and the page tells what to shop for instead.
STANDS_FOR_DE00 = 16.0
#: Two suggestions differ when one of their beads differs by this much: a difference seen from across a table.
APART_DE00 = 10.0


@dataclass(frozen=True, slots=True)
class Pair:
    """An accent and a body of the stock, judged for a photo and a motif.

    Attributes
    ----------
    accent, body : Bead
        The lots proposed.
    stands_for : mapping of role to int
        Index of the palette colour each stands for.
    fit_de00 : mapping of role to float
        CIEDE2000 to that colour.
    measures : Measures
        The pair by itself.
    needs : mapping of role to int, or None
        Beads each role needs, spare included; None where no length was given.
    enough : bool or None
        Whether one lot of each holds that many by the low end of what it may hold; None where unknown.
    marks : mapping of str to float
        fit, standing, contrast, stock: each in [0, 1].
    reasons : tuple of str
        Why it is proposed, and what to mind.
    """

    accent: Bead
    body: Bead
    stands_for: Mapping[str, int]
    fit_de00: Mapping[str, float]
    measures: Measures
    needs: Mapping[str, int] | None
    enough: bool | None
    marks: Mapping[str, float]
    reasons: tuple[str, ...] = field(default=())


@dataclass(frozen=True, slots=True)
class _Candidates:
    """Beads that can stand for palette colours: parallel arrays, one entry a (bead, colour)."""

    bead: IntArray
    colour: IntArray
    fit: FloatArray


def rank(
    colours: Sequence[PaletteColour],
    beads: Sequence[Bead],
    view: PairView,
    *,
    contrast: Wanted = "clear",
    top: int = 5,
    needs: Mapping[str, int] | None = None,
    mind_colour_vision: bool = False,
) -> tuple[Pair, ...]:
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
    top : int
        Pairs wanted.
    needs : mapping of role to int, optional
        Beads that ``accent`` and ``body`` need.
    mind_colour_vision : bool
        Let the difference under colour vision deficiency count in the contrast.

    Returns
    -------
    tuple of Pair
        Best first; fewer than ``top`` where the stock gives no more.
    """
    if not colours or len(beads) < 2:
        return ()
    wish = CONTRASTS[contrast]
    found = _candidates(colours, beads)
    one, two = _combined(found, beads)
    if not len(one):
        return ()
    labs = np.array([bead.lab for bead in beads], dtype=np.float64)
    accent, body = found.bead[one], found.bead[two]
    judged = measure(labs[accent], labs[body], view)
    body_standing, accent_standing = _standings(colours)
    fit = _fit_mark(found.fit[one], found.fit[two])
    standing = 0.5 * (accent_standing[found.colour[one]] + body_standing[found.colour[two]])
    seen = judged.seen_de00[SEEN_FROM_M]
    if mind_colour_vision:
        seen = seen * np.minimum(1.0, judged.worst_cvd_de00 / np.maximum(judged.de00, 1e-9))
    reading = _contrast_mark(seen, wish)
    accent_held, body_held = (np.array([_holds(bead, needs, role) for bead in beads]) for role in ROLES)
    stock = np.minimum(accent_held[accent], body_held[body])
    marks = np.column_stack([fit, standing, reading, stock])
    two_colours = found.colour[one] != found.colour[two]
    allowed = (two_colours & (reading > 0)) | _tone_on_tone(found, one, two, beads, seen, contrast)
    order = _in_layers(np.flatnonzero(allowed), marks)
    chosen = _spread(order, accent, body, found.colour[one], found.colour[two], labs, top)
    return tuple(
        _pair(k, colours, beads, found, one, two, judged.one(k), needs, stock[k], marks[k], wish)
        for k in chosen
    )


def unbeaten(marks: FloatArray) -> IntArray:
    """Rows that no other row beats: at least as good on every mark, and better on one.

    Parameters
    ----------
    marks : float array, shape (n, m)
        More is better. Marks are compared in steps of 0.02: a smaller lead is no reason to drop a pair.

    Returns
    -------
    int array
        Indices, ascending. Of rows equal on all marks every one is kept.
    """
    steps = np.round(marks / 0.02).astype(np.int32)
    different, of_row = np.unique(steps, axis=0, return_inverse=True)
    beaten = np.zeros(len(different), dtype=bool)
    for k, row in enumerate(different):
        beaten[k] = np.any(np.all(different >= row, axis=1) & np.any(different > row, axis=1))
    return np.flatnonzero(~beaten[of_row.ravel()])


def _in_layers(left: IntArray, marks: FloatArray) -> IntArray:
    """Unbeaten pairs first, by the sum of their marks; then those unbeaten among the rest, and so on."""
    order: list[IntArray] = []
    while len(left):
        layer = left[unbeaten(marks[left])]
        order.append(layer[np.lexsort((layer, -marks[layer].sum(axis=1)))])
        left = np.setdiff1d(left, layer, assume_unique=True)
    return np.concatenate(order) if order else left


def _candidates(colours: Sequence[PaletteColour], beads: Sequence[Bead]) -> _Candidates:
    labs = np.array([bead.lab for bead in beads], dtype=np.float64)
    indices, de00 = nearest_2000(np.array([colour.lab for colour in colours]), labs, k=TRIED)
    colour = np.repeat(np.arange(len(colours)), indices.shape[1])
    near = de00.ravel() <= STANDS_FOR_DE00
    return _Candidates(indices.ravel()[near], colour[near], de00.ravel()[near])


def _combined(found: _Candidates, beads: Sequence[Bead]) -> tuple[IntArray, IntArray]:
    one, two = np.divmod(np.arange(len(found.bead) ** 2), len(found.bead))
    ids = np.unique([bead.id for bead in beads], return_inverse=True)[1]
    different = ids[found.bead[one]] != ids[found.bead[two]]
    return one[different], two[different]


def _standings(colours: Sequence[PaletteColour]) -> tuple[FloatArray, FloatArray]:
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


def _fit_mark(accent_de00: FloatArray, body_de00: FloatArray) -> FloatArray:
    """1 for two perfect beads; the worse of the two decides, the other is heard."""
    worse, better = np.maximum(accent_de00, body_de00), np.minimum(accent_de00, body_de00)
    return np.asarray(np.exp(-(0.75 * worse + 0.25 * better) / 8.0))


def _contrast_mark(seen_de00: FloatArray, wish: Contrast) -> FloatArray:
    """1 inside the wanted range; falls with the ratio outside it; 0 for pairs that blur."""
    short = np.clip(seen_de00 / wish.from_de00, 0.0, 1.0)
    beyond = np.clip(seen_de00 / wish.to_de00, 1.0, None)
    return np.where(seen_de00 >= BLURS_DE00, short**1.5 / beyond, 0.0)


def _tone_on_tone(
    found: _Candidates,
    one: IntArray,
    two: IntArray,
    beads: Sequence[Bead],
    seen_de00: FloatArray,
    contrast: str,
) -> npt.NDArray[np.bool_]:
    """Pairs of one colour told apart by their finish: a wish of ``soft`` alone."""
    if contrast != "soft":
        return np.zeros(len(one), dtype=bool)
    shiny = np.array([wording.shine(bead) for bead in beads])
    differs = np.abs(shiny[found.bead[one]] - shiny[found.bead[two]]) >= 2
    return np.asarray(differs & (seen_de00 < CONTRASTS["soft"].from_de00))


def _holds(bead: Bead, needs: Mapping[str, int] | None, role: str) -> float:
    """1 enough, 0.5 unknown, 0 too few, by the low end of what the lot may hold."""
    amount = bead.amount()
    if needs is None or amount is None:
        return 0.5
    return float(amount.low >= needs.get(role, 0))


def _spread(
    order: IntArray,
    accent: IntArray,
    body: IntArray,
    accent_for: IntArray,
    body_for: IntArray,
    labs: FloatArray,
    top: int,
) -> list[int]:
    """The first ``top`` of the order that are ideas of their own; loosened step by step if too few are."""
    chosen: list[int] = []
    for limit, same_idea in ((APART_DE00, 1), (APART_DE00 / 2, 2), (0.0, len(order))):
        for k in order:
            if len(chosen) >= top:
                return chosen
            if k in chosen:
                continue
            ideas = sum(accent_for[c] == accent_for[k] and body_for[c] == body_for[k] for c in chosen)
            shared = max(
                sum(accent_for[c] == accent_for[k] for c in chosen),
                sum(body_for[c] == body_for[k] for c in chosen),
            )
            apart = all(
                max(
                    float(delta_e_2000(labs[accent[c]], labs[accent[k]])),
                    float(delta_e_2000(labs[body[c]], labs[body[k]])),
                )
                >= limit
                for c in chosen
            )
            if apart and ideas < same_idea and shared < same_idea + 1:
                chosen.append(int(k))
    return chosen


def _pair(
    k: int,
    colours: Sequence[PaletteColour],
    beads: Sequence[Bead],
    found: _Candidates,
    one: IntArray,
    two: IntArray,
    measures: Measures,
    needs: Mapping[str, int] | None,
    held: float,
    marks: FloatArray,
    wish: Contrast,
) -> Pair:
    accent, body = beads[found.bead[one[k]]], beads[found.bead[two[k]]]
    stands_for = {"accent": int(found.colour[one[k]]), "body": int(found.colour[two[k]])}
    fit = {"accent": float(found.fit[one[k]]), "body": float(found.fit[two[k]])}
    enough = {0.0: False, 0.5: None, 1.0: True}[float(held)]
    pair = Pair(
        accent,
        body,
        stands_for,
        fit,
        measures,
        dict(needs) if needs is not None else None,
        enough,
        dict(zip(("fit", "standing", "contrast", "stock"), (float(m) for m in marks), strict=True)),
    )
    return wording.with_reasons(pair, colours, wish.says)
