"""What a photo sheet's paper tells of the light, and the cards that lie in its frames.

The page is looked at squared up, a few pixels a millimetre. Where nothing is printed there is paper, unless
something lies on it; the white round the marks surely is paper, and from there on what follows it smoothly.
All light is linear.
"""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass
from functools import cache

import cv2
import numpy as np
import numpy.typing as npt

from analyser.arrays import BoolArray, FloatArray
from analyser.colour.spaces import relative_luminance
from analyser.imaging.downscale import Picture
from analyser.photo.cards import REFLECTANCE, CardKind, SeenCard
from analyser.photo.illumination import IlluminationField, fitted_field
from analyser.photo.reading import Photo
from analyser.photo.sheet import Sheet
from analyser.photo.sheet_layout import CHANNEL_MM, DOT_MM, Layout, Rect, band, dots

_PX_PER_MM = 2
_NODES_MM = 4.0  # the map is told there and is smooth between
_RIM_MM = 3.0  # paper's edges curl and throw shadows
_RING_MM = 0.9, 2.4  # of the white round a mark, clear of blur and sharpening
_BLOCK_MM = 9.0
_PAPER_WITHIN = (0.3, 0.15, 0.08)  # log steps from the light foretold that still are paper, try by try
_TINT_WITHIN = 0.5  # of that, between channels
_FEWEST_BLOCKS = 12
_TELL_A_SLOPE = 4  # marks
_BURNT_OUT = 0.5  # share of the paper at the file's top from which it measures nothing
_DOT_SHOWS = 0.25  # log step from a dot to what lies round it; printed ones have 2, cards none
_CARD_EVEN = 0.06  # scatter of a card's luminance; shadows and things on it have more
# Luminance over the paper's, from which it is which card: 1.05 and 0.21 in a straight photo; camera curves
# move them by a third or so.
_WHITE_OVER_PAPER, _GREY_OVER_PAPER = (0.8, 1.35), (0.08, 0.45)
_CARD_TINT = 0.25  # log, how far a card's tint may be from the paper's


@dataclass(frozen=True, slots=True, eq=False)
class SheetLight:
    """The light on a sheet.

    Attributes
    ----------
    field : IlluminationField
        Its background is the paper.
    cards : tuple of SeenCard
        In the sheet's frames: white, grey or both, white first.
    notes : tuple of str
    """

    field: IlluminationField
    cards: tuple[SeenCard, ...]
    notes: tuple[str, ...] = ()

    def paper_at(self, card: SeenCard, width: int, height: int) -> FloatArray:
        """The paper's linear light (3,) at a card's place, in a frame of that size."""
        place = card.corners.mean(axis=0) / [width, height]
        return np.asarray(self.field.background_linear * self.field.at_points(place))


def sheet_light(photo: Photo, sheet: Sheet) -> SheetLight | None:
    """The light on a sheet; None where hardly any of its paper is in sight or it is overexposed."""
    page = _squared(photo, sheet)
    blank = blank_of(sheet.layout) & page.inside
    if not blank.any() or page.clipped[blank].mean() > _BURNT_OUT:
        return None
    field = _field(sheet, page, blank & ~page.clipped)
    if field is None:
        return None
    found = [_card(photo, sheet, frame, page, field) for frame in sheet.layout.frames]
    notes = tuple(says for _, says in found if says)
    cards = sorted((card for card, _ in found if card), key=lambda card: card.kind, reverse=True)
    if len(cards) == 2 and cards[0].kind == cards[1].kind:
        cards = cards[:1]
    return SheetLight(field, tuple(cards), notes)


@cache
def blank_of(layout: Layout) -> BoolArray:
    """Where nothing is printed, at two pixels a millimetre."""
    shape = round(layout.height * _PX_PER_MM), round(layout.width * _PX_PER_MM)
    blank = np.zeros(shape, np.uint8)
    _fill(blank, layout.page.grown(-_RIM_MM), 1)
    for box in (*layout.frames, *layout.printed):
        _fill(blank, box.grown(1.0), 0)
    for mark in layout.marks.values():
        _fill(blank, mark.grown(_RING_MM[0]), 0)
    if len(layout.channel):
        line = np.round(band(layout.channel, 0.5 * CHANNEL_MM + 2.0) * _PX_PER_MM).astype(np.int32)
        cv2.polylines(blank, [line], True, 0, round(9 * _PX_PER_MM))  # its ticks and numbers too
    for box in layout.places:
        for x, y in box.corners:
            _fill(blank, Rect(x, y, 0, 0).grown(4.5), 0)
    return blank > 0


def _fill(mask: npt.NDArray[np.uint8], box: Rect, value: int) -> None:
    left, top = max(0, round(box.left * _PX_PER_MM)), max(0, round(box.top * _PX_PER_MM))
    mask[top : round(box.bottom * _PX_PER_MM), left : round(box.right * _PX_PER_MM)] = value


