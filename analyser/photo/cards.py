"""Grey and white cards: where one lies, what it measures, and which of the two it is.

Everything is measured in linear light. A reflectance of 1.0 is a perfect white diffuser.

Sources
-------
[1] Common practice, no source: photographic grey cards reflect 18 %, white ones about 90 %.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import cv2
import numpy as np
import numpy.typing as npt

from analyser.arrays import FloatArray
from analyser.colour.spaces import relative_luminance
from analyser.errors import CalibrationError, OptionError
from analyser.imaging.downscale import SMALLEST_PX, Picture, downscale
from analyser.imaging.gradients import cube_roots, largest_step
from analyser.imaging.regions import connected_regions, polygon_mask
from analyser.photo.box import Box
from analyser.photo.illumination import IlluminationField
from analyser.photo.reading import Photo

CardKind = Literal["white", "grey"]
REFLECTANCE: dict[CardKind, float] = {"white": 0.90, "grey": 0.18}  # [1]
_FIVE = REFLECTANCE["white"] / REFLECTANCE["grey"]
_BETWEEN = (REFLECTANCE["white"] * REFLECTANCE["grey"]) ** 0.5  # as far from white as from grey, in logs

_SEARCHED_PX = 900  # longest side of the copy searched; a card of 20 mm is then wide enough on any table
_FLAT = (0.004, 0.0075, 0.015)  # cube-root steps per pixel below which a place counts as even
_SMALLEST, _LARGEST = 0.002, 0.2  # of the frame
_EVEN = 0.02  # scatter of a card in cube roots; cloth and paper prints have more
_APART = 0.1  # log step in some channel from a card to what it lies on
_SAME_CARD = 0.15  # log distance from the middle of the box that still counts as the card
_BURNT_OUT = 0.1  # share of a surface at the file's top from which it measures nothing
_PAIR_TINT = 0.08  # log, how far the ratio of two cards may differ between channels
_PAIR_RATIO = 0.5  # log, how far it may be from five: camera curves stretch it by up to half
_SIDE_BY_SIDE = 0.65  # share of what lies round a card that is one surface; two may lie together
_ALONE_COVERS = 0.01  # of the frame, at least, for a single card; tags and scraps are smaller
_ALONE = 0.9  # share of what lies round a single card that is


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


def find_cards(photo: Photo, field: IlluminationField | None) -> tuple[SeenCard, ...]:
    """Cards that are unmistakable: even four-sided surfaces that lie apart on one background.

    Either two of the same tint of which one reflects five times the other, or a single one that is
    neutral, or as bright as anything in all three channels.
    """
    if min(photo.linear.shape[:2]) < SMALLEST_PX:
        return ()
    small = downscale(photo.linear, _SEARCHED_PX)
    to_full = np.divide(photo.linear.shape[1::-1], small.shape[1::-1])
    if field is not None:
        small = small / field.at(*small.shape[:2])
    quadrilaterals = [
        (seen, corners, around)
        for seen, corners, around in _lone_quadrilaterals(small)
        if _measured(photo, corners * to_full, "white").clipped < _BURNT_OUT
    ]
    pairs = [
        (_misfit(white[0], grey[0]), number, white[1] * to_full, grey[1] * to_full)
        for number, white in enumerate(quadrilaterals)
        for grey in quadrilaterals
        if _misfit(white[0], grey[0]) < np.inf and white[0].max() > 0.3
    ]
    if pairs:
        _, _, white_at, grey_at = min(pairs, key=lambda pair: pair[:2])
        return _measured(photo, white_at, "white"), _measured(photo, grey_at, "grey")
    top = np.percentile(small.reshape(-1, 3), 99, axis=0)
    lone = [
        (seen, corners)
        for seen, corners, around in quadrilaterals
        if around >= _ALONE
        and cv2.contourArea(corners.astype(np.float32)) > _ALONE_COVERS * small.shape[0] * small.shape[1]
        and _plausible(seen, top)
    ]
    if len(lone) != 1:
        return ()
    kind, doubt = _white_or_grey(photo, lone[0][0])
    return (_measured(photo, lone[0][1] * to_full, kind, doubt),)


def _misfit(white: FloatArray, grey: FloatArray) -> float:
    """How far two surfaces are from a white and a grey card, in logs; infinite if they cannot be."""
    ratio = np.log(white / grey / _FIVE)
    if np.ptp(ratio) > _PAIR_TINT or abs(ratio.mean()) > _PAIR_RATIO:
        return float("inf")
    return float(np.ptp(ratio) + abs(ratio.mean()))


def _measured(photo: Photo, corners: FloatArray, kind: CardKind, doubt: tuple[str, ...] = ()) -> SeenCard:
    """The inner part of a card at the photo's own size."""
    inside = polygon_mask(corners, photo.linear.shape, 0.8)
    light = photo.linear[inside]
    seen = light.mean(axis=0, dtype=np.float64)
    scatter = float(relative_luminance(light).std() / relative_luminance(seen))
    clipped = float(photo.clipped[inside].mean())
    return SeenCard(kind, REFLECTANCE[kind], seen, scatter, corners, clipped, doubt, bool(doubt))


