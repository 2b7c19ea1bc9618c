"""What stays: pairs with a bead, or for a colour, that the maker has already chosen."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from analyser.arrays import Lab
from analyser.colour.names import everyday_name
from analyser.colourway import design
from analyser.colourway.design import Colourway, Staying, Wishes
from analyser.colourway.palette import Palette, PaletteColour
from analyser.stock.bead import Bead
from analyser.stock.stock import Stock

#: A colour this near to one of the palette is that one, not another beside it (a rounding, not a threshold).
_SELF_LAB = 0.05


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
    """Design as ``design.design``, keeping only pairs that hold what stays.

    Parameters
    ----------
    palette, stock, wishes
        As for ``design.design``.
    bead : Bead, optional
        Stays as accent or body; has a colour.
    colour : int, optional
        A colour of the palette that accent or body must stand for.

    Raises
    ------
    StockError, OptionError
        As ``design.design``.
    """
    if bead is not None and bead.lab is not None:
        palette, colour = with_colour(palette, bead.lab, bead.uncertainty_de00 or 0.0)
    return design.design(palette, stock, wishes, stays=Staying(bead, colour))
