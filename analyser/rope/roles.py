"""The colour roles of a rope's pixels: which belong to the accent, which to the body.

Within a bead light multiplies all channels, so pixels are described by their mean log light and two
log ratios: shade moves the first, colour the others. A mixture of three normal laws is fitted to
them, one for each of two roles and one for gaps, edges and sheen, with a thin even floor for what is none
of these. The two laws farthest apart for their size are the roles.

Sources
-------
Dempster, Laird, Rubin (1977), J. R. Stat. Soc. B 39(1) 1-38, for the fit; Bhattacharyya (1943), Bull.
Calcutta Math. Soc. 35, 99-109, for the distance of two normal laws.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.floating]

BEAD_OF_RADIUS = 0.62
"""Bead diameter over tube radius to begin with. Touching columns of beads give 0.83 (four round), 0.67
(six) and 0.55 (eight); worked out from the tube's geometry."""

ONE_ROLE_BELOW = 1.7
"""Bhattacharyya distance, shade allowed for, under which two laws are not roles told by hue. Two roles of
rendered ropes lay 2.1 to 49 apart, laws of one colour up to 0.9."""

ONE_HUE_BELOW = 8.0
"""The same without allowing for shade, for roles of one hue: gaps and the table seen through them lie 0.5 to
7 from their own role, a dark and a light brown 22."""

SHADE = np.diag([0.4, 0.0, 0.0]) ** 2
"""Variance that shade adds to the log light of one colour: a factor of 1.5 either way within a rope."""

LAWS = 4
"""Normal laws fitted: two roles, the shade of one of them, and edges with sheen."""

LEAST_SHARE = 0.045
"""A role's least share of the pixels; the fifth bead of a spiral's loop has 0.07 to 0.13 on drawn ropes."""

_SAMPLES = 6000
_FLOOR = np.diag([0.03, 0.05, 0.05]) ** 2  # spread of pixels of one colour: noise, 4:2:0 chroma, bead to bead
_OUTSIDE = float(np.log(0.02 / 50))  # an even density for a fiftieth of the pixels, over the range of logs


@dataclass(frozen=True, slots=True, eq=False)
class RoleModel:
    """Two (or one) normal laws in log light.

    Attributes
    ----------
    means : ndarray, shape (k, 3)
        Mean log light and the log ratios red/green and blue/green, k = 1 or 2.
    covariances : ndarray, shape (k, 3, 3)
    shares : ndarray, shape (k,)
    distance : float
        Bhattacharyya distance of the two; 0 if there is one.
    """

    means: FloatArray
    covariances: FloatArray
    shares: FloatArray
    distance: float


