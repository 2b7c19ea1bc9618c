"""The illumination field: how light differs over the frame, told from a plain background round the subject.

A plain background has one reflectance, perhaps mottled; what varies slowly over it is the light. The
field is a low polynomial in the logarithm of linear light, its degree chosen by what predicts left-out parts
of the background. Strength is fitted on luminance; colour only where the light is clearly mixed, because
the chroma of a JPEG wanders by a hundredth or two on its own.
"""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass

import cv2
import numpy as np
import numpy.typing as npt

from analyser.arrays import BoolArray, FloatArray
from analyser.colour.spaces import linear_to_srgb, relative_luminance
from analyser.imaging.downscale import SMALLEST_PX
from analyser.photo.reading import Photo

_GRID = 48  # cells a side on which the exponential is taken; the field is far smoother than that
_LONGEST_PX = 192  # the copy on which the background is told: texture averages out, beads do not vanish
_BLOCKS = 14  # parts along the longer side, each giving one value to the fit

# Chosen on drawn and rendered scenes whose field is known; where two did as well, the more cautious one.
_STEEPEST = 0.25  # log steps over two pixels of the copy above which nothing counts as a background
_COVERS = 0.35  # of the frame, at least
_MOTTLED = 0.15  # scatter of the blocks about the fit, in logs; felt, the worst of the plain ones, has 0.08
_SIMPLER_MAY_LOSE = 1.12  # a lower degree is kept if it predicts left-out blocks at most this much worse
_EVEN = 0.85  # no field where the best degree does not predict at least this much better than none
_MIXED = 1.08  # least ratio of red to blue across the frame that is called mixed light,
_CHROMA_STEPS = 2.0  # and a JPEG's chroma may be off by that many code values, which is much in the dark


@dataclass(frozen=True, slots=True, eq=False)
class IlluminationField:
    """Relative light over the frame, per channel, 1 at the anchor.

    Attributes
    ----------
    coefficients : ndarray, shape (n, n, 3)
        Of ``log(light) = sum c[i, j] y**i x**j`` with x, y from -1 to 1 over the frame, y down.
    ratio : float
        Brightest to darkest luminance over the frame, at least 1.
    cast_ratio : float
        Largest to smallest red-to-blue ratio over the frame; 1 unless the light is mixed.
    scatter : float
        Standard deviation of the background's parts about the field, in logs: its mottle.
    background_linear : ndarray, shape (3,)
        Linear light of the background at the anchor.
    cover : float
        Share of the frame that showed the background.
    limits : ndarray, shape (2, 3), or None
        Least and greatest logarithm that is believed: where the background was seen on a part of the frame
        only, a polynomial runs away beyond it.
    """

    coefficients: FloatArray
    ratio: float
    cast_ratio: float
    scatter: float
    background_linear: FloatArray
    cover: float
    limits: FloatArray | None = None

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
        grown = cv2.warpAffine(
            small, to_small, (width, height), flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
        )
        return np.asarray(grown, np.float32)

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
        logs = _log_light(self.coefficients, np.asarray(place, float))
        return np.exp(logs if self.limits is None else np.clip(logs, *self.limits))

    def anchored(self, x: float, y: float) -> IlluminationField:
        """The same field, 1 at a place given as fractions of the frame."""
        level = _log_light(self.coefficients, np.array([x, y]))
        moved = self.coefficients.copy()
        moved[0, 0] -= level
        return dataclasses.replace(
            self,
            coefficients=moved,
            background_linear=self.background_linear * np.exp(level),
            limits=None if self.limits is None else self.limits - level,
        )