@dataclass(frozen=True, slots=True, eq=False)
class _Page:
    """The page squared up, two pixels a millimetre.

    ``place`` (h, w, 2) is each pixel's place in the frame (fractions), ``light`` (h, w, 3) what is seen
    there, ``clipped`` (h, w) whether the file's top was reached, ``inside`` (h, w) whether the frame
    holds it; ``nodes`` (n, m, 2) are places of a coarse grid.
    """

    place: Picture
    light: Picture
    clipped: BoolArray
    inside: BoolArray
    nodes: Picture

    def spread(self, at_nodes: FloatArray) -> Picture:
        """Smooth values given at the nodes (n, m, k), over the page (h, w, k)."""
        return _spread(at_nodes, self.inside.shape)


def _spread(at_nodes: npt.NDArray[np.floating], shape: tuple[int, ...]) -> Picture:
    # the first node lies half a spacing outside, and a pixel's middle at +0.5
    step = 1 / (_PX_PER_MM * _NODES_MM)
    to_nodes = np.array([[step, 0, 0.5 + 0.5 * step], [0, step, 0.5 + 0.5 * step]])
    how = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    return np.asarray(
        cv2.warpAffine(at_nodes.astype(np.float32), to_nodes, shape[1::-1], flags=how), np.float32
    )


