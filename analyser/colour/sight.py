"""How much of a wave the eye passes, by its frequency in cycles to the degree of visual angle.

Two published functions: what of a contrast is left to the look of a pattern [1], and how little contrast
sharp sight needs to see that there is one [2].

Sources
-------
[1] Zhang, Wandell (1996), SID Symposium Digest 27, 731-734: S-CIELAB; opponent matrix, weights and widths
    from the authors' code (2 degree matrix; widths are full widths at half maximum). Not taken over: that
    code cuts its Gaussians to a window of one degree; here they are whole.
[2] Barten (2004), Proc. SPIE 5294, 231-238, doi:10.1117/12.537476: formula for the contrast sensitivity of
    the eye; constants also as in Barten (1999), doi:10.1117/3.353254.
"""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt

from analyser.arrays import FloatArray

XYZ_TO_OPPONENT: FloatArray = np.array(
    [
        [0.2787336, 0.7218031, -0.1065520],
        [-0.4487736, 0.2898056, 0.0771569],
        [0.0859513, -0.5899859, 0.5011089],
    ]
)
OPPONENT_TO_XYZ: FloatArray = np.asarray(np.linalg.inv(XYZ_TO_OPPONENT), dtype=np.float64)

BLUR_DEG = 0.05
"""[1]: full width at half maximum of the eye's narrowest kernel; what is narrower is seen as a line."""

# [1]: weight and full width at half maximum in degrees, for luminance, red-green, blue-yellow.
_KERNELS = (
    ((0.9207, BLUR_DEG), (0.105, 0.225), (-0.108, 7.0)),
    ((0.531, 0.0685), (0.33, 0.826)),
    ((0.4877, 0.092), (0.3711, 0.6451)),
)
_NOTHING = -100.0  # exponent of a contrast that is none; exp is slow where it underflows
_LUMINANCE = 100.0  # cd/m2


def modulation(cycles_per_degree: npt.ArrayLike) -> FloatArray:
    """How much of a stripe's contrast the eye passes, by opponent channel [1].

    Parameters
    ----------
    cycles_per_degree : array_like, shape (...)
        Spatial frequency, at least 0.

    Returns
    -------
    ndarray, shape (3, ...)
        Luminance, red-green, blue-yellow; 1 at frequency 0.

    >>> modulation(0.0).round(12).tolist()
    [1.0, 1.0, 1.0]
    """
    squared = np.square(np.pi * np.asarray(cycles_per_degree, dtype=np.float64))
    passed = np.zeros((3, *squared.shape))
    for channel, kernel in enumerate(_KERNELS):
        total = sum(weight for weight, _ in kernel)
        for weight, width in kernel:
            # exp(-r^2 / s^2) with half its height at r = width / 2 has s^2 = width^2 / (4 ln 2), and the
            # Fourier transform exp(-pi^2 s^2 f^2).
            exponent = np.maximum(-(width**2) / (4.0 * math.log(2.0)) * squared, _NOTHING)
            passed[channel] += weight / total * np.exp(exponent)
    return passed


def sensitivity(cycles_per_degree: npt.ArrayLike, width_deg: npt.ArrayLike) -> FloatArray:
    """How sensitive sharp sight is to the contrast of a grating in a long strip, by Barten's formula [2].

    Parameters
    ----------
    cycles_per_degree : array_like, shape (...)
        Above 0.
    width_deg : array_like, shape (...)
        Of the strip, above 0; it is as long as the eye gathers light over, 12 degrees.

    Returns
    -------
    ndarray, shape (...)
        1 / the contrast that is seen half the time, as (highest - lowest) / (highest + lowest) luminance.

    Notes
    -----
    At 100 cd/m2, white in a well-lit room. The formula's term for the size of a square object is taken
    as the mean by products of its two sides, as in the full model of 1999.
    """
    u2 = np.square(np.asarray(cycles_per_degree, dtype=np.float64))
    of_length = 1.0 + 144.0 / 12.0**2 + 0.64 * u2
    of_width = 1.0 + 144.0 / np.square(np.asarray(width_deg, dtype=np.float64)) + 0.64 * u2
    noise = 63.0 / _LUMINANCE**0.83 + 1.0 / (1.0 - np.exp(-0.02 * u2))
    optics = 5200.0 * np.exp(-0.0016 * u2 * (1.0 + 100.0 / _LUMINANCE) ** 0.08)
    return np.asarray(optics / np.sqrt(np.sqrt(of_length * of_width) * noise), dtype=np.float64)
