"""A rope as it would be worn: shaded pictures of a motif in any colours and finishes, straight or as a ring.

The beads stand where the motif's geometry puts them. A bead's colour is the mean look of its pixels, gloss
and shadow included, and the mean over the drawn beads of a role **is** that colour (see ``finishes``).
Pictures are linear light with sRGB primaries.

    seen = straight(motif.rope(30), width_px=900, height_px=130, px_per_mm=12.0)
    looks = {"accent": BeadLook(lab_1), "body": BeadLook(lab_2, "matte")}
    picture = paint_linear(seen, looks, cloth=cloth_lab)
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

import cv2
import numpy as np
import numpy.typing as npt

from analyser.arrays import FloatArray, Lab
from analyser.colour import gamut, spaces
from analyser.drawing import finishes, scene, solids
from analyser.drawing.scene import SUPERSAMPLING, LitSurface, PlacedSolid
from analyser.drawing.solids import F32, Solid
from analyser.motif.geometry import RopeBeads
from analyser.stock import sizes

U8Array = npt.NDArray[np.uint8]

NEUTRAL_CLOTH = (62.0, 0.0, 0.0)
"""Lab of the cloth when it is not known what the piece is worn on: a grey that takes no side."""

METAL = "metal"
"""The role of rings and clasp."""

_SEED = 20  # places of beads and threads of the cloth vary by hand, the same way each time
_THREAD_MM = 0.42  # of the cloth: a plain linen
_HAND = 0.02  # spread of a bead's place in bead diameters


@dataclass(frozen=True, slots=True)
class BeadLook:
    """How a bead looks.

    Attributes
    ----------
    lab : (L, a, b)
        Mean look (D65); colours beyond sRGB are drawn as the nearest within it.
    finish : str or None
        One of ``analyser.stock.bead.FINISHES``.
    """

    lab: Lab
    finish: str | None = None

    @property
    def linear(self) -> FloatArray:
        """Linear light within sRGB."""
        code, _ = gamut.lab_to_hex(self.lab)
        return spaces.srgb_to_linear(np.frombuffer(bytes.fromhex(code[1:]), np.uint8) / 255.0)


SILVER_TONE = BeadLook((74.0, 0.2, 2.0), "metallic")
GOLD_TONE = BeadLook((66.0, 8.0, 38.0), "metallic")
NOT_CHOSEN = BeadLook((80.0, 0.0, 0.0), "matte")
"""A letter of the motif that no bead was chosen for: a blank, never another letter's bead."""


@dataclass(frozen=True, slots=True)
class Ends:
    """What finishes a rope.

    Attributes
    ----------
    bead_mm : float
        Diameter of the end beads; 0 for none. Their role is ``end``.
    clasp : bool
        Rings and a bar-and-ring clasp, role ``metal``.
    """

    bead_mm: float = 6.0
    clasp: bool = True


def bead_solid(shape: str = "round", size: str | None = "11/0") -> Solid:
    """The solid of a bead: from the size table, or a ball of the given millimetres.

    Examples
    --------
    >>> bead_solid("round", "11/0").diameter_mm
    2.1
    >>> bead_solid("large", "4mm").diameter_mm
    4.0
    """
    known = sizes.of(shape, size)
    if known is not None:
        make = solids.cylinder_bead if shape == "cylinder" else solids.round_bead
        return make(known.diameter_mm, known.length_mm, known.hole_mm)
    if size is not None and size.endswith("mm"):
        diameter = float(size.removesuffix("mm"))
        return Solid(diameter, 0.92 * diameter, 0.25 * diameter, 0.42 * diameter)
    return solids.round_bead(2.1, 1.45, 0.8)


@dataclass(frozen=True, slots=True, eq=False)
class _Laid:
    """Bead centres and axes of a rope in its own frame: along it, up in the picture, towards the viewer."""

    centre_mm: FloatArray
    axis: FloatArray
    solid: tuple[Solid, ...]
    role: tuple[str, ...]
    length_mm: float
    radius_mm: float