def _squared(photo: Photo, sheet: Sheet) -> _Page:
    page = sheet.layout.page
    x = np.arange(-_NODES_MM / 2, page.width + _NODES_MM, _NODES_MM)
    y = np.arange(-_NODES_MM / 2, page.height + _NODES_MM, _NODES_MM)
    grid = np.stack(np.meshgrid(x, y), axis=-1)
    nodes = (sheet.to_px(grid.reshape(-1, 2)) / sheet.frame_px).reshape(grid.shape).astype(np.float32)
    place = _spread(nodes, (round(page.height * _PX_PER_MM), round(page.width * _PX_PER_MM)))
    light = photo.linear
    shrink = min(1.0, _PX_PER_MM * 1.2 * sheet.mm_per_px * photo.scale)
    if shrink < 1:
        small = max(1, round(light.shape[1] * shrink)), max(1, round(light.shape[0] * shrink))
        light = np.asarray(cv2.resize(light, small, interpolation=cv2.INTER_AREA), np.float32)
    x, y = (place[..., i] * np.float32(light.shape[1 - i]) - np.float32(0.5) for i in (0, 1))
    squared = cv2.remap(light, x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    inside = np.asarray(((place > 0.002) & (place < 0.998)).all(axis=-1))
    rows, columns = photo.clipped.shape
    clipped = photo.clipped[
        np.clip(place[..., 1] * rows, 0, rows - 1).astype(int),
        np.clip(place[..., 0] * columns, 0, columns - 1).astype(int),
    ]
    return _Page(place, np.asarray(squared, np.float32), clipped, inside, nodes)


def _field(sheet: Sheet, page: _Page, blank: BoolArray) -> IlluminationField | None:
    """The field over the paper, from the white round the marks outwards."""
    logs = np.log(np.maximum(page.light, np.float32(1e-4)))
    foretold = _from_marks(sheet, page, logs, blank)
    if foretold is None:
        return None
    rows, columns = (round(side / _BLOCK_MM) for side in (sheet.layout.height, sheet.layout.width))
    height, width = blank.shape
    block = (np.arange(height)[:, None] * rows // height) * columns + np.arange(width) * columns // width
    of_page = np.bincount(block.ravel(), minlength=rows * columns)
    field: IlluminationField | None = None
    for within in _PAPER_WITHIN:
        paper = _paper(logs - foretold, blank, within)
        count = np.bincount(block[paper], minlength=rows * columns)
        kept = count > 0.15 * of_page
        if kept.sum() < _FEWEST_BLOCKS:
            return field
        place, light = (
            np.stack(
                [np.bincount(block[paper], values[..., i][paper], rows * columns) for i in range(channels)],
                axis=-1,
            )[kept]
            / count[kept, None]
            for values, channels in ((page.place, 2), (page.light, 3))
        )
        field = fitted_field(place, light, (count / of_page)[kept], sheet.share)
        field = field.anchored(*place.mean(axis=0))
        seen = np.log(field.at_points(place))
        # a tenth more than was seen: the page's rim lies a little beyond its blocks
        spare = 0.1 * np.ptp(seen, axis=0)
        field = dataclasses.replace(
            field, limits=np.stack([seen.min(axis=0) - spare, seen.max(axis=0) + spare])
        )
        foretold = page.spread(np.log(field.background_linear * field.at_points(page.nodes)))
    return field


def _paper(off: Picture, blank: BoolArray, within: float) -> BoolArray:
    """Where the light is that far, in logs, from what is foretold for paper, and of its tint."""
    level = off.mean(axis=-1)
    paper = blank & (np.abs(level) < within)
    for channel in range(3):
        paper &= np.abs(off[..., channel] - level) < _TINT_WITHIN * within
    # a thing's blurred rim is neither it nor paper
    return np.asarray(cv2.erode(paper.astype(np.uint8), np.ones((3, 3), np.uint8)) > 0)


def _from_marks(sheet: Sheet, page: _Page, logs: Picture, blank: BoolArray) -> Picture | None:
    """Logs of the paper's light over the page, from the white round the marks that were seen."""
    spots, values = [], []
    for number in sheet.seen:
        mark = sheet.layout.marks[number]
        ring = np.zeros(blank.shape, np.uint8)
        _fill(ring, mark.grown(_RING_MM[1]), 1)
        _fill(ring, mark.grown(_RING_MM[0]), 0)
        near = mark.grown(2 * _RING_MM[1])
        window = (
            slice(max(0, round(near.top * _PX_PER_MM)), round(near.bottom * _PX_PER_MM)),
            slice(max(0, round(near.left * _PX_PER_MM)), round(near.right * _PX_PER_MM)),
        )
        here = (ring[window] > 0) & blank[window]
        if here.sum() > 20:
            spots.append(page.place[window][here].mean(axis=0))
            values.append(np.median(logs[window][here], axis=0))
    if not spots:
        return None
    at, seen = np.array(spots, float), np.array(values, float)
    terms = np.ones((len(at), 3))
    terms[:, 1:] = at if len(at) >= _TELL_A_SLOPE else 0.0
    solved = np.linalg.lstsq(terms, seen, rcond=None)[0]
    return page.spread(solved[0] + page.nodes @ solved[1:])


def _card(
    photo: Photo, sheet: Sheet, frame: Rect, page: _Page, field: IlluminationField
) -> tuple[SeenCard | None, str]:
    """The card in a frame, or None; and what there is to say."""
    at = dots(frame)
    left, top = at.min(axis=0)
    inner = Rect(left, top, *np.ptp(at, axis=0))
    corners = sheet.to_px(inner.corners) / sheet.frame_px
    if (corners < 0.0).any() or (corners > 1.0).any():
        return None, ""
    hidden = _hidden(page.light, at)
    if hidden == 0:
        return None, ""
    if hidden < len(at):
        return None, "something lies on a card frame of the sheet but shows some of its dots; not used"
    window = (
        slice(round(inner.top * _PX_PER_MM), round(inner.bottom * _PX_PER_MM)),
        slice(round(inner.left * _PX_PER_MM), round(inner.right * _PX_PER_MM)),
    )
    light = page.light[window].astype(np.float64)
    even = light / field.at_points(page.place[window])
    seen = light.mean(axis=(0, 1))
    luminance = np.asarray(relative_luminance(even))
    scatter = float(luminance.std() / max(float(luminance.mean()), 1e-4))
    over_paper = np.maximum(even.mean(axis=(0, 1)) / field.background_linear, 1e-4)
    kind = _kind(float(relative_luminance(over_paper)))
    if kind is None or np.ptp(np.log(over_paper)) > _CARD_TINT or scatter > _CARD_EVEN:
        return None, "what lies on a card frame of the sheet is no even white or grey card; not used"
    clipped = float(page.clipped[window].mean())
    if clipped > _BURNT_OUT:
        return None, f"the {kind} card on the sheet is overexposed; photograph it a little darker"
    at_px = corners * photo.linear.shape[1::-1]
    return SeenCard(kind, REFLECTANCE[kind], seen, scatter, at_px, clipped), ""


def _hidden(light: Picture, at: FloatArray) -> int:
    """How many of a frame's printed dots, their middles in mm, are not to be seen."""
    dot, around = round(0.25 * DOT_MM * _PX_PER_MM), round(1.3 * DOT_MM * _PX_PER_MM)
    hidden = 0
    for column, row in np.round(at * _PX_PER_MM).astype(int):
        near = np.asarray(
            relative_luminance(light[row - around : row + around + 1, column - around :][:, : 2 * around + 1])
        )
        middle = np.median(near[around - dot : around + dot + 1, around - dot : around + dot + 1])
        beside = np.median(near[:, [0, -1]])
        hidden += bool(abs(np.log(max(float(beside), 1e-4) / max(float(middle), 1e-4))) < _DOT_SHOWS)
    return hidden


def _kind(over_paper: float) -> CardKind | None:
    if _WHITE_OVER_PAPER[0] < over_paper < _WHITE_OVER_PAPER[1]:
        return "white"
    return "grey" if _GREY_OVER_PAPER[0] < over_paper < _GREY_OVER_PAPER[1] else None
