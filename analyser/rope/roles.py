"""The colour roles of a rope's pixels: which belong to the accent, which to the body.

Within a bead light multiplies all channels, so pixels are described by their mean log light and two log
ratios: shade moves the first, colour the others. A mixture of Gaussians is fitted to them, one for each of
two roles and more for shade, gaps, edges and sheen, with a thin even floor for what is none of these. The
two components farthest apart for their size are the roles; a further component that is as far from both and
as narrow in hue as a bead's colour is a third.

Sources
-------
Bhattacharyya (1943), Bull. Calcutta Math. Soc. 35, 99-109, for the distance of two Gaussians.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from analyser.arrays import BoolArray, FloatArray
from analyser.imaging.logs import light_of, log_features
from analyser.imaging.mixtures import em, moments, starts

BEAD_OF_RADIUS = 0.62
"""Bead diameter over tube radius to begin with. Touching columns of beads give 0.83 (four round), 0.67
(six) and 0.55 (eight); worked out from the tube's geometry."""

ONE_ROLE_BELOW = 1.7
"""Bhattacharyya distance, shade allowed for, under which two components are not roles told by hue. Two
roles of rendered ropes lay 2.1 to 49 apart, components of one colour up to 0.9."""

ONE_HUE_BELOW = 8.0
"""The same without allowing for shade, for roles of one hue: gaps and the table seen through them lie 0.5 to
7 from their own role, a dark and a light brown 22."""

SHADE = np.diag([0.4, 0.0, 0.0]) ** 2
"""Variance that shade adds to the log light of one colour: a factor of 1.5 either way within a rope."""

COMPONENTS = 4
"""Gaussian components fitted: two roles, the shade of one of them, and edges with sheen. One more is fitted
to see whether there is a third role."""

SPARE_PARTS = 2
"""Components fitted beside those that are roles, for shade, edges and sheen."""

MOST_ROLES = 3

THIRD_ROLE_FROM = 3.3
"""Bhattacharyya distance, shade allowed for, from which a narrow component is a third role: of 71 drawn and
rendered ropes of two roles it was 2.7 at most, of 15 drawn ropes of three the least was 4.2."""

TOLD_FROM = 1.0
"""The same where a plan tells that there is a further colour: its light and its dark are up to 0.9 apart."""

NARROW = 0.26
"""Spread of a role's two log ratios together, up to which a component can be a third role: third roles had
up to 0.25, mixtures of two colours at edges 0.3 to 0.8."""

TOLD_NARROW = 0.35
"""The same for a colour that a plan tells and that lies far from the others: a dark vivid one scatters so."""

LEAST_SHARE = 0.045
"""A role's least share of the pixels; the fifth bead of a spiral's loop has 0.07 to 0.13 on drawn ropes."""

SHADES = np.geomspace(0.08, 1.6, 25)
"""Times its usual light that a bead may have in the tube's shade, or on its top."""

SHADED = 7.8
"""Squared distance to a role in some shade below which a component is that: chi-square, 3, 95 %."""

_SAMPLES = 6000


@dataclass(frozen=True, slots=True, eq=False)
class RoleModel:
    """One to three Gaussians in log light.

    Attributes
    ----------
    means : ndarray, shape (k, 3)
        Mean log light and the log ratios red/green and blue/green, k = 1, 2 or 3.
    covariances : ndarray, shape (k, 3, 3)
    shares : ndarray, shape (k,)
    distance : float
        Bhattacharyya distance of the two farthest apart for their size; 0 if there is one component.
    """

    means: FloatArray
    covariances: FloatArray
    shares: FloatArray
    distance: float

    def add_role(self, mean: FloatArray, covariance: FloatArray, share: float, distance: float) -> RoleModel:
        """With one role more, ``distance`` from the nearest of the others."""
        return RoleModel(
            np.vstack([self.means, mean]),
            np.concatenate([self.covariances, covariance[None]]),
            np.append(self.shares, share),
            max(self.distance, distance),
        )

    def add_lot(self, role: int, mean: FloatArray, covariance: FloatArray, share: float) -> RoleModel:
        """With another lot of a role, joined with it in one component."""
        # Both count alike, however short one is, or its beads would lie outside the component.
        mean, covariance, _ = _merge(
            np.ones(2), np.stack([self.means[role], mean]), np.stack([self.covariances[role], covariance])
        )
        means, covariances, shares = self.means.copy(), self.covariances.copy(), self.shares.copy()
        means[role], covariances[role], shares[role] = mean, covariance, shares[role] + share
        return RoleModel(means, covariances, shares, self.distance)


