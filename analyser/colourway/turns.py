"""Two beads that take turns in one role of a motif, as the eye has them: for mixes, and for fades."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
import numpy.typing as npt

from analyser.arrays import FloatArray
from analyser.colour import viewing
from analyser.motif.geometry import FlatPattern
from analyser.motif.motif import Motif
from analyser.motif.raster import role_tile


@dataclass(frozen=True, slots=True, eq=False)
class Turns:
    """A motif in one role of which two beads take turns, bead by bead along and round the rope.

    Attributes
    ----------
    roles : tuple of str
        The roles seen, ``one`` and ``two`` among them.
    pattern : viewing.Pattern
        The pattern's waves.
    """

    roles: tuple[str, ...]
    pattern: viewing.Pattern

    @property
    def pair(self) -> tuple[int, int]:
        """Where the two stand among the roles."""
        return self.roles.index("one"), self.roles.index("two")

    def labs(self, one: npt.ArrayLike, two: npt.ArrayLike) -> FloatArray:
        """Colours of all roles, shape (..., roles, 3); other roles take the mean of the two."""
        first, second = np.asarray(one, dtype=np.float64), np.asarray(two, dtype=np.float64)
        known = {"one": first, "two": second}
        return np.stack([known.get(role, 0.5 * (first + second)) for role in self.roles], axis=-2)


@lru_cache(maxsize=64)
def taking_turns(motif: Motif, bead_mm: tuple[float, float], role: str = "body") -> Turns:
    """The motif with two beads taking turns in a role, each row beginning with the other.

    Parameters
    ----------
    motif : Motif
    bead_mm : tuple of 2 float
        Diameter and length of the beads.
    role : str
        One that is seen in the repeating rounds.
    """
    flat = motif.flat(bead_mm)
    if np.count_nonzero(flat.role == role) % 2:
        flat = _twice(flat)
    mine = np.flatnonzero(flat.role == role)
    # In stripes they would show farther.
    rows = np.unique(np.round(flat.y_mm[mine], 6), return_inverse=True)[1]
    order = np.lexsort((flat.x_mm[mine], rows))
    place = np.empty(len(mine), dtype=np.intp)
    place[order] = np.arange(len(mine)) - np.searchsorted(rows[order], rows[order])
    roles = flat.role.astype("<U8")
    roles[mine] = np.where((place + rows) % 2 == 0, "one", "two")
    tile = role_tile(replace(flat, role=roles))
    return Turns(tile.roles, viewing.pattern(tile.share, tile.mm_per_px, motif.outer_diameters * bead_mm[0]))


def _twice(flat: FlatPattern) -> FlatPattern:
    """Two repeats, one on top of the other."""
    again = {
        name: np.concatenate([getattr(flat, name)] * 2)
        for name in ("x_mm", "role", "bead_w_mm", "bead_h_mm", "angle_deg", "out")
    }
    y_mm = np.concatenate([flat.y_mm, flat.y_mm + flat.height_mm])
    # Later beads cover earlier ones: the outermost must stay last.
    order = np.argsort(again["out"], kind="stable")
    return FlatPattern(
        width_mm=flat.width_mm,
        height_mm=2.0 * flat.height_mm,
        y_mm=y_mm[order],
        **{name: values[order] for name, values in again.items()},
    )
