"""Thin lines from places in a photo to rows of labels along its upper and lower edge, none crossing."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations


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
    """

    x: float
    y: float
    column: float
    at_top: bool


def leaders(places: Sequence[tuple[float, float]], aspect: float) -> list[Leader]:
    """A leader for each place, half of them (the odd one too) to the upper edge, the rest to the lower.

    Parameters
    ----------
    places : sequence of (x, y)
        In percent of the photo's width and height.
    aspect : float
        The photo's width by its height.

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
        Leader(*place, *ends[end][:1], ends[end][1] == 0.0)
        for place, end in zip(places, uncrossed(places, ends, aspect), strict=True)
    ]


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