def illumination_field(photo: Photo) -> IlluminationField | None:
    """The illumination field over a photo, anchored at its mean; None without a plain background.

    Even light gives a field of ratio 1, so that the background's colour is known all the same.
    """
    height, width = photo.linear.shape[:2]
    if min(height, width) < SMALLEST_PX:
        return None
    shrink = min(1.0, _LONGEST_PX / max(height, width))
    size = max(8, round(width * shrink)), max(8, round(height * shrink))
    small = cv2.resize(photo.linear, size, interpolation=cv2.INTER_AREA)
    hidden = photo.clipped if photo.opaque is None else photo.clipped | ~photo.opaque
    # a box filter also thins single clipped pixels of noise
    unusable = np.asarray(cv2.resize(hidden.astype(np.float32), size, interpolation=cv2.INTER_AREA)) > 0.1
    logs = np.log(np.maximum(small, 1e-3))
    plain = _plain(logs.astype(np.float32), unusable)
    if plain is None:
        return None
    place, light_blocks, weight = _blocks(plain, np.asarray(small, np.float64))
    if len(place) < 20:
        return None
    field = fitted_field(place, light_blocks, weight, float(plain.mean()))
    return None if field.scatter > _MOTTLED else field


def fitted_field(place: FloatArray, light: FloatArray, weight: FloatArray, cover: float) -> IlluminationField:
    """The field that parts of one plain surface show, anchored at its mean over the frame.

    Parameters
    ----------
    place : ndarray, shape (n, 2)
        Of the parts, as fractions of the frame.
    light : ndarray, shape (n, 3)
        Their mean linear light.
    weight : ndarray, shape (n,)
        Up to 1.
    cover : float
        Share of the frame they cover.
    """
    luminance = np.log(np.maximum(relative_luminance(light), 1e-4))
    level, scatter = _fitted(place, luminance, weight, 3)
    coefficients = np.repeat(level[..., None], 3, axis=2)
    cast_ratio = 1.0
    logs_blocks = np.log(np.maximum(light, 1e-4))
    casts = [_fitted(place, logs_blocks[:, channel] - luminance, weight, 2)[0] for channel in range(3)]
    cast = np.pad(np.stack(casts, axis=-1), ((0, 1), (0, 1), (0, 0)))
    red_to_blue = _span(cast[..., 0] - cast[..., 2])
    darkest_code = 255 * linear_to_srgb(np.median(light, axis=0)).min()
    # 2.4: the slope of the sRGB curve in logs
    if red_to_blue > _MIXED + 2.4 * _CHROMA_STEPS / max(float(darkest_code), 1.0):
        cast[0, 0] = 0
        coefficients = coefficients + cast
        cast_ratio = red_to_blue
    field = IlluminationField(
        coefficients,
        _span(coefficients @ [0.2126, 0.7152, 0.0722]),
        cast_ratio,
        scatter,
        np.ones(3),
        cover,
    )
    grid = field.at(24, 36).reshape(-1, 3)
    coefficients[0, 0] -= np.log(grid).mean(axis=0)
    even = logs_blocks - _log_light(coefficients, place)
    background = np.exp(np.median(even, axis=0))
    return dataclasses.replace(field, coefficients=coefficients, background_linear=background)


