"""A rope's length, thickness, bead and gauge in millimetres, from the sheet it was photographed on.

What is seen of a rope lies about its radius above the page, so nearer to the lens, and looks larger by that.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analyser.photo.sheet import Sheet
from analyser.rope.motif_steps import MotifSteps
from analyser.rope.placing import Placed
from analyser.rope.repeats import Expected
from analyser.rope.rounds import rounds_along
from analyser.rope.unrolling import Strip

GAUGE_MM = 50.0
"""The length in which rounds are counted."""

_ON_SHEET = 0.95  # share of the rope that must lie on the page
# Shares, 68 %. Measured on drawn sheets (benchmarks/sheet.py): lengths of 60 mm and more are off by 0.2 %
# in the median photo, 0.4 % with tilt and curl.
_SHEET_SHARE = 0.004
# The texture of a tube ends before its outermost beads do, by 6 % on rendered chenille; the paper beside them
# tells how far they reach, at this percentile along the rope within 4 %. Farther out lie shadows.
_OUTERMOST, _FARTHEST = 75, 1.2
# Of the correction for the height: a lens that is told may still be cropped or zoomed, one that is not is
# a guess (0.25 to 0.55 m about the usual).
_LENS_TOLD, _LENS_GUESSED = 0.2, 0.4


@dataclass(frozen=True, slots=True)
class RopeGauge:
    """Rounds in a length of rope, with a 68 % doubt in rounds."""

    rounds: float
    in_mm: float
    uncertainty: float


@dataclass(frozen=True, slots=True)
class RopeSize:
    """A rope in millimetres.

    Attributes
    ----------
    length_mm, thickness_mm, bead_mm : float
        From end to end along its middle; across; and a bead's diameter.
    gauge : RopeGauge or None
        Where the motif is known and shows.
    """

    length_mm: float
    thickness_mm: float
    bead_mm: float
    gauge: RopeGauge | None


def rope_size(placed: Placed, expected: Expected, sheet: Sheet, motif: MotifSteps | None) -> RopeSize | None:
    """Measure a rope that lies on a sheet; None where it does not."""
    strip = placed.strip
    columns = np.arange(len(strip.centreline), dtype=float)
    on_page = sheet.to_mm(strip.centreline * strip.scale)
    rope = on_page[strip.start : strip.stop]
    page = sheet.layout.page
    if ((rope >= 0) & (rope <= [page.width, page.height])).all(axis=1).mean() < _ON_SHEET:
        return None
    along = sheet.printed * np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(on_page, axis=0).T))])
    across = _across(strip, sheet)
    nearer = sheet.nearer(across / 2)
    gauge = None
    found = None if motif is None else rounds_along(placed, expected, motif)
    if found is not None:
        stretch = np.interp(found.stop, columns, along) - np.interp(found.start, columns, along)
        rise = stretch * nearer / found.rounds
        rounds = GAUGE_MM / float(rise.mean())
        shares = (
            float(rise.std() / rise.mean()) / found.windows**0.5,
            _SHEET_SHARE,
            (1 - nearer) * (_LENS_GUESSED if sheet.focal_px is None else _LENS_TOLD),
        )
        gauge = RopeGauge(rounds, GAUGE_MM, rounds * float(np.linalg.norm(shares)))
    return RopeSize(
        float((along[strip.stop - 1] - along[strip.start]) * nearer),
        across * nearer * _outermost(placed),
        across * nearer * placed.bead / (2 * strip.radius),
        gauge,
    )


def _outermost(placed: Placed) -> float:
    """How far the outermost beads reach, where a calliper closes, over the tube's own width."""
    strip = placed.strip
    rope = ~placed.table[:, strip.start : strip.stop]
    away = np.abs(np.arange(len(rope)) - strip.middle)
    reach = np.where(rope & (away < _FARTHEST * strip.radius)[:, None], away[:, None], 0)
    sides = reach[: strip.middle].max(axis=0), reach[strip.middle :].max(axis=0)
    outermost = sum(float(np.percentile(side, _OUTERMOST)) for side in sides) / (2 * strip.radius)
    return float(np.clip(outermost, 1.0, _FARTHEST))


def _across(strip: Strip, sheet: Sheet) -> float:
    """The tube's width as it seems on the page, mm: the median along the rope."""
    at = np.linspace(strip.start, strip.stop - 1, 25)
    sides = [
        sheet.to_mm(strip.pixel(at, np.full(len(at), strip.middle + side * strip.radius))) for side in (-1, 1)
    ]
    return sheet.printed * float(np.median(np.hypot(*(sides[1] - sides[0]).T)))
