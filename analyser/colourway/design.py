"""The design job: a palette and a stock become matches, counts and pairs, in one call."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from analyser.arrays import Lab
from analyser.colourway import collection, matching, pairing, remarks
from analyser.colourway.companions import Companions, ThreadShows, companions, thread_on
from analyser.colourway.further import LetterSets
from analyser.colourway.matching import Matching
from analyser.colourway.measures import PairView, view_of
from analyser.colourway.mixing import Mix, best_mix
from analyser.colourway.pairing import Pair, Ranking, Wanted
from analyser.colourway.palette import Palette
from analyser.colourway.remarks import Remark
from analyser.colourway.worn_on import Worn, worn_on
from analyser.motif.motif import Motif
from analyser.piece import counting
from analyser.piece.counting import BeadCount
from analyser.piece.gauge import Gauge
from analyser.piece.lengths import end_bead_mm
from analyser.stock.bead import Bead
from analyser.stock.kinds import kind_of
from analyser.stock.lots import largest
from analyser.stock.stock import Stock

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
    threads : tuple of ThreadShows
        What the thread does to each pair; empty where its colour was not said.
    mixes : mapping of int to Mix
        For colours of the palette that no bead is near to: two beads that read as it together.
    view : PairView
        The motif at its bead size, as the eye has it.
    count : BeadCount or None
        What a piece of the wanted length takes.
    remarks : tuple of Remark
        What the pairs were chosen by, and what stood in the way.
    """

    palette: Palette
    matching: Matching
    pairs: tuple[Pair, ...]
    company: tuple[Companions, ...]
    worn: tuple[Worn, ...]
    threads: tuple[ThreadShows, ...]
    mixes: Mapping[int, Mix]
    view: PairView
    count: BeadCount | None
    remarks: tuple[Remark, ...]


@dataclass(frozen=True, slots=True)
class Staying:
    """What the maker has already chosen: a bead, or a colour of the palette, by its index there."""

    bead: Bead | None = None
    colour: int | None = None

    def within(self, ranking: Ranking) -> Ranking:
        """The ranking without the pairs that do not hold it."""
        return ranking.holding(None if self.bead is None else self.bead.id, self.colour)


def matched_to(palette: Palette, stock: Stock, wishes: Wishes) -> Matching:
    """The nearest beads of each colour of the palette: of the wished size, shape and finish.

    Raises
    ------
    StockError
        If no bead of the stock has a colour.
    """
    return matching.nearest(
        [colour.lab for colour in palette.colours],
        stock,
        top=SHOWN_MATCHES,
        size=wishes.size,
        shape=None if wishes.size.endswith("mm") else wishes.shape,
        finish=wishes.finish,
        uncertainty_de00=[colour.uncertainty_de00 for colour in palette.colours],
        shared_de00=palette.calibration.light_uncertainty_de00,
        names=[colour.name for colour in palette.colours],
    )


def design(
    palette: Palette,
    stock: Stock,
    wishes: Wishes,
    *,
    stays: Staying | None = None,
    matched: Matching | None = None,
) -> Colourway:
    """Match a palette to the stock and rank the pairs it makes.

    Parameters
    ----------
    palette : Palette
    stock : Stock
    wishes : Wishes
    stays : Staying, optional
        Only pairs that hold it are proposed.
    matched : Matching, optional
        What ``matched_to`` gives, where it is known from before.

    Raises
    ------
    StockError
        If no bead of the stock has a colour.
    OptionError
        If the bead size is not known, or the length is no piece.
    """
    matched = matched_to(palette, stock, wishes) if matched is None else matched
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
        chances=[matches.chance_of for matches in matched.colours],
    )
    if stays is not None:
        ranking = stays.within(ranking)
    together = None if wishes.collection is None else collection.choose(ranking, wishes.collection)
    pairs = ranking.best(wishes.top) if together is None else together.pairs
    large = tuple(bead for bead in stock.owned if wide_enough(bead, wishes))
    settled = wishes.stands_for or {}
    end = palette.colours[settled["end"]].lab if "end" in settled else None
    thirds = LetterSets(("third",), palette.colours, beads)
    ground, thread = wishes.worn_on_lab, wishes.thread_lab
    return Colourway(
        palette,
        matched,
        pairs,
        tuple(companions(pair, palette.colours, beads, large, end_lab=end, thirds=thirds) for pair in pairs),
        () if ground is None else tuple(worn_on(pair.measures, ground) for pair in pairs),
        ()
        if thread is None
        else tuple(thread_on(thread, p.measures.body_lab, tuple(p.beads.values())) for p in pairs),
        _mixes(matched, beads, view),
        view,
        made,
        (*_chosen_by(palette, together, stays, bool(pairs)), *_remarks(pairs, beads, wishes, made, stays)),
    )


def _chosen_by(
    palette: Palette, together: collection.Collection | None, stays: Staying | None, found: bool
) -> tuple[Remark, ...]:
    """What narrowed the choice of pairs: a collection, a bead or colour that stays."""
    narrowed: list[Remark] = [] if together is None else [together]
    if stays is not None and stays.bead is not None:
        narrowed.append(remarks.Stays(stays.bead.name, True, found))
    elif stays is not None and stays.colour is not None:
        narrowed.append(remarks.Stays(palette.colours[stays.colour].name, False, found))
    return tuple(narrowed)


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
        # A mix is worth stringing only where what it gains is more than what is doubtful.
        nearest = min(match.de00 for match in matches.beads)
        if mix is not None and nearest - mix.de00 > matches.uncertainty_de00:
            found[index] = mix
    return found


def usable(stock: Stock, wishes: Wishes) -> tuple[Bead, ...]:
    """The beads that may become accent or body: of the wanted kind, coloured, the largest lot of each.

    What is used up is not offered.
    """
    lots: dict[str, list[Bead]] = {}
    for bead in stock.owned:
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


def _remarks(
    pairs: Sequence[Pair],
    beads: Sequence[Bead],
    wishes: Wishes,
    made: BeadCount | None,
    stays: Staying | None,
) -> tuple[Remark, ...]:
    kind = f"{wishes.size}{_shape(wishes)}"
    found: list[Remark] = [remarks.PairsFor(wishes.motif.title, kind, wishes.contrast)]
    if wishes.stands_for is None:
        found.append(remarks.RolesByShare())
    if not beads:
        found.append(remarks.NoBeads(kind))
    elif stays is None and not pairs:
        found.append(remarks.NoPairs())
    elif stays is None and wishes.collection is None and len(pairs) < wishes.top:
        found.append(remarks.FewerPairs(len(pairs), wishes.top))
    if made is None:
        found.append(remarks.NotCounted())
    return tuple(found)


def _shape(wishes: Wishes) -> str:
    return "" if wishes.size.endswith("mm") else f" {wishes.shape}"
