"""What can be said of two colours in a motif, whatever photo they are for: plain measures, no verdict."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import lru_cache
from types import MappingProxyType

import numpy as np
import numpy.typing as npt

from analyser.arrays import FloatArray, IntArray, Lab
from analyser.colour import adaptation, harmony, spaces, viewing, vision
from analyser.colour.difference import delta_e_2000
from analyser.motif.motif import Motif
from analyser.motif.raster import role_tile

#: Where a coarse reading distance is looked for, in steps of a fifth of an octave: from 0.2 m to 20 m.
_NEAREST_M, _STEPS = 0.2, 34


@dataclass(frozen=True, slots=True, eq=False)
class PairView:
    """A motif at its bead size, as the eye has it: what its two colours need to be judged.

    Attributes
    ----------
    motif : Motif
    bead_mm : tuple of 2 float
        Diameter and length of its beads.
    roles : tuple of str
        The roles seen, in the order of the pattern's shares.
    pattern : viewing.Pattern
        The pattern's waves.
    """

    motif: Motif
    bead_mm: tuple[float, float]
    roles: tuple[str, ...]
    pattern: viewing.Pattern

    @property
    def pair(self) -> tuple[int, int]:
        """Where accent and body stand among the roles."""
        return self.roles.index("accent"), self.roles.index("body")

    @property
    def seen(self) -> dict[str, float]:
        """Share of the seen area that each role has."""
        return dict(zip(self.roles, (float(share) for share in self.pattern.shares), strict=True))

    def labs(
        self,
        accent_lab: npt.ArrayLike,
        body_lab: npt.ArrayLike,
        others: Mapping[str, Lab] = MappingProxyType({}),
    ) -> FloatArray:
        """Colours of all roles, shape (..., n, 3): roles of which none is told are taken as body."""
        accent, body = np.broadcast_arrays(np.asarray(accent_lab, float), np.asarray(body_lab, float))
        known = {"accent": accent} | {
            role: np.broadcast_to(np.asarray(lab, float), body.shape) for role, lab in others.items()
        }
        return np.stack([known.get(role, body) for role in self.roles], axis=-2)


def view_of(motif: Motif, bead_mm: tuple[float, float] | None = None) -> PairView:
    """The motif as the eye has it.

    Parameters
    ----------
    motif : Motif
    bead_mm : tuple of 2 float, optional
        Diameter and length of the beads; those the motif was worked out for if left out.
    """
    return _view(motif, bead_mm or motif.bead_mm)


# A motif's waves cost more than all its pairs, and the local page asks for them at every wish.
@lru_cache(maxsize=32)
def _view(motif: Motif, size: tuple[float, float]) -> PairView:
    tile = role_tile(motif.flat(size))
    width_mm = motif.outer_diameters * size[0]
    return PairView(motif, size, tile.roles, viewing.pattern(tile.share, tile.mm_per_px, width_mm))


@dataclass(frozen=True, slots=True)
class Measures:
    """One pair, measured.

    Attributes
    ----------
    accent_lab, body_lab : tuple of 3 float
        Lab, D65, 2 degree observer.
    de00 : float
        CIEDE2000; above about 5 it only ranks.
    delta_l : float
        L* of the accent minus that of the body.
    luminance_contrast : float
        As WCAG 2.2 defines it, at least 1.
    seen : mapping of float to float
        Distance in metres -> contrast of accent and body as the eye has them from there (``viewing``); no
        CIEDE2000.
    reads_to_m : float
        Farthest distance in metres at which the motif still shows at a glance; 0: at none.
    blurs_from_m : float
        Distance from which not even sharp sight tells anything of it apart.
    far_lab : tuple of 3 float
        The one colour it blurs to beyond.
    cvd_de00 : mapping of str to float
        CIEDE2000 under protan, deutan and tritan simulation, severity 1.
    harmony : float
        Ou & Luo 2006, from about -1.2 to 1.5; it rewards likeness.
    lights_de00 : mapping of str to float
        CIEDE2000 in daylight, shop light and evening lamp, by chromatic adaptation.
    """

    accent_lab: Lab
    body_lab: Lab
    de00: float
    delta_l: float
    luminance_contrast: float
    seen: Mapping[float, float]
    reads_to_m: float
    blurs_from_m: float
    far_lab: Lab
    cvd_de00: Mapping[str, float]
    harmony: float
    lights_de00: Mapping[str, float]


@dataclass(frozen=True, slots=True, eq=False)
class Measured:
    """Many pairs, by the measures that are quick for all: arrays of n, named as in ``Measures``.

    ``reads_about_m`` is ``reads_to_m`` to within a seventh, good enough to rank by.
    """

    accent_lab: FloatArray
    body_lab: FloatArray
    de00: FloatArray
    seen: Mapping[float, FloatArray]
    reads_about_m: FloatArray
    cvd_de00: Mapping[str, FloatArray]
    view: PairView

    @property
    def worst_cvd_de00(self) -> FloatArray:
        """The least of the differences under colour vision deficiency."""
        return np.asarray(np.minimum.reduce(list(self.cvd_de00.values())))

    def for_each(self, rows: IntArray) -> Measured:
        """The same for pairs that are these rows, each as often as it stands there."""
        return replace(
            self,
            accent_lab=self.accent_lab[rows],
            body_lab=self.body_lab[rows],
            de00=self.de00[rows],
            seen={distance: values[rows] for distance, values in self.seen.items()},
            reads_about_m=self.reads_about_m[rows],
            cvd_de00={kind: values[rows] for kind, values in self.cvd_de00.items()},
        )

    def one(self, index: int, others: Mapping[str, Lab] = MappingProxyType({})) -> Measures:
        """All measures of one of the pairs, with the colours of the motif's further roles."""
        accent, body = self.accent_lab[index], self.body_lab[index]
        accent_light, body_light = (np.clip(spaces.lab_to_linear(lab), 0.0, 1.0) for lab in (accent, body))
        afar = _afar(self.view, _triple(accent), _triple(body), tuple(sorted(others.items())))
        return Measures(
            accent_lab=_triple(accent),
            body_lab=_triple(body),
            de00=float(self.de00[index]),
            delta_l=float(accent[0] - body[0]),
            luminance_contrast=float(spaces.contrast_ratio(accent_light, body_light)),
            seen={distance: float(values[index]) for distance, values in self.seen.items()},
            reads_to_m=afar.reads_to_m,
            blurs_from_m=afar.blurs_from_m,
            far_lab=afar.far_lab,
            cvd_de00={kind: float(values[index]) for kind, values in self.cvd_de00.items()},
            harmony=float(harmony.harmony(accent, body)),
            lights_de00=dict(afar.lights_de00),
        )