def _lay(beads: RopeBeads, bead: Mapping[str, Solid], roll_turns: float | None) -> _Laid:
    body = bead.get("body", bead_solid())
    if roll_turns is None:
        roll_turns = _facing_roll(beads)
    angle = 2.0 * np.pi * (np.asarray(beads.angle_turns) + roll_turns)
    # Around grows anticlockwise seen from the closing end, which here lies to the right.
    up, near = np.cos(angle), np.sin(angle)
    reach = np.asarray(beads.out) * body.diameter_mm
    centre = np.stack([np.asarray(beads.along_beads) * body.length_mm, up * reach, near * reach], axis=-1)
    centre += np.random.default_rng(_SEED).normal(0.0, _HAND * body.diameter_mm, centre.shape)
    around, along, out = np.moveaxis(np.asarray(beads.hole_axis, float), -1, 0)
    axis = np.stack([along, out * up - around * near, out * near + around * up], axis=-1)
    roles = tuple(str(role) for role in beads.role)
    solid = tuple(bead.get(role, body) for role in roles)
    radius = float(reach.max(initial=0.0)) + body.diameter_mm / 2.0
    return _Laid(centre, axis, solid, roles, float(beads.length_beads) * body.length_mm, radius)


def _facing_roll(beads: RopeBeads) -> float:
    """The turn that brings an accent of the pattern to the front."""
    accent = np.char.startswith(beads.role, "accent")  # of a planned rope, whichever bead it is
    wanted = np.flatnonzero((beads.part == "pattern") & accent)
    first = float(beads.angle_turns[wanted[0]]) if len(wanted) else 0.0
    return 0.25 - first


def outer_mm(beads: RopeBeads, bead: Mapping[str, Solid] = MappingProxyType({})) -> float:
    """Diameter of the rope, mm."""
    return 2.0 * _lay(beads, bead, 0.0).radius_mm


def straight(
    beads: RopeBeads,
    *,
    width_px: int,
    height_px: int,
    px_per_mm: float,
    bead: Mapping[str, Solid] = MappingProxyType({}),
    ends: Ends | None = None,
    roll_turns: float | None = None,
    start_mm: float | None = None,
) -> LitSurface:
    """See a rope laid straight, its start at the left, its middle line across the middle of the picture.

    Parameters
    ----------
    beads : RopeBeads
        From ``Motif.rope``; as many rounds as the picture is to show.
    width_px, height_px, px_per_mm : int, int, float
        Of the finished picture.
    bead : mapping of role to Solid
        Their sizes; 11/0 round where a role is missing. Places follow the size of ``body``.
    ends : Ends, optional
        What finishes the start; the rope begins plainly if left out.
    roll_turns : float, optional
        How far the rope is rolled; by default an accent of the pattern faces the viewer.
    start_mm : float, optional
        Where the rope starts, from the picture's left edge; by default its end fits in.
    """
    laid = _lay(beads, bead, roll_turns)
    half_mm = width_px / px_per_mm / 2.0
    before = 0.0 if ends is None else ends.bead_mm + (9.0 if ends.clasp else 1.0)
    left = -half_mm + (before + 1.5 if start_mm is None else start_mm)
    placed = [
        PlacedSolid(
            solid,
            (float(c[0] + left), float(c[1]), float(c[2])),
            (float(a[0]), float(a[1]), float(a[2])),
            role,
        )
        for c, a, solid, role in zip(laid.centre_mm, laid.axis, laid.solid, laid.role, strict=True)
        if abs(c[0] + left) < half_mm + solid.reach_mm
    ]
    if ends is not None:
        placed += _fittings(ends, laid.radius_mm, (left, 0.0), (-1.0, 0.0), "ring")
    return scene.surface(
        placed, width_px=width_px, height_px=height_px, px_per_mm=px_per_mm, floor_mm=-laid.radius_mm
    )


