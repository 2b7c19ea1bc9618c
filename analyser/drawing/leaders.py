"""Thin lines from places in a photo to rows of labels along its upper and lower edge, none crossing."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

#: From x and y to x and y; and x, y, width and height.
Segment = tuple[float, float, float, float]
Box = tuple[float, float, float, float]


@dataclass(frozen=True, slots=True)
class Leader:
    """A line from a place to the edge of the photo.

    Attributes
    ----------
    x, y : float
        The place, in percent of the photo's width and height.
    column : float
        Where the line meets the edge, in percent of the width.
    at_top : bool
        The edge is the upper one, else the lower.
    pieces : tuple of (float, float, float, float)
        What is drawn of it, from x and y to x and y in percent: all but what would lie on a name.
    """

    x: float
    y: float
    column: float
    at_top: bool
    pieces: tuple[Segment, ...]


def leaders(places: Sequence[tuple[float, float]], aspect: float, names: Sequence[Box] = ()) -> list[Leader]:
    """A leader for each place, half of them (the odd one too) to the upper edge, the rest to the lower.

    Parameters
    ----------
    places : sequence of (x, y)
        In percent of the photo's width and height.
    aspect : float
        The photo's width by its height.
    names : sequence of (x, y, width, height)
        Where names stand in the photo, in percent: no line is drawn over them.

    Examples
    --------
    >>> [leader.at_top for leader in leaders([(50.0, 90.0), (50.0, 10.0)], 1.5)]
    [False, True]
    """
    above = (len(places) + 1) // 2
    below = len(places) - above
    ends = [(100.0 * (k + 0.5) / above, 0.0) for k in range(above)]
    ends += [(100.0 * (k + 0.5) / below, 100.0) for k in range(below)]
    return [
        Leader(*place, ends[end][0], ends[end][1] == 0.0, outside((*place, *ends[end]), names))
        for place, end in zip(places, uncrossed(places, ends, aspect), strict=True)
    ]


def outside(line: Segment, boxes: Sequence[Box]) -> tuple[Segment, ...]:
    """The parts of a line that lie in none of the boxes, in order.

    Examples
    --------
    >>> outside((0.0, 5.0, 10.0, 5.0), [(2.0, 0.0, 3.0, 9.0)])
    ((0.0, 5.0, 2.0, 5.0), (5.0, 5.0, 10.0, 5.0))
    """
    x, y, dx, dy = line[0], line[1], line[2] - line[0], line[3] - line[1]
    hidden = []
    for left, top, width, height in boxes:
        enters, leaves = 0.0, 1.0
        for start, step, low, high in ((x, dx, left, left + width), (y, dy, top, top + height)):
            if step:
                first, last = sorted(((low - start) / step, (high - start) / step))
                enters, leaves = max(enters, first), min(leaves, last)
            elif not low <= start <= high:
                leaves = -1.0
        if enters < leaves:
            hidden.append((enters, leaves))
    parts, at = [], 0.0
    for enters, leaves in (*sorted(hidden), (1.0, 1.0)):
        if enters > at:
            parts.append((x + at * dx, y + at * dy, x + enters * dx, y + enters * dy))
        at = max(at, leaves)
    return tuple(parts)


def uncrossed(
    places: Sequence[tuple[float, float]], ends: Sequence[tuple[float, float]], aspect: float
) -> list[int]:
    """End of each place such that no two lines cross.

    Two crossing lines become shorter together when their ends are swapped (the triangle inequality), so
    swapping whatever shortens ends with none crossing.
    """

    def length(place: int, end: int) -> float:
        return math.hypot(aspect * (places[place][0] - ends[end][0]), places[place][1] - ends[end][1])

    order = list(range(len(places)))
    shorter = True
    while shorter:
        shorter = False
        for one, other in combinations(range(len(places)), 2):
            now = length(one, order[one]) + length(other, order[other])
            if length(one, order[other]) + length(other, order[one]) < now - 1e-9:
                order[one], order[other] = order[other], order[one]
                shorter = True
    return order
