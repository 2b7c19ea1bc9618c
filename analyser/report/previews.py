"""The pictures of a page: ropes in a pair's colours, and piles, encoded for a self-contained file."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from analyser.arrays import Lab
from analyser.colour import viewing
from analyser.drawing import chips, distances, rope_view
from analyser.drawing.rope_view import BeadLook, Canvas, Ends
from analyser.drawing.scene import LitSurface
from analyser.drawing.solids import F32, Solid
from analyser.imaging import encoding
from analyser.motif.geometry import RopeBeads
from analyser.motif.motif import Motif
from analyser.motif.planned_rope import PlannedRope
from analyser.report import embedding

BRACELET_MM = 178.0
"""A usual bracelet, clasp included (7 in; common practice): drawn where no length is known."""

_STRAIGHT_PX = (1080, 150)
_RING_PX = 440
_CROP_PX = (264, 132)
_STRIP_PX = (760, 96)
_MOST_ROUNDS = 260  # a long necklace is drawn shorter: its beads would be smaller than pixels
_JPEG_QUALITY = 84


@dataclass(frozen=True, slots=True)
class FromAfar:
    """A stretch of the rope as it is left at a distance: how one says the distance, metres, picture."""

    says: str
    metres: float
    uri: str


@dataclass(frozen=True, slots=True)
class RopePictures:
    """A rope in one pair's colours, pictures as data URIs."""

    straight: str
    ring: str
    from_afar: tuple[FromAfar, ...]


class Ropes:
    """Draws one motif in many colours: the beads are placed once for each set of bead sizes.

    Parameters
    ----------
    motif : Motif
    cloth : (L, a, b) or None
        What the piece is worn on; a neutral grey if None.
    rounds : int or None
        Of the whole piece; those of a bracelet if None.
    """

    def __init__(self, motif: Motif, *, cloth: Lab | None = None, rounds: int | None = None) -> None:
        self._motif = motif
        self._cloth = cloth
        self._rounds = rounds
        self._seen: dict[tuple[tuple[str, Solid], ...], tuple[Canvas, Canvas, Canvas]] = {}

    def pictures(self, looks: Mapping[str, BeadLook], bead: Mapping[str, Solid]) -> RopePictures:
        """Draw the rope straight, as a ring and from afar.

        Parameters
        ----------
        looks : mapping of role to BeadLook
        bead : mapping of role to Solid
            From ``rope_view.bead_solid``.
        """
        straight, ring, crop = self._surfaces(bead)
        near = crop.paint(looks, self._cloth)
        cloth = BeadLook(self._cloth or rope_view.NEUTRAL_CLOTH).linear
        afar = tuple(
            FromAfar(says, metres, _jpeg(distances.from_distance(near, cloth, crop.seen.px_per_mm, metres)))
            for says, metres in viewing.DISTANCES_M.items()
        )
        return RopePictures(
            _jpeg(straight.paint(looks, self._cloth)),
            _jpeg(ring.paint(looks, self._cloth)),
            afar,
        )

    def _surfaces(self, bead: Mapping[str, Solid]) -> tuple[Canvas, Canvas, Canvas]:
        key = tuple(sorted(bead.items(), key=lambda item: item[0]))
        if key not in self._seen:
            straight, ring, crop = (Canvas(seen) for seen in self._place(bead))
            self._seen[key] = straight, ring, crop
        return self._seen[key]

    def _place(self, bead: Mapping[str, Solid]) -> tuple[LitSurface, LitSurface, LitSurface]:
        body = bead.get("body", rope_view.bead_solid())
        rise_mm = self._motif.rise.likely * body.length_mm
        across_mm = rope_view.outer_mm(self._motif.rope(4), bead)
        # Where none are chosen, end beads in proportion to the rope: 6 mm on one of 7.5 mm.
        end_mm = bead["end"].diameter_mm if "end" in bead else 0.8 * across_mm
        ends = Ends(bead_mm=end_mm, clasp=True)
        rounds = self._rounds
        if rounds is None:
            rounds = max(4, round((BRACELET_MM - 20.0 - 2.0 * ends.bead_mm) / rise_mm))
        width, height = _STRAIGHT_PX
        px_per_mm = height / (1.5 * across_mm)
        straight = rope_view.straight(
            self._motif.rope(int(width / px_per_mm / rise_mm) + 4),
            width_px=width,
            height_px=height,
            px_per_mm=px_per_mm,
            bead=bead,
            ends=ends,
        )
        ring = rope_view.ring(
            self._motif.rope(min(rounds, _MOST_ROUNDS)), side_px=_RING_PX, bead=bead, ends=ends
        )
        width, height = _CROP_PX
        px_per_mm = height / (1.45 * across_mm)
        crop = rope_view.straight(
            self._motif.rope(int((width / px_per_mm + 4.0 * across_mm) / rise_mm) + 4),
            width_px=width,
            height_px=height,
            px_per_mm=px_per_mm,
            bead=bead,
            start_mm=-2.0 * across_mm,
        )
        return straight, ring, crop


