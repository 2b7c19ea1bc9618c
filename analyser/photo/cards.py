"""Grey and white cards: where one lies, what it measures, and which of the two it is.

Everything is measured in linear light. A reflectance of 1.0 is a perfect white diffuser.

Sources
-------
[1] Common practice, no source: photographic grey cards reflect 18 %, white ones about 90 %.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from analyser.errors import CalibrationError, OptionError
from analyser.photo.box import Box

CardKind = Literal["white", "grey"]
REFLECTANCE: dict[CardKind, float] = {"white": 0.90, "grey": 0.18}  # [1]


@dataclass(frozen=True, slots=True)
class Card:
    """A card as the maker points it out.

    Attributes
    ----------
    box : Box
        Where it lies; the middle of the card is enough.
    kind : "white", "grey" or None
        None: told by how bright it is.
    reflectance : float or None
        In (0, 1]; None: 0.90 for white, 0.18 for grey.
    """

    box: Box
    kind: CardKind | None = None
    reflectance: float | None = None

    @classmethod
    def parse(cls, text: str) -> Card:
        """Read ``BOX``, ``BOX:white``, ``BOX:grey`` or ``BOX:REFLECTANCE``.

        Raises
        ------
        OptionError
            If the box or what follows the colon cannot be read.

        Examples
        --------
        >>> Card.parse("100,50,80,60:grey").kind
        'grey'
        >>> Card.parse("10%,10%,5%,5%:0.88").reflectance
        0.88
        """
        place, _, what = text.partition(":")
        box = Box.parse(place)
        what = what.strip().lower()
        if what == "":
            return cls(box)
        if what == "white" or what == "grey":
            return cls(box, what)
        try:
            reflectance = float(what)
        except ValueError:
            reflectance = -1.0
        if not 0 < reflectance <= 1:
            raise OptionError(
                f"after the card's box comes :white, :grey or a reflectance above 0, at most 1; got {what!r}"
            )
        return cls(box, "white" if reflectance > 0.4 else "grey", reflectance)
