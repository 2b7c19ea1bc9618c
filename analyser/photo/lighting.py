"""The light field: how the light differs over the frame, told from a plain background.

A field is a smooth relative light, per channel, in linear light; dividing a photo by it makes the
light even without changing the colour at the field's own anchor.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.floating]

_GRID = 48  # cells a side on which the exponential is taken; the field is far smoother than that


@dataclass(frozen=True, slots=True, eq=False)
class LightField:
    """Relative light over the frame, per channel, 1 at the anchor.

    Attributes
    ----------
    coefficients : ndarray, shape (n, n, 3)
        Of ``log(light) = sum c[i, j] y**i x**j`` with x, y from -1 to 1 over the frame, y down.
    ratio : float
        Brightest to darkest luminance over the frame, at least 1.
    cast_ratio : float
        Largest to smallest red-to-blue ratio over the frame, at least 1; above 1 the light is mixed.
    """

    coefficients: FloatArray
    ratio: float
    cast_ratio: float

    def at(self, height: int, width: int) -> npt.NDArray[np.float32]:
        """The field over the whole frame at that size.

        Returns
        -------
        ndarray, shape (height, width, 3)
            Relative linear light, above 0.
        """
        rows, columns = min(_GRID, height), min(_GRID, width)
        # one more cell beyond each edge, so that the outer half cells are interpolated too
        y = (np.arange(-1, rows + 1) + 0.5) / rows
        x = (np.arange(-1, columns + 1) + 0.5) / columns
        small = self.at_points(np.stack(np.meshgrid(x, y), axis=-1)).astype(np.float32)
        fy, fx = rows / height, columns / width
        to_small = np.array([[fx, 0, 0.5 * fx + 0.5], [0, fy, 0.5 * fy + 0.5]])
        grown: npt.NDArray[np.float32] = cv2.warpAffine(
            small, to_small, (width, height), flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
        )
        return grown

    def at_points(self, place: npt.ArrayLike) -> FloatArray:
        """The field at places given as fractions of the frame.

        Parameters
        ----------
        place : array_like, shape (..., 2)
            x and y in [0, 1], x to the right, y down.

        Returns
        -------
        ndarray, shape (..., 3)
        """
        xy = 2 * np.asarray(place, float) - 1
        order = self.coefficients.shape[0]
        powers_y = np.vander(xy[..., 1].ravel(), order, increasing=True)
        powers_x = np.vander(xy[..., 0].ravel(), order, increasing=True)
        log_light = np.einsum("pi,pj,ijc->pc", powers_y, powers_x, self.coefficients)
        return np.exp(log_light).reshape(*xy.shape[:-1], 3)
