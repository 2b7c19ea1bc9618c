"""Solids of revolution as a viewer straight above sees them: beads, end beads, rings, bars.

Each solid is a rounded cylinder about its axis, with or without a hole. Its surface is found by stepping
along parallel rays by the distance that is certainly free [1]; a rounded cylinder's distance is exact in
closed form, and the hole is cut by a smooth maximum [2], whose gradient does not exceed 1 either.

View axes: x to the right, y up, z towards the viewer; lengths are mm.

Sources
-------
[1] Hart (1996), Sphere tracing, The Visual Computer 12(10), 527-545, doi:10.1007/s003710050084.
[2] Quilez, Smooth minimum, polynomial form (public notes; read from memory).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from analyser.arrays import BoolArray, FloatArray

F32 = npt.NDArray[np.float32]

_STEPS = 30  # twice as many change the seen area by 0.04 %
_AXIS_STEP_DEG = 3.0  # axes are rounded to this, so that beads share views; half of it is not seen


@dataclass(frozen=True, slots=True)
class Solid:
    """A rounded cylinder.

    Attributes
    ----------
    diameter_mm, length_mm : float
        Across the axis and along it.
    hole_mm : float
        Diameter of the hole along the axis; 0 for none.
    corner_mm : float
        Radius of the rounded edge, at most half of the smaller outer measure.
    """

    diameter_mm: float
    length_mm: float
    hole_mm: float
    corner_mm: float

    @property
    def reach_mm(self) -> float:
        """Radius of the sphere that holds it."""
        return float(np.hypot(self.diameter_mm, self.length_mm)) / 2.0


def round_bead(diameter_mm: float, length_mm: float, hole_mm: float) -> Solid:
    """A round seed bead: a ring with full edges."""
    return Solid(diameter_mm, length_mm, hole_mm, 0.36 * min(diameter_mm, length_mm))


def cylinder_bead(diameter_mm: float, length_mm: float, hole_mm: float) -> Solid:
    """A cylinder bead: thin walls, flat ends, edges hardly broken."""
    return Solid(diameter_mm, length_mm, hole_mm, 0.08 * min(diameter_mm, length_mm))


def ball(diameter_mm: float) -> Solid:
    """A sphere; its hole lies along the rope and is not seen."""
    return Solid(diameter_mm, diameter_mm, 0.0, diameter_mm / 2.0)


def ring(outer_mm: float, wire_mm: float) -> Solid:
    """A ring of round wire."""
    return Solid(outer_mm, wire_mm, outer_mm - 2.0 * wire_mm, 0.48 * wire_mm)


def bar(length_mm: float, wire_mm: float) -> Solid:
    """A rod with round ends."""
    return Solid(wire_mm, length_mm, 0.0, 0.49 * wire_mm)


@dataclass(frozen=True, slots=True, eq=False)
class View:
    """One solid seen along one direction, on a square of pixels centred on it.

    Attributes
    ----------
    half_px : int
        The square has 2 * half_px + 1 pixels a side.
    hit : bool array (n, n)
        Where its surface is seen; the square's first row is the top.
    z_mm : float32 array (n, n)
        Height of the surface over the solid's centre, where hit.
    normal : float32 array (n, n, 3)
        Outward unit normals (x, y, z), where hit.
    core : float32 array (n, n)
        Distance of the line of sight from the solid's axis, measured in the plane of its centre, as a part of
        its radius: 0 over the hole's middle line.
    """

    half_px: int
    hit: BoolArray
    z_mm: F32
    normal: F32
    core: F32


def rounded_axis(axis: FloatArray) -> tuple[int, int]:
    """An axis (a unit vector, either sign) as whole steps of tilt from the viewer and turn in the picture."""
    x, y, z = (float(v) for v in (axis if axis[2] >= 0 else -axis))
    tilt = round(float(np.degrees(np.arccos(min(1.0, z)))) / _AXIS_STEP_DEG)
    if tilt == 0:
        return 0, 0
    turn = round(float(np.degrees(np.arctan2(y, x))) / _AXIS_STEP_DEG)
    steps = round(360.0 / _AXIS_STEP_DEG)
    # Lying flat, an axis and its reverse are one view.
    return tilt, turn % (steps // 2 if tilt * _AXIS_STEP_DEG >= 90.0 else steps)


def views(solid: Solid, axes: list[tuple[int, int]], px_per_mm: float) -> list[View]:
    """See a solid along several axes at once, each given by ``rounded_axis``."""
    half = int(np.ceil(solid.reach_mm * px_per_mm)) + 1
    across = (np.arange(-half, half + 1, dtype=np.float32)) / np.float32(px_per_mm)
    x, y = np.meshgrid(across, -across)
    tilt, turn = np.radians(np.array(axes, dtype=np.float32).T * _AXIS_STEP_DEG)
    axis = np.stack([np.sin(tilt) * np.cos(turn), np.sin(tilt) * np.sin(turn), np.cos(tilt)], axis=-1)
    near = np.flatnonzero(np.hypot(x, y).ravel() <= solid.reach_mm)
    place = np.stack([x.ravel()[near], y.ravel()[near]], axis=-1)
    shape = (len(axes), x.size)
    hit, z = np.zeros(shape, bool), np.zeros(shape, np.float32)
    normal, core = np.zeros((*shape, 3), np.float32), np.zeros(shape, np.float32)
    hit[:, near], z[:, near], normal[:, near], core[:, near] = _trace(solid, place, axis)
    side = 2 * half + 1
    return [
        View(
            half,
            hit[i].reshape(side, side),
            z[i].reshape(side, side),
            normal[i].reshape(side, side, 3),
            core[i].reshape(side, side),
        )
        for i in range(len(axes))
    ]


def _trace(solid: Solid, place: F32, axis: F32) -> tuple[BoolArray, F32, F32, F32]:
    """Meet the surface from above at each place (p, 2) for each axis (a, 3); arrays (a, p)."""
    flat = axis[:, :2] @ place.T  # what the place alone adds to the way along the axis
    square = np.sum(place**2, axis=-1)[None, :]
    up = axis[:, 2:3]
    z = np.full(flat.shape, solid.reach_mm, np.float32)
    for _ in range(_STEPS):
        z -= _distance(solid, flat + up * z, square + z**2)
    along = flat + up * z
    rho = np.sqrt(np.maximum(square + z**2 - along**2, 1e-9))
    hit = _distance(solid, along, square + z**2) < 0.0015 * solid.diameter_mm
    hit &= z > -solid.reach_mm
    # The gradient in the plane of axis and radius, then turned into the view.
    step = np.float32(0.004 * solid.diameter_mm)
    by_along = _profile(solid, along + step, rho) - _profile(solid, along - step, rho)
    by_rho = _profile(solid, along, rho + step) - _profile(solid, along, rho - step)
    point = np.concatenate([np.broadcast_to(place, (len(axis), *place.shape)), z[..., None]], axis=-1)
    radial = (point - along[..., None] * axis[:, None, :]) / rho[..., None]
    normal = by_along[..., None] * axis[:, None, :] + by_rho[..., None] * radial
    normal /= np.maximum(np.linalg.norm(normal, axis=-1, keepdims=True), 1e-9)
    core = np.sqrt(np.maximum(square - flat**2, 0.0)) / np.float32(solid.diameter_mm / 2.0)
    return hit, z, normal.astype(np.float32), np.asarray(core, np.float32)


def _distance(solid: Solid, along: F32, square: F32) -> F32:
    return _profile(solid, along, np.sqrt(np.maximum(square - along**2, 1e-9)))


def _profile(solid: Solid, along: F32, rho: F32) -> F32:
    """Signed distance from the surface at a way along the axis and a radius, mm."""
    corner = np.float32(solid.corner_mm)
    wall = (solid.diameter_mm - solid.hole_mm) / 2.0
    endwards = np.abs(along) - np.float32(solid.length_mm / 2.0) + corner
    if solid.hole_mm > 0.0 and corner <= wall / 2.0:
        # The wall is thick enough for the edge to be as round at the hole as outside: one exact ring.
        outwards = (
            np.abs(rho - np.float32((solid.diameter_mm - wall) / 2.0)) - np.float32(wall / 2.0) + corner
        )
        return _rounded(outwards, endwards, corner)
    body = _rounded(rho - np.float32(solid.diameter_mm / 2.0) + corner, endwards, corner)
    if solid.hole_mm == 0.0:
        return body
    hole = np.float32(solid.hole_mm / 2.0) - rho
    # [2]: smooth maximum; the hole's lip is rounded over a sixth of the wall.
    blend = np.float32(0.16 * wall)
    near = np.maximum(blend - np.abs(body - hole), 0.0) / blend
    return np.asarray(np.maximum(body, hole) + near**2 * blend * 0.25, np.float32)


def _rounded(outwards: F32, endwards: F32, corner: np.float32) -> F32:
    """Distance from a round-cornered rectangle, given how far a point lies outside its inner rectangle."""
    inside = np.minimum(np.maximum(outwards, endwards), 0.0)
    outside = np.sqrt(np.maximum(outwards, 0.0) ** 2 + np.maximum(endwards, 0.0) ** 2)
    return np.asarray(outside + inside - corner, np.float32)
