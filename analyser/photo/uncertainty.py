"""How far colours read through a calibration may be off: a stated 68 % bound, in CIEDE2000.

Three things add up, as squares: what the calibration leaves open for any colour, more where the chart has no
patch near, and what stray light and noise do to dark colours.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from analyser.arrays import FloatArray
from analyser.colour.difference import delta_e_2000
from analyser.colour.spaces import lab_to_linear, linear_to_lab

# Common practice, no source: stray light in lens and room, and the last code values of eight bits, leave dark
# colours uncertain by about two thousandths of white.
STRAY_LINEAR = 0.002

_REACH = 20.0  # Lab distance over which a patch's error speaks for its neighbours
_BEYOND = 0.08  # CIEDE2000 for each unit of Lab beyond that reach from the nearest patch


@dataclass(frozen=True, slots=True, eq=False)
class Doubt:
    """What is known about the errors of a calibration.

    Attributes
    ----------
    general_de00 : float
        68 % of ordinary colours are within it.
    light_share : float
        Part of it that is the light's, 0 to 1: shared by all colours of the photo, so that it falls out of
        their differences. What is left, in quadrature, is each colour's own.
    known_lab : ndarray, shape (n, 3)
        Colours whose error was measured; n may be 0.
    known_de00 : ndarray, shape (n,)
        Their errors when the fit had not seen them.
    """

    general_de00: float
    light_share: float
    known_lab: FloatArray
    known_de00: FloatArray

    @property
    def light_de00(self) -> float:
        """Stated uncertainty of the light, shared by all colours of the photo."""
        return self.light_share * self.general_de00

    def of(self, lab: npt.ArrayLike) -> FloatArray:
        """Stated uncertainty of colours (..., 3), shape (...)."""
        colours = np.asarray(lab, float)
        general = np.full(colours.shape[:-1], self.general_de00)
        if len(self.known_de00):
            gap = np.linalg.norm(colours[..., None, :] - self.known_lab, axis=-1)
            weight = np.exp(-0.5 * (gap / _REACH) ** 2)
            # the general bound counts as one patch, so that a single lucky patch cannot promise too much
            squares = (weight * self.known_de00**2).sum(axis=-1) + self.general_de00**2
            general = np.sqrt(squares / (weight.sum(axis=-1) + 1))
            general = general + _BEYOND * np.maximum(gap.min(axis=-1) - _REACH, 0)
        linear = np.clip(lab_to_linear(colours), 0, None)
        dark = delta_e_2000(linear_to_lab(linear), linear_to_lab(linear + STRAY_LINEAR))
        stated: FloatArray = np.sqrt(general**2 + dark**2)
        return stated


def flat(general_de00: float, light_share: float) -> Doubt:
    """The same doubt for every colour but the dark ones."""
    return Doubt(general_de00, light_share, np.zeros((0, 3)), np.zeros(0))