def fit_roles(features: FloatArray, weights: FloatArray, along: FloatArray) -> RoleModel:
    """Find the two roles among pixels.

    Parameters
    ----------
    features : ndarray, shape (n, 3)
        As ``log_features`` gives them, light's slow changes removed.
    weights : ndarray, shape (n,)
        Larger where the surroundings are even, so that bead middles count more than edges.
    along : ndarray, shape (n,)
        Place along the rope, 0 to 1.
    """
    thin = slice(None, None, max(1, len(features) // _SAMPLES))
    x, w = features[thin], weights[thin] / weights[thin].mean()
    best: tuple[float, FloatArray] | None = None
    for start in _starts(x):
        likelihood, responsibility = _em(x, w, start)
        if best is None or likelihood > best[0] + 1e-6:
            best = (likelihood, responsibility)
    assert best is not None
    shares, means, covariances = _laws(x, w, best[1])
    lots = _lots(best[1], w, along[thin])
    able = [law for law in range(LAWS) if shares[law] >= LEAST_SHARE]
    chosen, distance = [int(np.argmax(shares))], 0.0
    # Two beads of one hue, light and dark, are told only by light: tried where hue tells nothing.
    for shade, least in ((SHADE, ONE_ROLE_BELOW), (np.zeros((3, 3)), ONE_HUE_BELOW)):
        pairs = [
            (_bhattacharyya(means[a], covariances[a], means[b], covariances[b], shade), a, b)
            for a in able
            for b in able
            if b < a and not lots[a, b]
        ]
        apart, a, b = max(
            pairs, key=lambda pair: pair[0] * np.sqrt(shares[pair[1]] * shares[pair[2]]), default=(0.0, 0, 0)
        )
        if apart >= least:
            chosen, distance = [a, b], apart
            break
    merged = [_with_shades(law, chosen, means, covariances, shares, lots) for law in chosen]
    return RoleModel(
        np.array([law[0] for law in merged]),
        np.array([law[1] for law in merged]),
        np.array([law[2] for law in merged]),
        float(distance),
    )


def _lots(responsibility: FloatArray, w: FloatArray, along: FloatArray) -> npt.NDArray[np.bool_]:
    """Which laws take over from one another somewhere along the rope: two lots of one role, shape (k, k).

    One lies before a place and the other behind it, four fifths of each, and together they run through.
    """
    count = responsibility.shape[1]
    section = np.minimum((along * 12).astype(int), 11)
    total = np.bincount(section, w, 12) + 1e-9
    course = np.stack([np.bincount(section, w * responsibility[:, law], 12) / total for law in range(count)])
    found = np.zeros((count, count), bool)
    for a in range(count):
        for b in range(count):
            both = course[a] + course[b]
            if a == b or both.min() < 0.4 * both.mean():
                continue
            for cut in range(2, 11):
                before_a, behind_a = course[a, :cut].mean(), course[a, cut:].mean()
                before_b, behind_b = course[b, :cut].mean(), course[b, cut:].mean()
                if before_a > 4 * behind_a and behind_b > 4 * before_b:
                    found[a, b] = found[b, a] = True
    return found


def _with_shades(
    law: int,
    chosen: list[int],
    means: FloatArray,
    covariances: FloatArray,
    shares: FloatArray,
    lots: npt.NDArray[np.bool_],
) -> tuple[FloatArray, FloatArray, float]:
    """A role's law joined with its other lots and its colour in other light: mean, covariance, share."""
    together = [law]
    for other in range(len(means)):
        if other in chosen or shares[other] < LEAST_SHARE:
            continue
        if lots[other, chosen].any():
            if lots[other, law]:
                together.append(other)
            continue
        near = [
            _bhattacharyya(means[other], covariances[other], means[role], covariances[role], 4 * SHADE)
            for role in chosen
        ]
        nearest = chosen[int(np.argmin(near))]
        tint = np.trace(covariances[other][1:, 1:]) / np.trace(covariances[nearest][1:, 1:])
        # Edges mix colours and so scatter in hue; shade does not.
        if (
            nearest == law
            and min(near) < 0.4
            and sum(value < 3 * min(near) for value in near) == 1
            and tint < 2
        ):
            together.append(other)
    part = shares[together] / shares[together].sum()
    mean = part @ means[together]
    off = means[together] - mean
    covariance = np.einsum("i,ijk->jk", part, covariances[together]) + (off * part[:, None]).T @ off
    return mean, covariance, float(shares[together].sum())


def _starts(x: FloatArray) -> list[FloatArray]:
    """Equal parts of the pixels along five directions, as responsibilities (n, LAWS)."""
    found = []
    for direction in ((1, 0, 0), (0, 1, 0), (0, 0, 1), (0, 1, -1), (0, 1, 1)):
        value = x @ np.array(direction, float)
        cuts = np.quantile(value, np.arange(1, LAWS) / LAWS)
        found.append(np.eye(LAWS)[np.searchsorted(cuts, value)])
    return found


def _laws(
    x: FloatArray, w: FloatArray, responsibility: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    part = responsibility * w[:, None]
    total = part.sum(axis=0) + 1e-9
    means = (part.T @ x) / total[:, None]
    covariances = np.empty((LAWS, 3, 3))
    for j in range(LAWS):
        d = x - means[j]
        covariances[j] = (d * part[:, j, None]).T @ d / total[j] + _FLOOR
    return total / w.sum(), means, covariances


def _em(x: FloatArray, w: FloatArray, responsibility: FloatArray) -> tuple[float, FloatArray]:
    likelihood = -np.inf
    for _ in range(60):
        shares, means, covariances = _laws(x, w, responsibility)
        logs = np.column_stack(
            [np.log(shares[j] + 1e-12) + log_density(x, means[j], covariances[j]) for j in range(LAWS)]
            + [np.full(len(x), _OUTSIDE)]
        )
        top = logs.max(axis=1, keepdims=True)
        total = top[:, 0] + np.log(np.exp(logs - top).sum(axis=1))
        responsibility = np.exp(logs[:, :LAWS] - total[:, None])
        before, likelihood = likelihood, float((total * w).sum() / w.sum())
        if likelihood - before < 1e-5:
            break
    return likelihood, responsibility


def log_density(x: FloatArray, mean: FloatArray, covariance: FloatArray) -> FloatArray:
    """Log of the normal density at x, shape (...)."""
    lower = np.linalg.cholesky(covariance)
    z = np.linalg.solve(lower, (x - mean).reshape(-1, 3).T)
    out = -0.5 * (z**2).sum(axis=0) - np.log(np.diag(lower)).sum() - 1.5 * np.log(2 * np.pi)
    return np.asarray(out.reshape(x.shape[:-1]))


def _bhattacharyya(
    mean_a: FloatArray, cov_a: FloatArray, mean_b: FloatArray, cov_b: FloatArray, shade: FloatArray = SHADE
) -> float:
    # Beads of one colour in light and in shade differ in the first feature alone: that counts for little.
    cov_a, cov_b = cov_a + shade, cov_b + shade
    pooled = (cov_a + cov_b) / 2
    d = mean_a - mean_b
    spread = np.linalg.slogdet(pooled)[1] - 0.5 * (np.linalg.slogdet(cov_a)[1] + np.linalg.slogdet(cov_b)[1])
    return float(d @ np.linalg.solve(pooled, d) / 8 + 0.5 * spread)
