"""What stays: pairs with a bead, or for a colour, that the maker has already chosen."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from analyser.arrays import Lab
from analyser.colour.names import everyday_name
from analyser.colourway import design, pairing
from analyser.colourway.companions import companions, thread_says
from analyser.colourway.design import Colourway, Wishes
from analyser.colourway.palette import Palette, PaletteColour
from analyser.colourway.worn_on import worn_on
from analyser.stock.bead import Bead
from analyser.stock.list.stock_list import Stock

#: A colour this near to one of the palette is that one, not another beside it (a rounding, not a threshold).
_SELF_LAB = 0.05
#: How remarks begin that speak of all pairs of the stock, not of those with what stays.
_OF_ALL_PAIRS = ("the stock gives", "no two")


def with_colour(
    palette: Palette,
    lab: Lab,
    uncertainty_de00: float,
    pixel: tuple[int, int] | None = None,
) -> tuple[Palette, int]:
    """The palette with a colour of the maker's own added, without share; and where it stands.

    Parameters
    ----------
    palette : Palette
    lab : tuple of 3 float
        Lab (D65). A colour of the palette is found again and not added twice.
    uncertainty_de00 : float
        How well it is known.
    pixel : tuple of 2 int, optional
        Where it was seen; the middle of the photo if left out.
    """
    for index, colour in enumerate(palette.colours):
        if max(abs(a - b) for a, b in zip(colour.lab, lab, strict=True)) < _SELF_LAB:
            return palette, index
    place = pixel or (palette.photo.width // 2, palette.photo.height // 2)
    own = PaletteColour(lab, 0.0, 0.0, uncertainty_de00, everyday_name(np.asarray(lab)), place)
    return replace(palette, colours=(*palette.colours, own)), len(palette.colours)


def design_beside(
    palette: Palette,
    stock: Stock,
    wishes: Wishes,
    *,
    bead: Bead | None = None,
    colour: int | None = None,
) -> Colourway:
    """Design as ``designing.design``, keeping only pairs that hold what stays.

    Parameters
    ----------
    palette, stock, wishes
        As for ``designing.design``.
    bead : Bead, optional
        Stays as accent or body; has a colour.
    colour : int, optional
        A colour of the palette that accent or body must stand for.

    Raises
    ------
    StockError, OptionError
        As ``designing.design``.
    """
    place = colour
    if bead is not None and bead.lab is not None:
        palette, place = with_colour(palette, bead.lab, bead.uncertainty_de00 or 0.0)
    # No pairs asked of it: they are ranked once, below.
    result = design.design(palette, stock, replace(wishes, top=0, collection=None))
    beads = design.usable(stock, wishes)
    ranking = pairing.rank(
        palette.colours,
        beads,
        result.view,
        contrast=wishes.contrast,
        needs=None if result.count is None else result.count.with_spare,
        mind_colour_vision=wishes.mind_colour_vision,
    )
    of_accent, of_body = ranking.accent_for == place, ranking.body_for == place
    if bead is not None:
        mine = np.array([one.id == bead.id for one in beads], dtype=bool)
        of_accent = of_accent & mine[ranking.accent] if len(mine) else of_accent
        of_body = of_body & mine[ranking.body] if len(mine) else of_body
    stays = of_accent | of_body
    pairs = replace(ranking, order=ranking.order[stays[ranking.order]]).best(wishes.top)
    large = tuple(one for one in stock.coloured if design.wide_enough(one, wishes))
    ground, thread = wishes.worn_on_lab, wishes.thread_lab
    what = f"“{bead.name}”" if bead is not None else f"the {palette.colours[place or 0].name}"
    notes = [f"only pairs with {what}, which stays"]
    if not pairs:
        notes.append(f"no bead of the stock stands for a colour of this photo and stays apart from {what}")
    return replace(
        result,
        pairs=pairs,
        company=tuple(companions(pair, palette.colours, beads, large) for pair in pairs),
        worn=() if ground is None else tuple(worn_on(pair.measures, ground) for pair in pairs),
        threads=()
        if thread is None
        else tuple(thread_says(thread, pair.measures.body_lab, (pair.accent, pair.body)) for pair in pairs),
        notes=(
            *notes,
            *(note for note in result.notes if not note.startswith(_OF_ALL_PAIRS)),
        ),
    )
