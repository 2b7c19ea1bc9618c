"""The change-point test: does a series of colours jump somewhere beyond what varies smoothly.

Each role is tested against itself. Its beads' log light is explained by smooth curves along the rope (lamp,
falloff, slow drift) and across the tube (beads that turn away darken and shift), all of them free
for each channel. What smooth curves cannot follow is a jump; the Wald statistic of a jump at every place
is taken, and the largest is the test statistic (sup-Wald [1]). Its null distribution depends on the
curves, so it is simulated for the very design at hand with normal noise, and continued beyond the
simulation by the chi-square law times the effective number of independent places [2].

Neighbouring beads are alike beyond the curves (hand work), so the statistic is divided by the
variance inflation of their autocorrelation, with Bartlett weights [3].

Sources
-------
[1] Andrews (1993), Econometrica 61(4) 821-856; critical values corrected 2003, Econometrica 71(1) 395-397.
[2] James, James, Siegmund (1987), Biometrika 74(1) 71-83: tails of maximally selected chi-squares.
[3] Newey, West (1987), Econometrica 55(3) 703-708.
[4] Huber (1964), Ann. Math. Stat. 35(1) 73-101, for the weights that keep odd beads from deciding.
[5] Hotelling (1931), Ann. Math. Stat. 2(3) 360-378.
[6] de Boor (1972), J. Approx. Theory 6(1) 50-62, doi:10.1016/0021-9045(72)90080-9: the recursion.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from analyser.arrays import FloatArray

HUBER = 3.0
"""Distance in noise units beyond which a bead counts less; 3 of a three-channel normal is passed by 3 %."""

_RIDGE = 1e-3  # keeps curves defined where no bead lies
_SIMULATIONS = 400


@dataclass(frozen=True, slots=True, eq=False)
class Jump:
    """The clearest jump of a series.

    Attributes
    ----------
    at : float
        Place, in the series' own coordinate.
    size : ndarray, shape (channels,)
        Values after it less values before it.
    variance : ndarray, shape (channels, channels)
        Of ``size``.
    statistic : float
        Largest Wald statistic, autocorrelation allowed for.
    p_value : float
        Chance of one as large without any jump.
    """

    at: float
    size: FloatArray
    variance: FloatArray
    statistic: float
    p_value: float


def splines(x: FloatArray, low: float, high: float, count: int) -> FloatArray:
    """Cubic B-spline basis with evenly spaced knots, shape (n, count); count at least 4.

    By the recursion of [6]: SciPy's gives the same, but importing it takes as long as reading a small photo.
    """
    knots = np.concatenate([[low] * 3, np.linspace(low, high, count - 2), [high] * 3])
    inside = np.clip(x, low, high - 1e-9 * (high - low))[:, np.newaxis]
    basis = ((knots[:-1] <= inside) & (inside < knots[1:])).astype(np.float64)
    for degree in (1, 2, 3):
        width = knots[degree:] - knots[:-degree]
        # knots that coincide have no width, and no part of the basis lies over them
        share = (inside - knots[:-degree]) / np.where(width > 0, width, np.inf)
        rising = share[:, :-1] * basis[:, :-1]
        falling = np.where(width[1:] > 0, 1 - share[:, 1:], 0.0) * basis[:, 1:]
        basis = rising + falling
    return basis


def robust_fit(design: FloatArray, values: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Residuals (n, channels) and Huber weights (n,) of a linear fit, all channels weighted alike."""
    weights = np.ones(len(values))
    residuals = values
    for _ in range(8):
        root = np.sqrt(weights)[:, None]
        stacked = np.vstack([design * root, _RIDGE * np.eye(design.shape[1])])
        target = np.vstack([values * root, np.zeros((design.shape[1], values.shape[1]))])
        residuals = values - design @ np.linalg.lstsq(stacked, target, rcond=None)[0]
        scale = 1.4826 * np.median(np.abs(residuals), axis=0) + 1e-6
        clipped = np.clip(residuals / scale, -3, 3)
        noise = clipped.T @ clipped / len(values) * np.outer(scale, scale) + 1e-10 * np.eye(values.shape[1])
        distance = np.sqrt(np.einsum("ij,ij->i", residuals @ np.linalg.inv(noise), residuals))
        weights = np.minimum(1.0, HUBER / np.maximum(distance, 1e-9))
    return residuals, weights


