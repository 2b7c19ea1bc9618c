"""Grey and white cards: where one lies, what it measures, and which of the two it is.

Everything is measured in linear light. A reflectance of 1.0 is a perfect white diffuser.

Sources
-------
[1] Common practice, no source: photographic grey cards reflect 18 %, white ones about 90 %.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from analyser.arrays import FloatArray
from analyser.colour.spaces import relative_luminance
from analyser.errors import CalibrationError, OptionError
from analyser.imaging.regions import polygon_mask
from analyser.photo.box import Box
from analyser.photo.illumination import IlluminationField
from analyser.photo.reading import Photo

CardKind = Literal["white", "grey"]
REFLECTANCE: dict[CardKind, float] = {"white": 0.90, "grey": 0.18}  # [1]
_BETWEEN = (REFLECTANCE["white"] * REFLECTANCE["grey"]) ** 0.5  # as far from white as from grey, in logs

_SAME_CARD = 0.15  # log distance from the middle of the box that still counts as the card


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
        if what == "white":
            return cls(box, "white")
        if what == "grey":
            return cls(box, "grey")
        try:
            reflectance = float(what)
        except ValueError:
            reflectance = -1.0
        if not 0 < reflectance <= 1:
            raise OptionError(
                f"after the card's box comes :white, :grey or a reflectance above 0, at most 1; got {what!r}"
            )
        return cls(box, "white" if reflectance > 0.4 else "grey", reflectance)

    def __str__(self) -> str:
        """The card as one types it."""
        what = self.kind if self.reflectance is None else f"{self.reflectance:g}"
        return f"{self.box}:{what}" if what else str(self.box)


@dataclass(frozen=True, slots=True, eq=False)
class SeenCard:
    """A card in a photo, measured.

    Attributes
    ----------
    kind : "white" or "grey"
    reflectance : float
    linear : ndarray, shape (3,)
        Its mean linear light where it lies.
    scatter : float
        Standard deviation of its pixels' luminance over their mean.
    corners : ndarray, shape (4, 2)
        In pixels of ``photo.linear``.
    clipped : float
        Share of its pixels at the top of the file's range.
    notes : tuple of str
    either : bool
        It might as well be the other of the two kinds.
    """

    kind: CardKind
    reflectance: float
    linear: FloatArray
    scatter: float
    corners: FloatArray
    clipped: float
    notes: tuple[str, ...] = ()
    either: bool = False

    def light(self, field: IlluminationField | None, width: int, height: int) -> FloatArray:
        """Its mean light, shape (3,), brought to the anchor of a field over a frame of that size."""
        if field is None:
            return self.linear
        return self.linear / field.at_points(self.corners.mean(axis=0) / [width, height])


def card_in_box(photo: Photo, card: Card) -> SeenCard:
    """Measure the card that the maker points out; the box may also hold its rim.

    Raises
    ------
    CalibrationError
        If the box is burnt out, black or holds no even surface.
    OptionError
        If the box lies outside the photo.
    """
    x, y, w, h = (value / photo.scale for value in card.box.in_pixels(photo.width, photo.height))
    rows, columns = photo.linear.shape[:2]
    top, left = min(int(y), rows - 1), min(int(x), columns - 1)
    window = np.s_[top : max(top + 1, round(y + h)), left : max(left + 1, round(x + w))]
    light = photo.linear[window].reshape(-1, 3)
    middle = np.median(light, axis=0)
    if middle.min() < 1e-3:
        raise CalibrationError(
            f"{photo.file}: the card's box is black in a channel; frame the lit card itself"
        )
    off = np.abs(np.log(np.maximum(light, 1e-4) / middle)).max(axis=1)
    card_pixels = off < _SAME_CARD
    if card_pixels.mean() < 0.5:
        raise CalibrationError(f"{photo.file}: the card's box holds no even surface; frame only the card")
    clipped = float(photo.clipped[window].mean())
    if clipped > 0.5:
        raise CalibrationError(f"{photo.file}: the card is overexposed; photograph it a little darker")
    notes = []
    if card_pixels.mean() < 0.9:
        notes.append("the card's box holds more than the card; only its even part was used")
    if clipped > 0.02:
        notes.append(f"{clipped:.0%} of the card is overexposed, so colours come out too light")
    seen = light[card_pixels].mean(axis=0, dtype=np.float64)
    kind, doubt = (card.kind, ()) if card.kind else _white_or_grey(photo, seen)
    corners = np.array([[x, y], [x + w, y], [x + w, y + h], [x, y + h]])
    scatter = float(relative_luminance(light[card_pixels]).std() / relative_luminance(seen))
    return SeenCard(
        kind,
        card.reflectance or REFLECTANCE[kind],
        seen,
        scatter,
        corners,
        clipped,
        (*notes, *doubt),
        bool(doubt),
    )


def measure_card(photo: Photo, corners: FloatArray, kind: CardKind) -> SeenCard:
    """The inner part of a card at the photo's own size."""
    inside = polygon_mask(corners, photo.linear.shape, 0.8)
    light = photo.linear[inside]
    seen = light.mean(axis=0, dtype=np.float64)
    scatter = float(relative_luminance(light).std() / relative_luminance(seen))
    clipped = float(photo.clipped[inside].mean())
    return SeenCard(kind, REFLECTANCE[kind], seen, scatter, corners, clipped)


def _white_or_grey(photo: Photo, seen: FloatArray) -> tuple[CardKind, tuple[str, ...]]:
    """Which card it is, by its brightness in the file and beside the brightest large things in the photo.

    An exposure that suits the scene leaves a white card near 0.9 and a grey one near 0.18; where the photo
    is dark or light, the brightest things are so too. The file's own level counts half as much again.
    """
    brightest = float(np.percentile(photo.linear[::4, ::4].max(axis=2), 98))
    own = float(np.log(seen.max() / _BETWEEN))
    beside = float(np.log(seen.max() / max(brightest, 1e-3) / (_BETWEEN / REFLECTANCE["white"])))
    vote = 1.5 * own + beside
    kind: CardKind = "white" if vote > 0 else "grey"
    if abs(vote) > 0.8:
        return kind, ()
    other = "grey" if kind == "white" else "white"
    return kind, (f"the card was taken for a {kind} one; if it is {other}, say so with --card BOX:{other}",)