def _plain(logs: npt.NDArray[np.float32], unusable: BoolArray) -> BoolArray | None:
    """The largest region without steps, if it is a background round a subject."""
    smooth = cv2.GaussianBlur(logs, (0, 0), 1.5)
    steps = np.zeros(logs.shape[:2], np.float32)
    steps[:, 1:-1] = np.abs(smooth[:, 2:] - smooth[:, :-2]).max(axis=2)
    steps[1:-1] = np.maximum(steps[1:-1], np.abs(smooth[2:] - smooth[:-2]).max(axis=2))
    limit = max(0.03, 3 * float(np.median(steps)))
    if limit > _STEEPEST:
        return None
    level = cv2.morphologyEx(
        ((steps < limit) & ~unusable).astype(np.uint8), cv2.MORPH_OPEN, np.ones((3, 3), np.uint8)
    )
    count, labels, stats, _ = cv2.connectedComponentsWithStats(level, connectivity=4)
    if count < 2:
        return None
    largest = labels == 1 + int(np.argmax(stats[1:, cv2.CC_STAT_AREA]))
    height, width = largest.shape
    deep, wide = max(1, height // 12), max(1, width // 12)
    corners = (np.s_[:deep, :wide], np.s_[:deep, -wide:], np.s_[-deep:, :wide], np.s_[-deep:, -wide:])
    reaches = [(largest | unusable)[corner].mean() > 0.3 for corner in corners]  # burnt-out paper counts
    if largest.mean() < _COVERS or sum(reaches) < 3:
        return None
    # away from edges, where blur and soft shadows mix in
    return np.asarray(cv2.erode(largest.astype(np.uint8), np.ones((5, 5), np.uint8)) > 0)


def _blocks(plain: BoolArray, small: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Parts of the background: place as fractions (n, 2), mean linear light (n, 3), weight (n,)."""
    height, width = plain.shape
    rows = max(4, round(_BLOCKS * height / max(height, width)))
    columns = max(4, round(_BLOCKS * width / max(height, width)))
    block = (np.arange(height)[:, None] * rows // height) * columns + np.arange(width) * columns // width
    which = block[plain]
    y, x = np.nonzero(plain)

    def total(values: FloatArray) -> FloatArray:
        return np.bincount(which, values, rows * columns).astype(np.float64)

    count = total(np.ones(len(which)))
    share = count / np.bincount(block.ravel(), minlength=rows * columns)
    kept = share > 0.25
    size = count[kept]
    place = (
        np.stack([total((x + 0.5) / width)[kept], total((y + 0.5) / height)[kept]], axis=-1) / size[:, None]
    )
    light = np.stack([total(small[..., channel][plain])[kept] for channel in range(3)], axis=-1)
    return place, light / size[:, None], share[kept]


def _fitted(
    place: FloatArray, value: FloatArray, weight: FloatArray, highest: int
) -> tuple[FloatArray, float]:
    """Coefficients (highest + 1, highest + 1) of the simplest polynomial that predicts well; its scatter."""
    tries = [_robust_fit(place, value, weight, degree) for degree in range(highest + 1)]
    errors = [error for _, error, _ in tries]
    bar = _SIMPLER_MAY_LOSE * min(errors)
    degree = next(degree for degree, error in enumerate(errors) if error <= bar)
    if errors[degree] > _EVEN * errors[0]:
        degree = 0
    solved, _, scatter = tries[degree]
    coefficients = np.zeros((highest + 1, highest + 1))
    coefficients[tuple(np.array(_powers(degree)).T)] = solved
    return coefficients, scatter


def _robust_fit(
    place: FloatArray, value: FloatArray, weight: FloatArray, degree: int
) -> tuple[FloatArray, float, float]:
    """Biweight polynomial fit: coefficients, root mean square of left-out errors, robust scatter."""
    xy = 2 * place - 1
    terms = np.stack([xy[:, 1] ** i * xy[:, 0] ** j for i, j in _powers(degree)], axis=-1)
    now = weight
    for _ in range(12):
        inverse = np.linalg.inv((terms * now[:, None]).T @ terms + 1e-9 * np.eye(terms.shape[1]))
        solved = inverse @ (terms * now[:, None]).T @ value
        residual = value - terms @ solved
        scatter = 1.4826 * float(np.median(np.abs(residual))) + 1e-3
        now = weight * np.clip(1 - (residual / (4.5 * scatter)) ** 2, 0, 1) ** 2
    leverage = now * np.einsum("ni,ij,nj->n", terms, inverse, terms)
    left_out = np.minimum(np.abs(residual / (1 - np.minimum(leverage, 0.95))), 0.5)
    return solved, float(np.sqrt((weight * left_out**2).sum() / weight.sum())), scatter


def _powers(degree: int) -> list[tuple[int, int]]:
    return [(i, j) for i in range(degree + 1) for j in range(degree + 1 - i)]


def _log_light(coefficients: FloatArray, place: FloatArray) -> FloatArray:
    """Log of the light, shape (..., 3), at fractions of the frame, shape (..., 2)."""
    order = len(coefficients)
    xy = 2 * place.reshape(-1, 2) - 1
    powers_x, powers_y = (np.vander(axis, order, increasing=True) for axis in xy.T)
    light: FloatArray = np.einsum("pi,pj,ijc->pc", powers_y, powers_x, coefficients)
    return light.reshape(*place.shape[:-1], 3)


def _span(coefficients: FloatArray) -> float:
    """Largest to smallest value over the frame of the exponential of a polynomial (n, n)."""
    axis = np.linspace(-1, 1, 25)
    powers = np.vander(axis, len(coefficients), increasing=True)
    return float(np.exp(np.ptp(powers @ coefficients @ powers.T)))
