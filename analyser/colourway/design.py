"""The design job: a palette and a stock become matches, counts and pairs, in one call."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from analyser.arrays import Lab
from analyser.colourway import collection, matching, pairing
from analyser.colourway.companions import Companions, companions, thread_says
from analyser.colourway.matching import Matching
from analyser.colourway.measures import PairView, view_of
from analyser.colourway.mixing import Mix, best_mix
from analyser.colourway.pairing import Pair, Wanted
from analyser.colourway.palette import Palette
from analyser.colourway.scores import CONTRASTS
from analyser.colourway.worn_on import Worn, worn_on
from analyser.motif.motif import Motif
from analyser.piece import counting
from analyser.piece.counting import BeadCount
from analyser.piece.gauge import Gauge
from analyser.piece.lengths import end_bead_mm
from analyser.stock.bead import Bead
from analyser.stock.kinds import kind_of
from analyser.stock.list.stock_list import Stock
from analyser.stock.lots import largest

#: Nearest beads shown for each colour of the palette.
SHOWN_MATCHES = 3


@dataclass(frozen=True, slots=True)
class Wishes:
    """What the maker wants the colourway for.

    Attributes
    ----------
    motif : Motif
    size : str
        Bead size of accent and body, as the stock writes it: ``"11/0"``, ``"4mm"``.
    shape : str
        ``round`` or ``cylinder``: one for both roles, because the two differ in size and weight. Sizes in mm
        take beads of any shape.
    finish : str or None
        Only beads of this finish.
    length_mm : float or None
        Finished length; without it nothing is counted.
    gauge : Gauge or None
        The maker's own.
    spare : float or None
        Share on top; the usual one if None.
    contrast : str
        ``soft``, ``clear`` or ``bold``.
    top : int
        Pairs wanted.
    mind_colour_vision : bool
        Let colour-deficient sight count in the ranking.
    worn_on_lab, thread_lab : tuple of 3 float, or None
        Lab of the cloth or skin it is worn on, and of the thread.
    collection : int or None
        So many colourways that are makeable together, instead of the ``top`` best.
    stands_for : mapping of role to int, or None
        The palette's colours that accent and body are to stand for, where a finished rope has settled that.
    """

    motif: Motif
    size: str = counting.SIZE
    shape: str = "round"
    finish: str | None = None
    length_mm: float | None = None
    gauge: Gauge | None = None
    spare: float | None = None
    contrast: Wanted = "clear"
    top: int = 5
    mind_colour_vision: bool = False
    worn_on_lab: Lab | None = None
    thread_lab: Lab | None = None
    collection: int | None = None
    stands_for: Mapping[str, int] | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Colourway:
    """The answer of the design job.

    Attributes
    ----------
    palette : Palette
    matching : Matching
        The nearest beads of each colour of the palette, in its order.
    pairs : tuple of Pair
        Best first; with a collection wanted, the collection.
    company : tuple of Companions
        What goes with each pair.
    worn : tuple of Worn
        Each pair on what it is worn on; empty where that was not said.
    threads : tuple of str
        What the thread does to each pair; empty where its colour was not said.
    mixes : mapping of int to Mix
        For colours of the palette that no bead is near to: two beads that read as it together.
    view : PairView
        The motif at its bead size, as the eye has it.
    count : BeadCount or None
        What a piece of the wanted length takes.
    notes : tuple of str
        Defaults used, and what was left out.
    """

    palette: Palette
    matching: Matching
    pairs: tuple[Pair, ...]
    company: tuple[Companions, ...]
    worn: tuple[Worn, ...]
    threads: tuple[str, ...]
    mixes: Mapping[int, Mix]
    view: PairView
    count: BeadCount | None
    notes: tuple[str, ...]


def design(palette: Palette, stock: Stock, wishes: Wishes) -> Colourway:
    """Match a palette to the stock and rank the pairs it makes.

    Raises
    ------
    StockError
        If no bead of the stock has a colour.
    OptionError
        If the bead size is not known, or the length is no piece.
    """
    labs = [colour.lab for colour in palette.colours]
    matched = matching.nearest(
        labs,
        stock,
        top=SHOWN_MATCHES,
        size=wishes.size,
        shape=None if wishes.size.endswith("mm") else wishes.shape,
        finish=wishes.finish,
        uncertainty_de00=[colour.uncertainty_de00 for colour in palette.colours],
    )
    beads = usable(stock, wishes)
    view = seen_motif(wishes)
    made = counted(wishes)
    ranking = pairing.rank(
        palette.colours,
        beads,
        view,
        contrast=wishes.contrast,
        needs=None if made is None else made.with_spare,
        mind_colour_vision=wishes.mind_colour_vision,
        stands_for=wishes.stands_for,
    )
    notes = []
    if wishes.collection is None:
        pairs = ranking.best(wishes.top)
    else:
        together = collection.choose(ranking, wishes.collection)
        pairs = together.pairs
        notes.append(together.says)
    large = tuple(bead for bead in stock.coloured if wide_enough(bead, wishes))
    settled = wishes.stands_for or {}
    end = palette.colours[settled["end"]].lab if "end" in settled else None
    ground, thread = wishes.worn_on_lab, wishes.thread_lab
    return Colourway(
        palette,
        matched,
        pairs,
        tuple(companions(pair, palette.colours, beads, large, end_lab=end) for pair in pairs),
        () if ground is None else tuple(worn_on(pair.measures, ground) for pair in pairs),
        ()
        if thread is None
        else tuple(thread_says(thread, p.measures.body_lab, (p.accent, p.body)) for p in pairs),
        _mixes(matched, beads, view),
        view,
        made,
        (*notes, *_notes(pairs, beads, wishes, made)),
    )


def _threaded(thread: Lab, pair: Pair) -> str:
    return thread_says(thread, pair.measures.body_lab, (pair.accent, pair.body))


def wide_enough(bead: Bead, wishes: Wishes) -> bool:
    """Whether a bead is large enough to close the rope's end."""
    kind = kind_of(wishes.size, wishes.shape)
    least = end_bead_mm(kind.diameter_mm, wishes.motif.opening_diameters * kind.diameter_mm)
    return (bead.diameter_mm or 0.0) >= least


