"""The photo sheet's geometry: where its marks, card frames and free places lie on the paper.

Millimetres on the printed page, x to the right, y down from its upper left corner. The drawing prints this,
the finder looks for it; nothing here draws or opens a photo.

Every mark's number tells paper size, layout, the paper's name and its own place, so that any one of them
says which sheet it is.

Sources
-------
[1] Olson (2011), AprilTag, IEEE ICRA, 3400-3407, doi:10.1109/ICRA.2011.5979561: the family 36h11,
    587 marks that differ by 11 bits or more.
[2] ISO 216: A4 is 210 x 297 mm. ANSI/ASME Y14.1: Letter is 8.5 x 11 inches.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache
from typing import Literal

import numpy as np

from analyser.arrays import FloatArray

Kind = Literal["rope", "heaps", "flat"]
Paper = Literal["a4", "letter"]

KINDS: tuple[Kind, ...] = ("rope", "heaps", "flat")
PAPERS: dict[Paper, tuple[float, float]] = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}  # [2]
NAMES = ("aster", "birch", "clover", "dahlia", "elder", "fern", "gorse", "heather", "iris")
"""What a paper may be called: as many as the family has marks for."""

PLACES = (
    "top left",
    "top middle",
    "top right",
    "upper left",
    "upper right",
    "lower left",
    "lower right",
    "bottom left",
    "bottom middle",
    "bottom right",
)
"""Where the marks lie, in the order of their numbers."""

MARK_MM = 16.0
QUIET_MM = 2.0
"""White kept round a mark: one of its eight modules, without which it is not read."""

_EDGE = 9.0  # from the paper's edge; many printers leave 6 mm blank
INSIDE_MM = _EDGE + MARK_MM + 4.0
"""From the paper's edges to what lies within the ring of marks."""

SCALE_MM = 150.0
CORNER_MM = 3.0
"""Reach of the lines that mark a place's corner."""

CHANNEL_MM = 22.0
"""Width of the rope's channel: ropes of up to 15 mm lie in it with room at both sides."""


@dataclass(frozen=True, slots=True)
class Rect:
    """An upright rectangle on the page."""

    left: float
    top: float
    width: float
    height: float

    @property
    def right(self) -> float:
        """How far right it reaches."""
        return self.left + self.width

    @property
    def bottom(self) -> float:
        """How far down it reaches."""
        return self.top + self.height

    @property
    def corners(self) -> FloatArray:
        """Clockwise from the upper left, shape (4, 2)."""
        left, top, right, bottom = self.left, self.top, self.right, self.bottom
        return np.array([[left, top], [right, top], [right, bottom], [left, bottom]])

    @property
    def centre(self) -> tuple[float, float]:
        """Its middle, x and y."""
        return self.left + self.width / 2, self.top + self.height / 2

    def grown(self, by: float) -> Rect:
        """The same with that much more on each side."""
        return Rect(self.left - by, self.top - by, self.width + 2 * by, self.height + 2 * by)


@dataclass(frozen=True, slots=True, eq=False)
class Layout:
    """One sheet.

    Attributes
    ----------
    kind, paper, name : str
    width, height : float
    marks : dict of int to Rect
        By their numbers in the family.
    frames : tuple of Rect
        For a white and for a grey card.
    free : tuple of ndarray, each (n, 2)
        Polygons in which the maker's things lie.
    places : tuple of Rect
        Of the heaps, first to last; empty on other layouts.
    channel : ndarray, shape (n, 2)
        The middle of the rope's channel, from its first end, a point a millimetre; n is 0 elsewhere.
    scale : Rect
        Of the centimetre scale.
    printed : tuple of Rect
        What else holds print: words, numbers, ticks.
    """

    kind: Kind
    paper: Paper
    name: str
    width: float
    height: float
    marks: dict[int, Rect]
    frames: tuple[Rect, Rect]
    free: tuple[FloatArray, ...]
    places: tuple[Rect, ...]
    channel: FloatArray
    scale: Rect
    printed: tuple[Rect, ...]

    @property
    def page(self) -> Rect:
        """All of the paper."""
        return Rect(0.0, 0.0, self.width, self.height)

    @property
    def inside(self) -> tuple[Rect, ...]:
        """What is printed within the free room: numbers and corners of the places."""
        corners = (Rect(x, y, 0, 0).grown(CORNER_MM + 0.8) for place in self.places for x, y in place.corners)
        return (*self.printed[1 : 1 + len(self.places)], *corners)

    @property
    def words(self) -> tuple[Rect, Rect, Rect]:
        """Where the three parts of the how-to are printed."""
        return self.printed[0], self.printed[-5], self.printed[-4]

    @property
    def head(self) -> tuple[Rect, Rect]:
        """Where title and paper's name are printed."""
        return self.printed[-3], self.printed[-2]


def first_number(kind: Kind, paper: Paper, name: str) -> int:
    """Number of a sheet's first mark; the others follow in the order of ``PLACES``."""
    number = NAMES.index(name) * len(PAPERS) + list(PAPERS).index(paper)
    return (number * len(KINDS) + KINDS.index(kind)) * len(PLACES)


def sheet_of(number: int) -> tuple[Kind, Paper, str] | None:
    """Layout, paper size and paper name that a mark tells; None for a mark of no sheet.

    Examples
    --------
    >>> sheet_of(first_number("heaps", "letter", "fern") + 3)
    ('heaps', 'letter', 'fern')
    """
    sheet, _ = divmod(number, len(PLACES))
    rest, kind = divmod(sheet, len(KINDS))
    name, paper = divmod(rest, len(PAPERS))
    if number < 0 or name >= len(NAMES):
        return None
    return KINDS[kind], list(PAPERS)[paper], NAMES[name]


