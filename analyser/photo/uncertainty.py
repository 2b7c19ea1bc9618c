"""How far colours read through a calibration may be off: stated 68 % bounds, in CIEDE2000.

Two doubts are kept apart. That of the light (its tint and strength, the camera's balance) is shared by all
colours of a photo and falls out of their differences. A colour's own (the camera's curve and colour, noise,
stray light in the dark) does not. Together, as squares, they bound a colour; the difference of two colours
of one photo is bounded by their own alone.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from analyser.arrays import FloatArray
from analyser.colour.difference import delta_e_2000
from analyser.colour.spaces import lab_to_linear, linear_to_lab
from analyser.photo.light_evidence import LightEvidence

# Common practice, no source: stray light in lens and room, and the last code values of eight bits, leave dark
# colours uncertain by about two thousandths of white.
STRAY_LINEAR = 0.002

_REACH = 20.0  # Lab distance over which a patch's error speaks for its neighbours
_BEYOND = 0.02  # CIEDE2000 for each unit of Lab beyond that reach from the nearest patch
_ORDINARY_CHROMA, _VIVID_CHROMA = 20.0, 50.0
_LEAST_OWN = 0.4  # of a colour's whole doubt that is its own at least

# Without a reference, CIEDE2000 (70 %), by quantile regression on the errors of drawn flat-lays with phone
# look under seven lamps and of drawn tables, half of these through plain cameras (benchmarks/uncertainty.py):
# what is never known, per unit of log tint that all estimators of the light see, and per unit of log light
# that is missing from the lightest things.
_UNTOLD_DE00, _PER_TINT, _PER_DARKNESS = 7.0, 16.5, 11.0
_WELL_EXPOSED = 0.9  # linear light of the lightest things in a photo that is exposed well
_DARKEST = 0.02


@dataclass(frozen=True, slots=True, eq=False)
class Doubt:
    """What is known about the errors of a calibration.

    Attributes
    ----------
    light_de00 : float
        Of the light, shared by all colours of the photo.
    own_de00 : float
        Of an ordinary colour itself.
    known_lab : ndarray, shape (n, 3)
        Colours whose error was measured; n may be 0.
    known_de00 : ndarray, shape (n,)
        Their errors when the fit had not seen them.
    vivid_de00 : float
        What a colour of chroma 50 has besides, others in proportion: cameras add colour.
    """

    light_de00: float
    own_de00: float
    known_lab: FloatArray
    known_de00: FloatArray
    vivid_de00: float = 0.0

    @property
    def general_de00(self) -> float:
        """68 % of ordinary colours are within it."""
        vivid = self.vivid_de00 * _ORDINARY_CHROMA / _VIVID_CHROMA
        return float(np.linalg.norm([self.light_de00, self.own_de00, vivid]))

    def of(self, lab: npt.ArrayLike) -> FloatArray:
        """Stated uncertainty of colours (..., 3), shape (...): the light's and their own."""
        colours = np.asarray(lab, float)
        vivid = self.vivid_de00 / _VIVID_CHROMA * np.hypot(colours[..., 1], colours[..., 2])
        general = np.sqrt(self.light_de00**2 + self.own_de00**2 + vivid**2)
        told = np.zeros(colours.shape[:-1])
        if len(self.known_de00):
            gap = np.linalg.norm(colours[..., None, :] - self.known_lab, axis=-1)
            weight = np.exp(-0.5 * (gap / _REACH) ** 2)
            told = weight.sum(axis=-1)
            # the general bound counts as one patch, so that a single lucky patch cannot promise too much; the
            # mean, not that of squares, so that a black patch lost in noise does not speak for all near it
            general = ((weight * self.known_de00).sum(axis=-1) + general) / (told + 1)
            general = general + _BEYOND * np.maximum(gap.min(axis=-1) - _REACH, 0)
        linear = np.clip(lab_to_linear(colours), 0, None)
        dark = delta_e_2000(linear_to_lab(linear), linear_to_lab(linear + STRAY_LINEAR))
        dark = dark / np.sqrt(1 + told)  # patches near it have shown what the dark does
        stated: FloatArray = np.sqrt(general**2 + dark**2)
        return stated

    def of_difference(self, lab_1: npt.ArrayLike, lab_2: npt.ArrayLike) -> FloatArray:
        """Stated uncertainty of the difference of two colours of one photo, shapes (..., 3) to (...)."""
        squares = self._own(lab_1) ** 2 + self._own(lab_2) ** 2
        return np.asarray(np.sqrt(squares), dtype=np.float64)

    def _own(self, lab: npt.ArrayLike) -> FloatArray:
        whole = self.of(lab)
        left = np.maximum(whole**2 - self.light_de00**2, (_LEAST_OWN * whole) ** 2)
        return np.asarray(np.sqrt(left), dtype=np.float64)


def flat(light_de00: float, own_de00: float, vivid_de00: float = 0.0) -> Doubt:
    """The same doubt for every colour but the dark and, where cameras may have added colour, the vivid."""
    return Doubt(light_de00, own_de00, np.zeros((0, 3)), np.zeros(0), vivid_de00)


def without_reference(light: LightEvidence, own_de00: float) -> Doubt:
    """The doubt of a photo with nothing to calibrate by, from the evidence for a cast and for wrong exposure.

    Notes
    -----
    Only a cast that all estimators see counts, and only along the line of lamps: no lamp is as green as a
    lawn.
    """
    cast = light.cast
    darkness = max(0.0, float(np.log(_WELL_EXPOSED / max(light.brightest, _DARKEST))))
    whole = float(np.linalg.norm([_UNTOLD_DE00, _PER_TINT * cast, _PER_DARKNESS * darkness]))
    return flat(float(np.sqrt(max(whole**2 - own_de00**2, 0.0))), own_de00)