def ring(
    beads: RopeBeads,
    *,
    side_px: int,
    bead: Mapping[str, Solid] = MappingProxyType({}),
    ends: Ends | None = None,
    roll_turns: float | None = None,
    margin: float = 0.06,
) -> LitSurface:
    """See a whole rope closed to a ring, its clasp at the foot of a square picture.

    Parameters are those of ``straight``; ``margin`` is left free around it, as a part of the side.
    """
    laid = _lay(beads, bead, roll_turns)
    gap = 0.0 if ends is None else 2.0 * ends.bead_mm + (15.0 if ends.clasp else 0.0)
    around_mm = laid.length_mm + gap
    bend = around_mm / (2.0 * np.pi)
    px_per_mm = side_px * (1.0 - 2.0 * margin) / (2.0 * (bend + laid.radius_mm))
    placed = []
    for centre, axis, solid, role in zip(laid.centre_mm, laid.axis, laid.solid, laid.role, strict=True):
        frame, place = _on_ring((centre[0] + gap / 2.0) / around_mm, bend)
        x, y = place + frame[1] * centre[1]
        ax, ay = frame[0] * axis[0] + frame[1] * axis[1]
        placed.append(
            PlacedSolid(
                solid, (float(x), float(y), float(centre[2])), (float(ax), float(ay), float(axis[2])), role
            )
        )
    if ends is not None:
        for part, towards, clasp in ((gap / 2.0, -1.0, "ring"), (around_mm - gap / 2.0, 1.0, "bar")):
            frame, place = _on_ring(part / around_mm, bend)
            way = frame[0] * towards
            placed += _fittings(
                ends,
                laid.radius_mm,
                (float(place[0]), float(place[1])),
                (float(way[0]), float(way[1])),
                clasp,
            )
    return scene.surface(
        placed, width_px=side_px, height_px=side_px, px_per_mm=px_per_mm, floor_mm=-laid.radius_mm
    )


def _on_ring(part: float, bend: float) -> tuple[FloatArray, FloatArray]:
    """Frame (tangent, outwards) and place of a part of a ring that runs clockwise from its foot."""
    turn = 2.0 * np.pi * part
    outwards = np.array([-np.sin(turn), -np.cos(turn)])
    tangent = np.array([-np.cos(turn), np.sin(turn)])
    return np.array([tangent, outwards]), outwards * bend


def _fittings(
    ends: Ends, rope_radius_mm: float, at: tuple[float, float], way: tuple[float, float], clasp: str
) -> list[PlacedSolid]:
    """End bead, jump ring and one half of the clasp, from a place on in a direction."""
    placed: list[PlacedSolid] = []

    def put(
        solid: Solid, far: float, axis: tuple[float, float, float], role: str, height: float = 0.0
    ) -> None:
        placed.append(PlacedSolid(solid, (at[0] + way[0] * far, at[1] + way[1] * far, height), axis, role))

    flat, along, across = (0.0, 0.0, 1.0), (way[0], way[1], 0.0), (-way[1], way[0], 0.0)
    far = 0.0
    if ends.bead_mm > 0.0:
        put(solids.ball(ends.bead_mm), ends.bead_mm * 0.46, along, "end")
        far = ends.bead_mm * 0.95
    if not ends.clasp:
        return placed
    low = -0.35 * rope_radius_mm
    put(solids.ring(2.8, 0.5), far + 1.0, across, METAL, low)
    if clasp == "ring":
        put(solids.ring(7.0, 1.1), far + 5.2, flat, METAL, low)
    else:
        put(solids.ring(2.6, 0.5), far + 2.6, flat, METAL, low)
        put(solids.bar(10.5, 1.5), far + 4.4, across, METAL, low + 0.9)
    return placed