def strip(
    motif: Motif,
    looks: Mapping[str, BeadLook],
    solids: Mapping[str, Solid],
    *,
    end_mm: float,
    whole: RopeBeads | None = None,
) -> str:
    """The start of a rope laid straight, small enough for a card, as a data URI; of a plan all of it.

    Parameters
    ----------
    motif : Motif
    looks, solids : mapping of role to BeadLook, Solid
        ``end`` and ``metal`` too, where there are end beads.
    end_mm : float
        Diameter of the end beads; 0 for none.
    whole : RopeBeads, optional
        The rope bead by bead, where its beads change along it.
    """
    width, height = _STRIP_PX
    body = solids["body"]
    px_per_mm = height / (1.5 * rope_view.outer_mm(motif.rope(4), solids))
    if whole is not None:
        px_per_mm = min(px_per_mm, width / (whole.length_beads * body.length_mm + end_mm + 15.0))
    rounds = int(width / px_per_mm / (motif.rise.likely * body.length_mm)) + 4
    seen = rope_view.straight(
        motif.rope(rounds) if whole is None else whole,
        width_px=width,
        height_px=height,
        px_per_mm=px_per_mm,
        bead=solids,
        ends=Ends(bead_mm=end_mm, clasp=True),
    )
    return _jpeg(rope_view.paint_linear(seen, {rope_view.METAL: rope_view.SILVER_TONE, **looks}))


@dataclass(frozen=True, slots=True)
class PlannedPictures:
    """A planned rope, whole as a ring and laid straight, and its middle close by; pictures as data URIs."""

    ring: str
    straight: str
    close: str


def planned_pictures(
    rope: PlannedRope,
    looks: Mapping[str, BeadLook],
    solids: Mapping[str, Solid],
    end_mm: float,
    cloth: Lab | None = None,
) -> PlannedPictures:
    """Draw a planned rope bead by bead.

    Parameters
    ----------
    rope : PlannedRope
    looks, solids : mapping of str to BeadLook, Solid
        By the key of each planned bead; ``body`` too gives the solid by whose size places are counted.
    end_mm : float
        Diameter of the end beads; 0 for none.
    cloth : (L, a, b), optional
        What it lies on; a neutral grey if left out.
    """
    ends = Ends(bead_mm=end_mm, clasp=True)
    beads = rope.beads
    across_mm = rope_view.outer_mm(beads, solids)
    long_mm = beads.length_beads * solids["body"].length_mm + end_mm + 15.0
    width = _STRAIGHT_PX[0]
    straight = rope_view.straight(
        beads,
        width_px=width,
        height_px=max(24, round(1.7 * across_mm * width / long_mm)),
        px_per_mm=width / long_mm,
        bead=solids,
        ends=ends,
    )
    ring = rope_view.ring(beads, side_px=_RING_PX, bead=solids, ends=ends)
    width, height = _STRAIGHT_PX
    px_per_mm = height / (1.5 * across_mm)
    close = rope_view.straight(
        beads,
        width_px=width,
        height_px=height,
        px_per_mm=px_per_mm,
        bead=solids,
        start_mm=0.5 * (width / px_per_mm - beads.length_beads * solids["body"].length_mm),
    )
    painted = (_jpeg(rope_view.paint_linear(seen, looks, cloth)) for seen in (ring, straight, close))
    return PlannedPictures(*painted)


class Piles:
    """Piles of beads, each colour and finish drawn and embedded once, shown wherever its class stands."""

    def __init__(self) -> None:
        self._made: dict[BeadLook, str] = {}

    def css_class(self, look: BeadLook) -> str:
        """Class of an element whose background is to be the pile in this look."""
        if look not in self._made:
            self._made[look] = f"pile-{len(self._made)}"
        return self._made[look]

    def css(self) -> str:
        """The rules of all classes handed out so far."""
        rules = []
        for look, name in self._made.items():
            uri = embedding.data_uri(encoding.png_bytes(chips.pile(look)))
            rules.append(f'.{name} {{ background-image: url("{uri}"); }}')
        return "\n".join(rules)


def _jpeg(linear: F32) -> str:
    return embedding.data_uri(encoding.jpeg_bytes(encoding.srgb_u8(linear), _JPEG_QUALITY))