def _lone_quadrilaterals(light: Picture) -> list[tuple[FloatArray, FloatArray, float]]:
    """Even quadrilaterals with a background round them.

    Mean linear light (3,), corners (4, 2), and the share of what lies round them that is one surface.
    """
    seen = cube_roots(light)
    step = largest_step(seen, 1.2)
    found: list[tuple[FloatArray, FloatArray, float]] = []
    for limit in _FLAT:
        # a speck of noise must not bore a hole
        even = cv2.medianBlur((step < limit).astype(np.uint8), 3) > 0
        labels, stats = connected_regions(np.asarray(even))
        for index in range(1, len(stats)):
            left, top_row, width, height, area = stats[index]
            if not _SMALLEST * step.size < area < _LARGEST * step.size:
                continue
            window = np.s_[top_row : top_row + height, left : left + width]
            corners = _quadrilateral((labels[window] == index).astype(np.uint8))
            if corners is None:
                continue
            corners = corners + np.array([left, top_row])
            if any(np.hypot(*(known.mean(axis=0) - corners.mean(axis=0))) < 8 for _, known, _ in found):
                continue
            around = _one_surface_around(light, seen, corners)
            if around > _SIDE_BY_SIDE:
                inside = polygon_mask(corners, step.shape, 0.8)
                found.append((light[inside].mean(axis=0, dtype=np.float64), corners, around))
    return found


def _quadrilateral(mask: npt.NDArray[np.uint8]) -> FloatArray | None:
    """Corners of a region that is a solid convex quadrilateral of card-like shape."""
    contours, _ = cv2.findContours(mask, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    hull = cv2.convexHull(max(contours, key=cv2.contourArea))
    corners = cv2.approxPolyDP(hull, 0.04 * cv2.arcLength(hull, True), True).reshape(-1, 2).astype(float)
    if len(corners) != 4:
        return None
    sides = np.hypot(*(corners - np.roll(corners, 1, axis=0)).T)
    if min(sides) < 12 or max(sides) > 3.5 * min(sides):
        return None
    covered = mask.sum() / max(cv2.contourArea(corners.astype(np.float32)), 1.0)
    return corners if 0.9 < covered < 1.15 else None


def _one_surface_around(light: Picture, seen: Picture, corners: FloatArray) -> float:
    """Share of the ring round it that is one surface; 0 if it is uneven or does not stand out."""
    inside = polygon_mask(corners, light.shape[:2], 0.8)
    ring = polygon_mask(corners, light.shape[:2], 1.5) & ~polygon_mask(corners, light.shape[:2], 1.2)
    if not inside.any() or ring.sum() < 50 or seen[inside].std(axis=0).max() > _EVEN:
        return 0.0
    # texture finer than a few pixels is no other surface
    around = np.log(np.maximum(np.asarray(cv2.blur(light, (5, 5)))[ring], 1e-3))
    middle = np.median(around, axis=0)
    card = np.log(np.maximum(light[inside].mean(axis=0), 1e-3))
    if np.abs(card - middle).max() < _APART:
        return 0.0
    return float((np.abs(around - middle).max(axis=1) < 0.35).mean())


def _plausible(seen: FloatArray, top: FloatArray) -> bool:
    """Whether a single even surface can be taken for a card: neutral as it stands, or the whitest thing."""
    # lamplight takes blue most and red least; wood, paper notes and tiles seldom follow that so closely
    lamplit = bool(seen[0] > seen[1] > seen[2] or seen[0] < seen[1] < seen[2])
    neutral = bool(seen.max() < (1.3 if lamplit else 1.12) * seen.min())
    whitest = bool((seen > 0.85 * top).all() and seen.max() > 0.4)
    return neutral or (whitest and lamplit)


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