def measure(accent_labs: npt.ArrayLike, body_labs: npt.ArrayLike, view: PairView) -> Measured:
    """Measure pairs of colours in a motif.

    Parameters
    ----------
    accent_labs, body_labs : array_like, shape (n, 3)
        Lab (D65, 2 degree observer).
    view : PairView
        The motif at its bead size.

    Raises
    ------
    ValueError
        If a shape does not fit, or the motif shows no accent or no body.
    """
    accents, bodies = np.atleast_2d(accent_labs).astype(float), np.atleast_2d(body_labs).astype(float)
    if not {"accent", "body"} <= set(view.roles):
        raise ValueError(f"{view.motif.name} shows {view.roles}; a pair needs accent and body")
    return _measured(accents.tobytes(), bodies.tobytes(), view)


# Pairs are measured alike whatever the length: the local page asks for them again at every wish.
@lru_cache(maxsize=8)
def _measured(accent_labs: bytes, body_labs: bytes, view: PairView) -> Measured:
    accents, bodies = (np.frombuffer(labs).reshape(-1, 3) for labs in (accent_labs, body_labs))
    distances = tuple(viewing.DISTANCES_M.values())
    steps = _NEAREST_M * 2.0 ** (np.arange(_STEPS) / 5.0)
    tried = np.concatenate([distances, steps])
    seen = viewing.seen_contrast(view.pattern, view.labs(accents, bodies)[:, None], tried, view.pair)
    shows = seen[:, len(distances) :] >= viewing.READS
    last = _STEPS - 1 - np.argmax(shows[:, ::-1], axis=1)
    return Measured(
        accents,
        bodies,
        delta_e_2000(accents, bodies),
        dict(zip(distances, seen.T, strict=False)),
        np.where(shows.any(axis=1), steps[last], 0.0),
        {str(kind): values for kind, values in vision.de00_seen(accents, bodies).items()},
        view,
    )


@dataclass(frozen=True, slots=True)
class _Afar:
    """Of one pair's measures those that take long."""

    reads_to_m: float
    blurs_from_m: float
    far_lab: Lab
    lights_de00: tuple[tuple[str, float], ...]


@lru_cache(maxsize=256)
def _afar(view: PairView, accent: Lab, body: Lab, others: tuple[tuple[str, Lab], ...]) -> _Afar:
    colours = view.labs(accent, body, dict(others))
    reads_to_m = float(viewing.reads_to_m(view.pattern, colours, view.pair))
    lights = adaptation.de00_under_lights(accent, body)
    return _Afar(
        reads_to_m,
        viewing.blurs_from_m(view.pattern, colours, reads_to_m),
        _triple(viewing.blurs_to(colours, view.pattern.shares)),
        tuple((light, float(value)) for light, value in lights.items()),
    )


def _triple(lab: npt.ArrayLike) -> Lab:
    lightness, a, b = (float(v) for v in np.asarray(lab))
    return lightness, a, b