def find_jump(
    place: npt.ArrayLike,
    values: npt.ArrayLike,
    design: npt.ArrayLike,
    *,
    trim: float = 0.05,
    least: int = 6,
) -> Jump | None:
    """The clearest jump of a multichannel series at any place, against smooth curves.

    Parameters
    ----------
    place : array_like, shape (n,)
        Where each value was taken; any order.
    values : array_like, shape (n, channels)
    design : array_like, shape (n, m)
        The smooth explanations, a constant among them.
    trim : float
        Share of the range of places left out at each end.
    least : int
        Values that must lie on each side.

    Returns
    -------
    Jump or None
        None if there are too few values for the curves.
    """
    s = np.asarray(place, float)
    order = np.argsort(s, kind="stable")
    s, y, x = s[order], np.asarray(values, float)[order], np.asarray(design, float)[order]
    n, channels = y.shape
    if n < x.shape[1] + 2 * channels:
        return None
    residuals, weights = robust_fit(x, y)
    root = np.sqrt(weights)
    left = np.linalg.qr(np.vstack([x * root[:, None], _RIDGE * np.eye(x.shape[1])]))[0][:n]
    low, high = s[0] + trim * (s[-1] - s[0]), s[-1] - trim * (s[-1] - s[0])
    cuts = np.array([i for i in range(max(least, 1), n - least + 1) if low <= (s[i - 1] + s[i]) / 2 <= high])
    if not len(cuts):
        return None
    steps = (np.arange(n)[:, None] >= cuts[None]) * root[:, None]
    free = steps - left @ (left.T @ steps)
    power = (free * steps).sum(axis=0)
    usable = power > 1e-3
    cuts, free, power = cuts[usable], free[:, usable], power[usable]
    if not len(cuts):
        return None
    weighted = residuals * root[:, None]
    freedom = max(n - x.shape[1], 1)
    size = (free.T @ weighted) / power[:, None]
    noise = weighted.T @ weighted / freedom
    statistic = np.einsum("ij,ij->i", size @ np.linalg.inv(noise), size) * power
    best = int(np.argmax(statistic))
    # The noise is what is left once the best jump is taken out, or a true jump would hide itself.
    left_over = weighted - np.outer(free[:, best], size[best])
    noise = left_over.T @ left_over / freedom
    inflation = _inflation(left_over @ np.linalg.cholesky(np.linalg.inv(noise)))
    variance = noise * inflation / power[best]
    wald = float(size[best] @ np.linalg.inv(variance) @ size[best])
    # Neighbouring places fit nearly as well: their mean, each by its likelihood, is steadier than the best.
    likely = np.exp((statistic - statistic[best]) / (2 * inflation))
    likely[np.abs(s[cuts] - s[cuts[best]]) > 0.03 * (s[-1] - s[0])] = 0
    return Jump(
        float(likely @ ((s[cuts - 1] + s[cuts]) / 2) / likely.sum()),
        size[best],
        variance,
        wald,
        _p_value(_as_chi_square(wald, channels, freedom), free / np.sqrt(power), channels),
    )


def _inflation(white: FloatArray) -> float:
    """1 + 2 sum of the weighted autocorrelations of whitened residuals in order, at least 1."""
    lags = min(8, len(white) // 8)
    clipped = np.clip(white, -3, 3)
    total = float((clipped**2).sum())
    value = 1.0
    for lag in range(1, lags + 1):
        product = float((clipped[:-lag] * clipped[lag:]).sum())
        value += 2 * (1 - lag / (lags + 1)) * product / max(total, 1e-12)
    return max(value, 1.0)


def _as_chi_square(wald: float, channels: int, freedom: int) -> float:
    """The chi-square value of the same tail: with estimated noise the statistic is Hotelling's [5]."""
    from scipy.special import chdtri, fdtrc

    left = freedom - channels + 1
    if left < 1:
        return 0.0
    tail = float(fdtrc(channels, left, wald * left / (freedom * channels)))
    return float(chdtri(channels, tail)) if tail > 1e-300 else float(wald)


def _p_value(statistic: float, directions: FloatArray, channels: int) -> float:
    """Chance that the largest of the correlated chi-squares passes ``statistic``.

    ``directions`` has a unit vector of length n for each place.
    """
    from scipy.special import chdtrc

    rng = np.random.default_rng(20)  # seeded: the same photo gives the same answer
    noise = rng.standard_normal((directions.shape[0], _SIMULATIONS * channels))
    drawn = (directions.T @ noise).reshape(directions.shape[1], _SIMULATIONS, channels)
    largest = np.sort((drawn**2).sum(axis=2).max(axis=0))
    if statistic < largest[int(0.9 * _SIMULATIONS)]:
        return float((largest >= statistic).mean())
    # Effective number of independent places, from where a tenth of the simulations lie.
    level = largest[int(0.9 * _SIMULATIONS)]
    places = -np.log(0.9) / float(chdtrc(channels, level))
    # The path over places is rough like a diffusion's, so crossings grow with the level itself [2].
    return float(min(0.1, places * chdtrc(channels, statistic) * statistic / level))