class Canvas:
    """A surface to be coloured again and again: what does not depend on the colours is worked out once.

    Parameters
    ----------
    seen : LitSurface
        From ``straight`` or ``ring``.
    """

    def __init__(self, seen: LitSurface) -> None:
        self.seen = seen
        self._pixels = [np.flatnonzero(seen.role == number) for number in range(len(seen.roles))]
        self._shaded: dict[tuple[int, str | None], finishes.Shaded] = {}
        self._painted: dict[tuple[int, BeadLook], F32] = {}
        self._grounds: dict[Lab, F32] = {}

    def paint(self, looks: Mapping[str, BeadLook], cloth: Lab | None = None) -> F32:
        """The surface in colours; as ``paint_linear``."""
        seen, big = self.seen, SUPERSAMPLING
        canvas = np.zeros((seen.height_px * big * seen.width_px * big, 3), np.float32)
        for number, role in enumerate(seen.roles):
            look = looks.get(role, SILVER_TONE if role == METAL else NOT_CHOSEN)
            canvas[seen.at[self._pixels[number]]] = self._role(number, look)
        beads = cv2.resize(
            canvas.reshape(seen.height_px * big, seen.width_px * big, 3),
            (seen.width_px, seen.height_px),
            interpolation=cv2.INTER_AREA,
        )
        return np.asarray(beads + self._ground(cloth or NEUTRAL_CLOTH), np.float32)

    def _role(self, number: int, look: BeadLook) -> F32:
        """The pixels of one role in a look."""
        if (number, look) not in self._painted:
            seen, mine, finish = self.seen, self._pixels[number], look.finish
            if (number, finish) not in self._shaded:
                facing = finishes.Facing(
                    seen.cell[mine], seen.core[mine], seen.open_sky[mine], seen.lit[mine]
                )
                self._shaded[number, finish] = finishes.shaded(facing, finish)
            self._painted[number, look] = finishes.coloured(self._shaded[number, finish], look.linear)
        return self._painted[number, look]

    def _ground(self, cloth: Lab) -> F32:
        """What is seen of the cloth between and beyond the beads."""
        if cloth not in self._grounds:
            ground = _cloth(self.seen, BeadLook(cloth).linear)
            self._grounds[cloth] = ground * (1.0 - self.seen.cover[..., None])
        return self._grounds[cloth]


def paint_linear(seen: LitSurface, looks: Mapping[str, BeadLook], cloth: Lab | None = None) -> F32:
    """Colour a surface; linear light (height, width, 3) in [0, 1].

    Parameters
    ----------
    seen : LitSurface
        From ``straight`` or ``ring``; for several sets of colours see ``Canvas``.
    looks : mapping of role to BeadLook
        A missing letter of the motif, or ``end``, is drawn as ``NOT_CHOSEN``; ``metal`` in a silver tone.
    cloth : (L, a, b), optional
        What the rope lies on; ``NEUTRAL_CLOTH`` if left out.
    """
    return Canvas(seen).paint(looks, cloth)


def _cloth(seen: LitSurface, linear: FloatArray) -> F32:
    """Plain weave: threads of uneven brightness crossing; their mean, unshaded, is the cloth's colour."""
    height, width = seen.height_px, seen.width_px
    thread_px = _THREAD_MM * seen.px_per_mm
    warp, weft = _threads(width, height, thread_px, 1), _threads(height, width, thread_px, 2).T
    across, down = np.arange(width) / thread_px, (np.arange(height) / thread_px)[:, None]
    over = (np.floor(across) + np.floor(down)) % 2 == 0
    # Threads too fine for the pixels would beat against them; then only their unevenness remains.
    relief = 0.10 * float(np.clip((thread_px - 2.5) / 3.0, 0.0, 1.0))
    round_warp, round_weft = (1.0 - relief * (2.0 * (v % 1.0) - 1.0) ** 2 for v in (across, down))
    texture = np.where(over, round_warp * (1.0 + 0.05 * warp), round_weft * (1.0 + 0.05 * weft))
    texture = cv2.GaussianBlur((texture / texture.mean()).astype(np.float32), (0, 0), 0.7)
    return np.asarray((texture * seen.ground_light)[..., None] * linear.astype(np.float32), np.float32)


def _threads(across_px: int, along_px: int, thread_px: float, seed: int) -> F32:
    """Unevenness of parallel threads: each has its own brightness, which changes slowly along it."""
    hand = np.random.default_rng(seed)
    number = int(across_px / thread_px) + 1
    knots = hand.normal(0.0, 1.0, (int(along_px / (14.0 * thread_px)) + 3, number)).astype(np.float32)
    slow = cv2.resize(knots, (number, along_px), interpolation=cv2.INTER_LINEAR)
    return np.asarray(
        slow[:, np.minimum((np.arange(across_px) / thread_px).astype(int), number - 1)], np.float32
    )
