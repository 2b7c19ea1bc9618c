"""A colourway that starts from a finished rope: its accent, body and ends become the colours to match.

For another of the same, a repair, or earrings to go with it. The same bead looks different woven and piled,
by 1 to 5 CIEDE2000, so a match here says which beads are likely, not which were used.
"""

from __future__ import annotations

import math
from collections.abc import Mapping

import numpy as np
import numpy.typing as npt

from analyser.colour.difference import delta_e_2000
from analyser.colour.names import everyday_name
from analyser.colour.spaces import linear_to_lab
from analyser.colourway.palette import Palette, PaletteColour
from analyser.errors import PhotoError
from analyser.photo.calibration import Calibration
from analyser.photo.reading import Photo
from analyser.rope.colours import labels, role_looks
from analyser.rope.locating import locate
from analyser.rope.placing import Placed, place
from analyser.rope.unrolling import unroll

#: Woven against piled: the spread that opaque beads showed between the two looks (1.4 to 4.7 CIEDE2000).
WOVEN_DE00 = 3.0
#: An end bead fills the rope's width just beyond its end; so far from there it is looked at, in rope radii.
_END_FROM, _END_TO, _END_ACROSS = 0.2, 1.0, 0.5
#: Share of table that an end bead's middle may show: thread and shadow show half or more of it.
_END_TABLE = 0.1


def rope_palette(photo: Photo, calibration: Calibration) -> tuple[Palette, Mapping[str, int]]:
    """The colours of a finished rope's roles.

    Parameters
    ----------
    photo : Photo
        Corrected by ``calibration``.
    calibration : Calibration

    Returns
    -------
    Palette
        One colour a role, with its share of the visible beads.
    mapping of role to int
        Where ``accent``, ``body`` and, if there, ``third`` and ``end`` stand in it.

    Raises
    ------
    PhotoError
        If there is no rope, or it is too small, out of focus or too dark to read, or of one colour.
    """
    placed = place(unroll(photo, locate(photo)), photo.file)
    owner = labels(placed)
    found = [(look.name, placed.strip.linear[owner == look.index]) for look in role_looks(placed)]
    found += [("end", pixels) for pixels in [_end(placed)] if pixels is not None]
    counted = sum(len(pixels) for _, pixels in found)
    colours: list[PaletteColour] = []
    roles: dict[str, int] = {}
    for role, pixels in found:
        if not len(pixels):
            continue
        roles[role] = len(colours)
        colours.append(_colour(pixels, len(pixels) / counted, calibration, _place(placed, owner, role)))
    if not {"accent", "body"} <= roles.keys():
        raise PhotoError(f"{photo.file}: the rope shows one colour only; a pair needs an accent and a body")
    notes = (
        "colours of a woven rope: the same bead piled differs by 1 to 5, a near match is likely, not certain",
    )
    return Palette(photo, calibration, tuple(colours), None, notes), roles


def _colour(
    pixels: npt.NDArray[np.float32], share: float, calibration: Calibration, pixel: tuple[int, int]
) -> PaletteColour:
    lightness, a, b = (float(v) for v in linear_to_lab(pixels.mean(axis=0, dtype=np.float64)))
    lab = (lightness, a, b)
    spread = float(delta_e_2000(linear_to_lab(pixels[:: max(1, len(pixels) // 4000)]), lab).mean())
    sure = math.hypot(float(calibration.uncertainty_of(np.array(lab))), WOVEN_DE00)
    return PaletteColour(lab, share, spread, sure, everyday_name(np.array(lab)), pixel)


def _place(placed: Placed, owner: npt.NDArray[np.int8], role: str) -> tuple[int, int]:
    """A place in the full-size photo where a role is seen; the rope's end for its end bead."""
    names = {look.name: look.index for look in role_looks(placed)}
    if role in names:
        rows, columns = np.nonzero(owner == names[role])
        nearest = int(np.argmin(np.hypot(rows - placed.strip.middle, columns - owner.shape[1] / 2)))
        row, column = float(rows[nearest]), float(columns[nearest])
    else:
        row, column = float(placed.strip.middle), float(placed.strip.stop)
    x, y = placed.strip.pixel(column, row)
    return int(x), int(y)


def _end(placed: Placed) -> npt.NDArray[np.float32] | None:
    """Pixels of an end bead beyond either end of the rope, None where there is none."""
    strip = placed.strip
    rows = slice(
        int(strip.middle - _END_ACROSS * strip.radius), int(strip.middle + _END_ACROSS * strip.radius)
    )
    near, far = int(_END_FROM * strip.radius), int(_END_TO * strip.radius)
    best: npt.NDArray[np.float32] | None = None
    for columns in (
        slice(max(0, strip.start - far), max(0, strip.start - near)),
        slice(strip.stop + near, strip.stop + far),
    ):
        pixels, table = strip.linear[rows, columns], placed.table[rows, columns]
        if table.size and table.mean() <= _END_TABLE:
            best = pixels[~table & ~strip.clipped[rows, columns]]
    return best
