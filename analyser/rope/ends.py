"""What lies at a rope's two ends, as far as the picture tells, and so which end was worked last.

A tubular rope is woven round upon round from a base, and only from the end worked last can it be unpicked
round by round. Many ropes begin with a band of one colour right round the tube, such as the ladder of
chenille, that comes nowhere else in the pattern. Where exactly one end shows one, the other was worked last.

Much that would tell is not taken as proof, because it lies at either end of real ropes: a thread (working
thread or the tail for the clasp), a bead or clasp, and a band at both ends (base and closing). Advice to
unpick from the wrong end is worse than none: in doubt the answer is None.

Sources
-------
Common practice, no single source; the limits were chosen on rendered and drawn ropes, as noted at each.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import cv2
import numpy as np

from analyser.arrays import FloatArray
from analyser.errors import OptionError
from analyser.rope.placing import Placed
from analyser.rope.unrolling import Strip

End = Literal["first", "last"]
Side = Literal["left", "right", "top", "bottom"]

BAND_RADII = 0.6, 1.3
"""Length of a base in tube radii: two 11/0 beads standing on six columns are 0.8; seen 0.61 to 1.04."""

BAND_FILL = 0.88
"""Least share of a band in its one role: seen 0.90 and more; closings of three beads 0.5 to 0.83."""

PATTERN_RADII = 0.15
"""The pattern's own longest band in that role; 0 to 0.04 in chenille, 0.28 and more in rings."""

OTHER_END = 0.75
"""Share of the role at the other end over that in the band: 0.3 to 0.78 at a worked end or a closing of three
beads, 0.94 and more where the closing is a band too."""

LIKE_TABLE = 0.2
"""Share of the table beside the rope that may look like the role; 0 or nearly all of it on ropes tried."""


@dataclass(frozen=True, slots=True)
class RopeEnds:
    """The ends of a rope.

    Attributes
    ----------
    base : ``first``, ``last`` or None
        The end with the base; None where the picture does not surely tell.
    """

    base: End | None

    @property
    def worked(self) -> End | None:
        """The end worked last, from which the rope can be unpicked; None where that is not told."""
        return None if self.base is None else "last" if self.base == "first" else "first"


@dataclass(frozen=True, slots=True, eq=False)
class _View:
    """The strip as seen from one end: columns count inwards, all arrays along them."""

    shares: FloatArray  # (k, along): of the width, in each role
    covered: FloatArray  # (along): of the whole width, not table
    start: int
    stop: int
    edge: int | None  # where beads begin, if that agrees with ``start``
    radius: float


def ends_of(placed: Placed, frame: tuple[int, int]) -> RopeEnds:
    """Tell the base of a placed rope.

    Parameters
    ----------
    placed : Placed
    frame : (height, width)
        Of the photo's array: an end cut off by it is not seen.

    Returns
    -------
    RopeEnds
    """
    strip = placed.strip
    near = np.abs(np.arange(strip.linear.shape[0]) - strip.middle) <= 0.7 * strip.radius
    rope = ~placed.table
    shares = np.stack([((role > 0.5) & rope)[near].mean(axis=0) for role in placed.posterior])
    width = rope.shape[1]
    covered = rope[np.abs(np.arange(len(rope)) - strip.middle) <= strip.radius].mean(axis=0)
    views: dict[End, _View] = {
        "first": _view(shares, covered, strip.start, strip.stop, strip.radius),
        "last": _view(shares[:, ::-1], covered[::-1], width - strip.stop, width - strip.start, strip.radius),
    }
    bands = [(end, role) for end, view in views.items() for role in _bands(view)]
    if len(bands) != 1 or len(shares) < 2:
        return RopeEnds(None)
    ((end, role),) = bands
    aside = np.abs(np.arange(strip.linear.shape[0]) - strip.middle) > 1.3 * strip.radius
    if (placed.posterior[role, aside] > 0.5).mean() > LIKE_TABLE:
        return RopeEnds(None)  # a band in the table's colour may be there and not be seen
    other: End = "last" if end == "first" else "first"
    if not (_in_frame(strip, frame) and _tells(views[end], views[other], role)):
        return RopeEnds(None)
    return RopeEnds(end)


