"""What a photo itself tells of the tint of its light: general estimators, each wrong in its own way.

None of them is trusted to correct a photo. Where they agree a cast is likely; how far apart they lie is
part of the stated doubt.

Sources
-------
[1] Buchsbaum (1980), J. Franklin Inst. 310(1), 1-26: grey world.
[2] Finlayson, Trezzi (2004), 12th Color Imaging Conf., 37-41: shades of grey, the Minkowski mean of power 6.
[3] van de Weijer, Gevers, Gijsenij (2007), IEEE Trans. Image Process. 16(9), 2207-2214,
    doi:10.1109/TIP.2007.901808: grey edge.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from analyser.arrays import BoolArray, FloatArray
from analyser.imaging.downscale import Picture, downscale
from analyser.imaging.gradients import gradients

_LONGEST_PX = 300  # the copy that is looked at: texture averages out
_POWER = 6  # [2]


@dataclass(frozen=True, slots=True, eq=False)
class LightEvidence:
    """What the estimators say.

    Attributes
    ----------
    tints : ndarray, shape (3, 2)
        Log of red and blue over green of the light, by grey world, shades of grey and grey edge.
    brightest : float
        Luminance of the lightest things but glints, as the file has it.
    """

    tints: FloatArray
    brightest: float

    @property
    def tint(self) -> FloatArray:
        """Their mean, shape (2,)."""
        return np.asarray(self.tints.mean(axis=0))

    @property
    def apart(self) -> float:
        """Root mean square distance of the estimators from their mean, in logs."""
        return float(np.sqrt(((self.tints - self.tint) ** 2).sum(axis=1).mean()))


def log_tint(linear: npt.ArrayLike) -> FloatArray:
    """Log of red and of blue over green of light (..., 3), shape (..., 2)."""
    logs = np.log(np.maximum(np.asarray(linear, float), 1e-4))
    return np.asarray(np.stack([logs[..., 0] - logs[..., 1], logs[..., 2] - logs[..., 1]], axis=-1))


def light_evidence(linear: Picture, usable: BoolArray) -> LightEvidence:
    """What the estimators say of a photo's light.

    Parameters
    ----------
    linear : float32 ndarray, shape (h, w, 3)
        Linear light as the camera gave it.
    usable : bool ndarray, shape (h, w)
        False where pixels are clipped or hidden.
    """
    small = np.clip(downscale(linear, _LONGEST_PX), 0, None)
    kept = downscale(usable.astype(np.float32), _LONGEST_PX) > 0.9
    if not kept.any():
        return LightEvidence(np.zeros((3, 2)), 1.0)
    across, down = gradients(small, 1.0)
    edges = np.abs(across) + np.abs(down)
    estimates = (
        small[kept].mean(axis=0, dtype=np.float64),
        (small[kept].astype(np.float64) ** _POWER).mean(axis=0) ** (1 / _POWER),
        edges[kept].mean(axis=0, dtype=np.float64),
    )
    return LightEvidence(log_tint(np.stack(estimates)), float(np.percentile(small[kept].max(axis=1), 98)))
