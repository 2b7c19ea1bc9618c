"""Mixtures of Gaussians over pixels described as log light and two log ratios.

A thin even floor stands for what is of no component. Nothing is random: each fit begins from equal parts of
the pixels along five directions, and the likeliest is taken.

Sources
-------
Dempster, Laird, Rubin (1977), J. R. Stat. Soc. B 39(1) 1-38, for the fit.
"""

from __future__ import annotations

import numpy as np

from analyser.arrays import FloatArray

LOOKS = 4
"""Parts of one look: a role's body, its shade, its gloss and a film's second hue; a cloth and its print."""

LEAST_LOOK = 0.05
"""A part's least share of the role's pixels: five stray beads in a hundred."""

_SAMPLES = 6000
_FIRST, _SECOND = np.triu_indices(3)
_FLOOR = np.diag([0.03, 0.05, 0.05]) ** 2  # spread of pixels of one colour: noise, 4:2:0 chroma, bead to bead
_OUTSIDE = float(np.log(0.02 / 50))  # an even density for a fiftieth of the pixels, over the range of logs


def starts(x: FloatArray, count: int) -> list[FloatArray]:
    """Equal parts of the pixels along five directions, as responsibilities (n, count)."""
    found = []
    for direction in ((1, 0, 0), (0, 1, 0), (0, 0, 1), (0, 1, -1), (0, 1, 1)):
        value = x @ np.array(direction, float)
        cuts = np.quantile(value, np.arange(1, count) / count)
        found.append(np.eye(count)[np.searchsorted(cuts, value)])
    return found


def moments(
    x: FloatArray, w: FloatArray, responsibility: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Shares, means and covariances of components that own pixels in part, from (n, 3), (n,) and (n, k)."""
    return _moments_of(_products(x), w, responsibility)


def _products(x: FloatArray) -> FloatArray:
    """1, the features, their products in pairs, shape (n, 10); densities and moments are linear in them."""
    return np.column_stack([np.ones(len(x)), x, x[:, _FIRST] * x[:, _SECOND]])


def _moments_of(
    products: FloatArray, w: FloatArray, responsibility: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    sums = (responsibility.T * w) @ products
    total = sums[:, 0] + 1e-9
    means = sums[:, 1:4] / total[:, None]
    covariances = np.empty((len(means), 3, 3))
    pairs = sums[:, 4:] / total[:, None] - means[:, _FIRST] * means[:, _SECOND]
    covariances[:, _FIRST, _SECOND] = covariances[:, _SECOND, _FIRST] = pairs
    return total / w.sum(), means, covariances + _FLOOR


def _log_densities(products: FloatArray, means: FloatArray, covariances: FloatArray) -> FloatArray:
    """Log of each component's normal density at each pixel, shape (k, n)."""
    precision = np.linalg.inv(covariances)
    linear = np.einsum("kij,kj->ki", precision, means)
    constant = -0.5 * (np.einsum("ki,ki->k", linear, means) + np.linalg.slogdet(covariances)[1])
    twice = np.where(_FIRST == _SECOND, 0.5, 1.0)
    weights = np.column_stack(
        [constant - 1.5 * np.log(2 * np.pi), linear, -twice * precision[:, _FIRST, _SECOND]]
    )
    return np.asarray(weights @ products.T)


def looks_of(x: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Shares, means and covariances of the parts of one thing's look, from its pixels (n, 3).

    Parts with too few pixels are left out: a stray bead or two, a misplaced edge.
    """
    thin = x[:: max(1, len(x) // _SAMPLES)]
    weights = np.ones(len(thin))
    best = max((em(thin, weights, start) for start in starts(thin, LOOKS)), key=lambda one: one[0])
    shares, means, covariances = moments(thin, weights, best[1])
    kept = shares >= LEAST_LOOK
    return shares[kept] / shares[kept].sum(), means[kept], covariances[kept]


def gaussian_fit(x: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Mean and covariance of pixels of one colour, shape (n, 3)."""
    return x.mean(axis=0), np.cov(x, rowvar=False) + _FLOOR


def em(x: FloatArray, w: FloatArray, responsibility: FloatArray) -> tuple[float, FloatArray]:
    """Fit components to pixels (n, 3) of weights (n,), from responsibilities (n, k): likelihood and those."""
    likelihood, products = -np.inf, _products(x)
    for _ in range(60):
        shares, means, covariances = _moments_of(products, w, responsibility)
        logs = np.log(shares + 1e-12)[:, None] + _log_densities(products, means, covariances)
        top = np.maximum(logs.max(axis=0), _OUTSIDE)
        parts = np.exp(logs - top)
        sums = parts.sum(axis=0) + np.exp(_OUTSIDE - top)
        total = top + np.log(sums)
        responsibility = (parts / sums).T
        before, likelihood = likelihood, float((total * w).sum() / w.sum())
        if likelihood - before < 1e-5:
            break
    return likelihood, responsibility


def log_density(x: FloatArray, mean: FloatArray, covariance: FloatArray) -> FloatArray:
    """Log of the normal density at x, shape (...)."""
    lower = np.linalg.cholesky(covariance)
    whiten = np.linalg.inv(lower)
    # plane by plane: matrix products and sums over so short an axis take five times as long
    off = [x[..., axis] - mean[axis] for axis in range(3)]
    z = [sum(whiten[row, axis] * off[axis] for axis in range(row + 1)) for row in range(3)]
    squares = z[0] * z[0] + z[1] * z[1] + z[2] * z[2]
    return np.asarray(-0.5 * squares - np.log(np.diag(lower)).sum() - 1.5 * np.log(2 * np.pi))