def end_on_side(strip: Strip, side: Side, file: str = "the photo") -> End:
    """Which end lies on a side of the photo.

    Raises
    ------
    OptionError
        If the ends lie one above the other and ``left`` or ``right`` was asked for, or the like.
    """
    apart = strip.centreline[strip.stop - 1] - strip.centreline[strip.start]
    axis = 0 if side in ("left", "right") else 1
    # A slope of 0.3: 17 degrees, beyond which nobody would call an end the left one.
    if abs(apart[axis]) < 0.3 * abs(apart[1 - axis]):
        lie, better = (("one above the other", "top or bottom"), ("side by side", "left or right"))[axis]
        raise OptionError(f"{file}: the rope's ends lie {lie}; give --worked-to {better}, not {side}")
    return "first" if (apart[axis] > 0) == (side in ("left", "top")) else "last"


def side_names(strip: Strip) -> tuple[Side, Side]:
    """What to call the first and the last end: the way they lie farther apart in the photo."""
    apart = strip.centreline[strip.stop - 1] - strip.centreline[strip.start]
    if abs(apart[0]) >= abs(apart[1]):
        return ("left", "right") if apart[0] > 0 else ("right", "left")
    return ("top", "bottom") if apart[1] > 0 else ("bottom", "top")


def _view(shares: FloatArray, covered: FloatArray, start: int, stop: int, radius: float) -> _View:
    filled = np.flatnonzero(shares.sum(axis=0) > 0.3)
    filled = filled[filled >= start - 0.6 * radius]
    edge = int(filled[0]) if len(filled) and filled[0] - start < 0.35 * radius else None
    if edge is not None and start - edge > 0.35 * radius:
        edge = None
    return _View(shares, covered, start, stop, edge, radius)


def _bands(view: _View) -> list[int]:
    """Roles of which a band lies at this end and none in the pattern."""
    found = []
    for role, share in enumerate(view.shares):
        runs = _runs(share, view.shares.sum(axis=0) - share, view.radius)
        near = 0.6 * view.radius
        inside = [b - a for a, b in runs if a > view.start + near and b < view.stop - near]
        ends = [(a, b) for a, b in runs if a <= view.start + near < b]
        if not ends or max(inside, default=0) > PATTERN_RADII * view.radius:
            continue
        a, b = ends[0]
        low, high = (limit * view.radius for limit in BAND_RADII)
        if low <= b - a <= high and share[a:b].mean() >= BAND_FILL:
            found.append(role)
    return found


def _runs(share: FloatArray, others: FloatArray, radius: float) -> list[tuple[int, int]]:
    """Stretches of columns in one role alone; the gap between two rows of beads does not part them."""
    alone = ((share >= 0.55) & (others <= 0.06)).astype(np.uint8)
    gap = max(1, round(0.25 * radius)) | 1
    closed = cv2.morphologyEx(np.pad(alone, gap)[None], cv2.MORPH_CLOSE, np.ones((1, gap)))[0][gap:-gap]
    steps = np.diff(np.concatenate([[0], closed.astype(int), [0]]))
    return list(zip(np.flatnonzero(steps == 1).tolist(), np.flatnonzero(steps == -1).tolist(), strict=True))


def _tells(base: _View, other: _View, role: int) -> bool:
    """Whether the other end is well in sight and clearly has no such band."""
    if base.edge is None or other.edge is None:
        return False
    if _wide_beyond(other):
        return False  # a cap as wide as the rope may hide a closing
    reach = round(0.8 * base.radius)
    band = base.shares[role, base.edge : base.edge + reach].mean()
    across = other.shares[role, other.edge : other.edge + reach].mean()
    return bool(across <= OTHER_END * band)


def _wide_beyond(view: _View) -> bool:
    """Whether something as wide as the rope goes on before the end; a bead of 6 mm has 0.8 of its width."""
    before = slice(max(0, round(view.start - 0.9 * view.radius)), round(view.start - 0.3 * view.radius))
    return bool(np.percentile(view.covered[before], 80) > 0.92)


def _in_frame(strip: Strip, frame: tuple[int, int]) -> bool:
    """Whether both ends lie inside the frame by a radius."""
    ends = strip.centreline[[strip.start, strip.stop - 1]]
    room = np.minimum(ends, np.array([frame[1], frame[0]]) - ends).min()
    return bool(room > strip.radius)
