"""A motif's flat pattern as pixels: which role is seen where, for what the eye makes of it.

Every pixel belongs to the bead that covers it, the outermost where several do; a gap between beads belongs
to the bead nearest to it, because a stock colour is that of a pile, inner shadow included, and so has the
gaps in it already.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analyser.arrays import FloatArray
from analyser.motif.geometry import FlatPattern

#: Pixels across one bead. Doubling it moves the distance a motif reads to by less than 1 %.
PX_A_BEAD = 16
#: Samples a side and pixel, for smooth edges.
_SAMPLES = 3
#: Exponent of the bead's outline: between an ellipse (2) and a rectangle, as a small rounded ring is seen.
_OUTLINE = 3.0


@dataclass(frozen=True, slots=True, eq=False)
class RoleTile:
    """One repeat of a motif as shares of roles; it continues over all four edges.

    Attributes
    ----------
    roles : tuple of str
        The roles, in the order of the last axis.
    share : float ndarray, shape (h, w, n)
        How much of each pixel shows each role; sums to 1 over the last axis.
    mm_per_px : tuple of 2 float
        Height and width of a pixel.
    """

    roles: tuple[str, ...]
    share: FloatArray
    mm_per_px: tuple[float, float]

    def seen(self) -> dict[str, float]:
        """Share of the seen area that each role has."""
        return dict(zip(self.roles, self.share.mean(axis=(0, 1)).tolist(), strict=True))


def role_tile(flat: FlatPattern) -> RoleTile:
    """The flat pattern as pixels, the same pixels for any bead size.

    Parameters
    ----------
    flat : FlatPattern
        One repeat, as ``Motif.flat`` lays it out.
    """
    px_mm = float(flat.bead_w_mm.max()) / PX_A_BEAD
    rows, columns = max(1, round(flat.height_mm / px_mm)), max(1, round(flat.width_mm / px_mm))
    fine_rows, fine_columns = rows * _SAMPLES, columns * _SAMPLES
    y = (np.arange(fine_rows) + 0.5) * flat.height_mm / fine_rows
    x = (np.arange(fine_columns) + 0.5) * flat.width_mm / fine_columns
    owner = np.zeros((fine_rows, fine_columns), dtype=np.int32)
    nearest = np.full((fine_rows, fine_columns), np.inf)
    for bead in range(len(flat.role)):
        dx = _wrap(x - flat.x_mm[bead], flat.width_mm)[None, :]
        dy = _wrap(y - flat.y_mm[bead], flat.height_mm)[:, None]
        lean = np.radians(flat.angle_deg[bead])
        along, across = dy * np.cos(lean) + dx * np.sin(lean), dx * np.cos(lean) - dy * np.sin(lean)
        reach = np.abs(2 * along / flat.bead_h_mm[bead]) ** _OUTLINE
        reach += np.abs(2 * across / flat.bead_w_mm[bead]) ** _OUTLINE
        # Within a bead's outline the later, outer bead wins; outside it the nearest does.
        wins = (reach <= 1) | ((reach < nearest) & (nearest > 1))
        owner[wins] = bead
        nearest[wins] = reach[wins]
    roles = tuple(sorted({str(role) for role in flat.role}))
    index = np.array([roles.index(str(role)) for role in flat.role])
    shares = np.eye(len(roles))[index[owner]]
    blocks = shares.reshape(rows, _SAMPLES, columns, _SAMPLES, len(roles))
    return RoleTile(roles, blocks.mean(axis=(1, 3)), (flat.height_mm / rows, flat.width_mm / columns))


def _wrap(distance: FloatArray, period: float) -> FloatArray:
    return distance - period * np.round(distance / period)