@dataclass(frozen=True, slots=True, eq=False)
class _Mixture:
    """The components of a fitted mixture and which pairs of them are two lots of one role."""

    shares: FloatArray
    means: FloatArray
    covariances: FloatArray
    lots: BoolArray

    def apart(self, a: int, b: int, shade: FloatArray = SHADE) -> float:
        return bhattacharyya_distance(
            self.means[a], self.covariances[a], self.means[b], self.covariances[b], shade
        )

    def shades(self, component: int, role: int) -> bool:
        """Whether a component is a role's colour in less light: near black all hues run together."""
        shaded = log_features(light_of(self.means[role]) * SHADES[:, None])
        off = shaded - self.means[component]
        precision = np.linalg.inv((self.covariances[component] + self.covariances[role]) / 2)
        return bool(np.einsum("ij,ij->i", off @ precision, off).min() < SHADED)

    def able(self) -> list[int]:
        return [component for component in range(len(self.shares)) if self.shares[component] >= LEAST_SHARE]


def fit_roles(
    features: FloatArray, weights: FloatArray, along: FloatArray, *, most: int = MOST_ROLES
) -> RoleModel:
    """Find the roles among pixels.

    Parameters
    ----------
    features : ndarray, shape (n, 3)
        As ``log_features`` gives them, light's slow changes removed.
    weights : ndarray, shape (n,)
        Larger where the surroundings are even, so that bead middles count more than edges.
    along : ndarray, shape (n,)
        Place along the rope, 0 to 1.
    most : int
        Roles looked for at most, 2 or 3; a third costs another fit.
    """
    thin = slice(None, None, max(1, len(features) // _SAMPLES))
    x, w, s = features[thin], weights[thin] / weights[thin].mean(), along[thin]
    third = None
    if most == MOST_ROLES:
        mixture = _fit_mixture(x, w, s, COMPONENTS + 1)
        chosen, distance = _two_roles(mixture)
        third = _third_role(mixture, chosen)
    if third is None:
        mixture = _fit_mixture(x, w, s, COMPONENTS)
        chosen, distance = _two_roles(mixture)
    else:
        chosen.append(third)
    merged = [_join_shades(component, chosen, mixture) for component in chosen]
    return RoleModel(
        np.array([component[0] for component in merged]),
        np.array([component[1] for component in merged]),
        np.array([component[2] for component in merged]),
        float(distance),
    )


def fit_told(
    features: FloatArray, weights: FloatArray, along: FloatArray, count: int, *, spare: int
) -> RoleModel:
    """Find so many colours of beads among pixels, as a plan tells them.

    Parameters
    ----------
    features, weights, along
        As of ``fit_roles``.
    count : int
        Colours looked for.
    spare : int
        Components more than that, for shade, edges and sheen.

    Returns
    -------
    RoleModel
        Of ``count`` components, or of those that are clear. Beads that take over from one another along the
        rope are different ones here, not lots of one.
    """
    thin = slice(None, None, max(1, len(features) // _SAMPLES))
    x, w = features[thin], weights[thin] / weights[thin].mean()
    mixture = _fit_mixture(x, w, along[thin], count + spare)
    mixture = replace(mixture, lots=np.zeros_like(mixture.lots))
    chosen, distance = _two_roles(mixture)
    while len(chosen) < count:
        clear = []
        for component in mixture.able():
            apart = min(mixture.apart(component, role) for role in chosen)
            widest = TOLD_NARROW if apart >= THIRD_ROLE_FROM else NARROW
            narrow = np.trace(mixture.covariances[component][1:, 1:]) <= widest**2
            if component not in chosen and narrow and apart >= TOLD_FROM:
                clear.append((apart * np.sqrt(mixture.shares[component]), component))
        if not clear:
            break
        chosen.append(max(clear)[1])
    merged = [_join_shades(component, chosen, mixture) for component in chosen]
    return RoleModel(
        np.array([component[0] for component in merged]),
        np.array([component[1] for component in merged]),
        np.array([component[2] for component in merged]),
        float(distance),
    )


def _fit_mixture(x: FloatArray, w: FloatArray, along: FloatArray, count: int) -> _Mixture:
    best: tuple[float, FloatArray] | None = None
    for start in starts(x, count):
        likelihood, responsibility = em(x, w, start)
        if best is None or likelihood > best[0] + 1e-6:
            best = (likelihood, responsibility)
    assert best is not None
    return _Mixture(*moments(x, w, best[1]), _lots(best[1], w, along))


def _two_roles(mixture: _Mixture) -> tuple[list[int], float]:
    """The two components that are roles, or the one, and their distance."""
    able = mixture.able()
    # Two beads of one hue, light and dark, are told only by light: tried where hue tells nothing.
    for shade, least in ((SHADE, ONE_ROLE_BELOW), (np.zeros((3, 3)), ONE_HUE_BELOW)):
        pairs = [
            (mixture.apart(a, b, shade), a, b) for a in able for b in able if b < a and not mixture.lots[a, b]
        ]
        clear = [pair for pair in pairs if pair[0] >= least]
        if clear:
            apart, a, b = max(
                clear, key=lambda pair: pair[0] * np.sqrt(mixture.shares[pair[1]] * mixture.shares[pair[2]])
            )
            return [a, b], apart
    return [int(np.argmax(mixture.shares))], 0.0


def _third_role(mixture: _Mixture, chosen: list[int]) -> int | None:
    """A further component as far from both roles as roles are, and as narrow in hue, or None."""
    if len(chosen) < 2:
        return None
    found = [
        (
            min(mixture.apart(component, role) for role in chosen) * np.sqrt(mixture.shares[component]),
            component,
        )
        for component in mixture.able()
        if component not in chosen
        and not mixture.lots[component, chosen].any()
        and min(mixture.apart(component, role) for role in chosen) >= THIRD_ROLE_FROM
        and np.trace(mixture.covariances[component][1:, 1:]) <= NARROW**2
        and not any(mixture.shades(component, role) for role in chosen)
    ]
    return max(found)[1] if found else None


def _lots(responsibility: FloatArray, w: FloatArray, along: FloatArray) -> BoolArray:
    """Which components take over from one another along the rope: two lots of one role, shape (k, k).

    One lies before a place and the other behind it, four fifths of each, and together they run through.
    """
    count = responsibility.shape[1]
    section = np.minimum((along * 12).astype(int), 11)
    total = np.bincount(section, w, 12) + 1e-9
    course = np.stack(
        [np.bincount(section, w * responsibility[:, component], 12) / total for component in range(count)]
    )
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


def _join_shades(
    component: int, chosen: list[int], mixture: _Mixture
) -> tuple[FloatArray, FloatArray, float]:
    """A role joined with its other lots and its colour in other light: mean, covariance, share."""
    shares, means, covariances, lots = mixture.shares, mixture.means, mixture.covariances, mixture.lots
    together = [component]
    for other in range(len(means)):
        if other in chosen or shares[other] < LEAST_SHARE:
            continue
        if lots[other, chosen].any():
            if lots[other, component]:
                together.append(other)
            continue
        near = [mixture.apart(other, role, 4 * SHADE) for role in chosen]
        nearest = chosen[int(np.argmin(near))]
        tint = np.trace(covariances[other][1:, 1:]) / np.trace(covariances[nearest][1:, 1:])
        # Edges mix colours and so scatter in hue; shade does not.
        if (
            nearest == component
            and min(near) < 0.4
            and sum(value < 3 * min(near) for value in near) == 1
            and tint < 2
        ):
            together.append(other)
    return _merge(shares[together], means[together], covariances[together])


def _merge(
    shares: FloatArray, means: FloatArray, covariances: FloatArray
) -> tuple[FloatArray, FloatArray, float]:
    """One component of the same mean and covariance as several together: mean, covariance, share."""
    part = shares / shares.sum()
    mean = part @ means
    off = means - mean
    covariance = np.einsum("i,ijk->jk", part, covariances) + (off * part[:, None]).T @ off
    return mean, covariance, float(shares.sum())


def bhattacharyya_distance(
    mean_a: FloatArray, cov_a: FloatArray, mean_b: FloatArray, cov_b: FloatArray, shade: FloatArray = SHADE
) -> float:
    """Bhattacharyya distance of two Gaussians, shade allowed for."""
    # Beads of one colour in light and in shade differ in the first feature alone: that counts for little.
    cov_a, cov_b = cov_a + shade, cov_b + shade
    pooled = (cov_a + cov_b) / 2
    d = mean_a - mean_b
    spread = np.linalg.slogdet(pooled)[1] - 0.5 * (np.linalg.slogdet(cov_a)[1] + np.linalg.slogdet(cov_b)[1])
    return float(d @ np.linalg.solve(pooled, d) / 8 + 0.5 * spread)