def _mixes(matched: Matching, beads: Sequence[Bead], view: PairView) -> dict[int, Mix]:
    found = {}
    for index, matches in enumerate(matched.colours):
        if matches.shop_for is None or not matches.beads:
            continue
        mix = best_mix(matches.lab, beads, view.motif, view.bead_mm)
        if mix is not None:
            found[index] = mix
    return found


def usable(stock: Stock, wishes: Wishes) -> tuple[Bead, ...]:
    """The beads that may become accent or body: of the wanted kind, coloured, the largest lot of each."""
    lots: dict[str, list[Bead]] = {}
    for bead in stock.coloured:
        if bead.size != wishes.size or not _fits(bead, wishes):
            continue
        if wishes.finish and wishes.finish != bead.finish and wishes.finish not in bead.finishes:
            continue
        lots.setdefault(bead.id, []).append(bead)
    return tuple(largest(of_one) for of_one in lots.values())


def _fits(bead: Bead, wishes: Wishes) -> bool:
    return wishes.size.endswith("mm") or bead.shape == wishes.shape


def seen_motif(wishes: Wishes) -> PairView:
    """The motif as the eye has it, in beads of the wanted size."""
    kind = kind_of(wishes.size, wishes.shape)
    return view_of(wishes.motif, (kind.diameter_mm, kind.length_mm))


def counted(wishes: Wishes) -> BeadCount | None:
    """What a piece of the wanted length takes, None without a length."""
    if wishes.length_mm is None:
        return None
    kind = kind_of(wishes.size, wishes.shape)
    return counting.count(
        wishes.motif,
        length_mm=wishes.length_mm,
        size=wishes.size,
        kinds=dict.fromkeys(wishes.motif.roles, kind),
        gauge=wishes.gauge,
        spare=wishes.spare,
    )


def _notes(
    pairs: Sequence[Pair], beads: Sequence[Bead], wishes: Wishes, made: BeadCount | None
) -> tuple[str, ...]:
    notes = [
        f"pairs for {wishes.motif.title} in {wishes.size}{_shape(wishes)}, contrast "
        f"{CONTRASTS[wishes.contrast].says}",
    ]
    if wishes.stands_for is None:
        notes.append(
            "the body is sought among what fills the photo, the accent among what is small and vivid"
        )
    if not beads:
        notes.append(f"no bead of the stock is {wishes.size}{_shape(wishes)} and has a colour")
    elif not pairs:
        notes.append("no two beads of the stock stand for colours of this photo and stay apart in the motif")
    elif wishes.collection is None and len(pairs) < wishes.top:
        notes.append(f"the stock gives {len(pairs)} pairs, not {wishes.top}")
    if made is None:
        notes.append("nothing counted: give --length to know whether the stock is enough")
    else:
        notes.extend(made.notes)
    return tuple(notes)


def _shape(wishes: Wishes) -> str:
    return "" if wishes.size.endswith("mm") else f" {wishes.shape}"
