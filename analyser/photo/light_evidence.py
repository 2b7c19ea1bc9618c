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
from functools import cached_property

import numpy as np
import numpy.typing as npt

from analyser.arrays import BoolArray, FloatArray
from analyser.imaging.downscale import Picture, downscale
from analyser.imaging.gradients import gradients, largest_channel

# Lamps run from bluish to reddish along about this line in log red/green and blue/green: a black body from
# 2856 to 6504 K in linear sRGB; what lies off it is pink or green, as things are and lamps are not.
ALONG_LAMPS = np.array([0.48, -0.88])
OFF_LAMPS = np.array([0.88, 0.48])

_LONGEST_PX = 300  # the copy that is looked at: texture averages out
_POWER = 6  # [2]
_SAMPLE_PX = 96  # longest side of the copy whose pixels stand for the whole picture
_BLOCK_PX = 12
_COLOURLESS = 0.001  # log by which the tints of a black-and-white photo differ at most
_DARK = 0.006  # linear light below which a tint is noise


@dataclass(frozen=True, eq=False)
class LightEvidence:
    """What the estimators say.

    Attributes
    ----------
    tints : ndarray, shape (3, 2)
        Log of red and blue over green of the light, by grey world, shades of grey and grey edge.
    brightest : float
        Luminance of the lightest things but glints, as the file has it.
    sample : ndarray, shape (n, 3)
        Linear light of places all over the picture that are neither clipped nor too dark for a tint.
    calm : float
        Log scatter of neighbouring pixels where the picture is calmest: the camera's noise.
    """

    tints: FloatArray
    brightest: float
    sample: FloatArray
    calm: float

    @property
    def tint(self) -> FloatArray:
        """Their mean, shape (2,)."""
        return np.asarray(self.tints.mean(axis=0))

    @property
    def cast(self) -> float:
        """How far along the line of lamps all estimators see the light lean, in logs; positive is warm.

        What is in the picture leads each astray in its own way; a cast shows in all of them.
        """
        along = self.tints @ ALONG_LAMPS
        least = along[np.abs(along).argmin()]
        return 0.0 if along.min() < 0 < along.max() else float(least)

    @property
    def colourless(self) -> bool:
        """A black-and-white photo, which tells nothing of its light."""
        return bool(np.ptp(self.sample_tints, axis=0).max() < _COLOURLESS)

    @cached_property
    def sample_tints(self) -> FloatArray:
        """Log of red and blue over green of the sample, shape (n, 2)."""
        return log_tint(self.sample)

    @cached_property
    def most(self) -> FloatArray:
        """What the most reflecting places of the sample give in each channel, shape (3,)."""
        return np.asarray(np.percentile(self.sample, 97, axis=0))

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
        return LightEvidence(np.zeros((3, 2)), 1.0, np.ones((1, 3)), 0.0)
    across, down = gradients(small, 1.0)
    edges = np.abs(across) + np.abs(down)
    estimates = (
        small[kept].mean(axis=0, dtype=np.float64),
        (small[kept].astype(np.float64) ** _POWER).mean(axis=0) ** (1 / _POWER),
        edges[kept].mean(axis=0, dtype=np.float64),
    )
    return LightEvidence(
        log_tint(np.stack(estimates)),
        float(np.percentile(largest_channel(small[kept]), 98)),
        _sample(linear, usable),
        _calm(linear),
    )


def _sample(linear: Picture, usable: BoolArray) -> FloatArray:
    small = downscale(linear, _SAMPLE_PX)
    kept = (downscale(usable.astype(np.float32), _SAMPLE_PX) > 0.9) & (small.min(axis=2) > _DARK)
    return small[kept].astype(np.float64) if kept.any() else np.ones((1, 3))


def _calm(linear: Picture) -> float:
    """Tenth percentile over blocks of the scatter of the log of green."""
    small = np.log(np.maximum(downscale(linear, 3 * _LONGEST_PX)[..., 1], 1e-3))
    rows, columns = (side // _BLOCK_PX * _BLOCK_PX for side in small.shape)
    if min(rows, columns) == 0:
        return 0.0
    blocks = small[:rows, :columns].reshape(rows // _BLOCK_PX, _BLOCK_PX, -1, _BLOCK_PX)
    return float(np.percentile(blocks.std(axis=(1, 3)), 10))