@cache
def layout(kind: Kind, paper: Paper = "a4", name: str = NAMES[0]) -> Layout:
    """The sheet of that layout, paper size and paper name."""
    width, height = PAPERS[paper]
    first = first_number(kind, paper, name)
    marks = {first + place: mark for place, mark in enumerate(_marks(width, height))}
    inner = Rect(INSIDE_MM, INSIDE_MM, width - 2 * INSIDE_MM, height - 2 * INSIDE_MM)
    scale = Rect(width / 2 - SCALE_MM / 2, inner.bottom - 7.0, SCALE_MM, 6.0)
    heads = (
        Rect(_EDGE + MARK_MM + 4, _EDGE - 1, width / 2 - _EDGE - 1.5 * MARK_MM - 8, MARK_MM + 2),
        Rect(width / 2 + MARK_MM / 2 + 4, _EDGE - 1, width / 2 - _EDGE - 1.5 * MARK_MM - 8, MARK_MM + 2),
    )
    notes = tuple(Rect(head.left, height - _EDGE - MARK_MM - 1, head.width, head.height) for head in heads)
    common = (*notes, *heads, scale.grown(2.0))
    make = {"rope": _rope, "heaps": _heaps, "flat": _flat}[kind]
    frames, free, places, channel, printed = make(inner, scale)
    labels = tuple(Rect(frame.left, frame.bottom + 1.0, frame.width, 5.0) for frame in frames)
    printed = (*printed, *labels, *common)
    return Layout(kind, paper, name, width, height, marks, frames, free, places, channel, scale, printed)


_Parts = tuple[tuple[Rect, Rect], tuple[FloatArray, ...], tuple[Rect, ...], FloatArray, tuple[Rect, ...]]
_NO_CHANNEL = np.zeros((0, 2))


def _marks(width: float, height: float) -> list[Rect]:
    left, right, middle = _EDGE, width - _EDGE - MARK_MM, (width - MARK_MM) / 2
    top, bottom = _EDGE, height - _EDGE - MARK_MM
    upper, lower = top + (bottom - top) / 3, top + 2 * (bottom - top) / 3
    at = [(left, top), (middle, top), (right, top), (left, upper), (right, upper), (left, lower)]
    at += [(right, lower), (left, bottom), (middle, bottom), (right, bottom)]
    return [Rect(x, y, MARK_MM, MARK_MM) for x, y in at]


def dots(frame: Rect) -> FloatArray:
    """Middles of the four dots in a card's frame, shape (4, 2): a card that lies there hides them."""
    x, y = frame.centre
    return np.array([[x - 10.0, y - 12.0], [x + 10.0, y - 12.0], [x - 10.0, y + 12.0], [x + 10.0, y + 12.0]])


DOT_MM = 4.0
"""Their diameter."""


def _frames(left: float, top: float, width: float, height: float, gap: float = 4.0) -> tuple[Rect, Rect]:
    return Rect(left, top, width, height), Rect(left + width + gap, top, width, height)


def _rope(inner: Rect, scale: Rect) -> _Parts:
    """A channel bent once, so gently that no bead shifts: 30 cm and more on one page."""
    half = CHANNEL_MM / 2
    radius = inner.width / 2 - half - 2.0
    middle = inner.left + inner.width / 2
    bend, foot = inner.top + half + 2.0 + radius, scale.top - 10.0
    legs = np.arange(foot, bend, -1.0)
    turn = np.linspace(np.pi, 0, math.ceil(np.pi * radius))
    channel = np.concatenate(
        [
            np.column_stack([np.full(len(legs), middle - radius), legs]),
            np.column_stack([middle + radius * np.cos(turn), bend - radius * np.sin(turn)]),
            np.column_stack([np.full(len(legs), middle + radius), legs[::-1]]),
        ]
    )
    frames = _frames(middle - 43.5, bend - 8.0, 42.0, 60.0, 3.0)
    below = frames[0].bottom + 12.0
    words = Rect(frames[0].left, below, 87.0, foot - below)
    return frames, (band(channel, half - 0.6),), (), channel, (words,)


def _heaps(inner: Rect, scale: Rect) -> _Parts:
    """Four by three places."""
    across, down = inner.width / 4, 40.0
    places = tuple(
        Rect(inner.left + column * across, inner.top + row * down, across, down).grown(-2.5)
        for row in range(3)
        for column in range(4)
    )
    field = Rect(inner.left, inner.top, inner.width, 3 * down)
    top = field.bottom + 5.0
    frames = _frames(inner.left + 2.0, top, 44.0, min(60.0, scale.top - top - 10.0))
    left = frames[1].right + 6.0
    words = Rect(left, top - 1.0, inner.right - left, scale.top - top - 4.0)
    numbers = tuple(Rect(place.left, place.top, 7.0, 5.0) for place in places)
    return frames, (field.corners,), places, _NO_CHANNEL, (words, *numbers)


def _flat(inner: Rect, scale: Rect) -> _Parts:
    """All the room there is."""
    top = scale.top - 8.0 - 44.0
    frames = _frames(inner.left + 2.0, top, 44.0, 44.0)
    left = frames[1].right + 6.0
    words = Rect(left, top - 1.0, inner.right - left, 50.0)
    room = Rect(inner.left, inner.top, inner.width, top - 5.0 - inner.top)
    return frames, (room.grown(-0.6).corners,), (), _NO_CHANNEL, (words,)


def band(line: FloatArray, half: float) -> FloatArray:
    """The outline, shape (2n, 2), of what lies within ``half`` of a smooth line (n, 2), ends cut square."""
    along = np.gradient(line, axis=0)
    along /= np.hypot(*along.T)[:, None]
    across = np.column_stack([-along[:, 1], along[:, 0]])
    return np.concatenate([line + half * across, (line - half * across)[::-1]])
