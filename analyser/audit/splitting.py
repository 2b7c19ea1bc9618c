"""Beads that pass for one role and are two: parted by their light, or by where a plan wants another.

The mixture of Gaussians allows for shade, so that two beads of one hue may be one role to it; and beads that
take over from one another along the rope may be joined as two lots.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from analyser.arrays import BoolArray, FloatArray, IntArray
from analyser.imaging.logs import log_features
from analyser.rope.placing import Placed

LIGHT_APART = 2.2
"""Distance of two halves of a role by their light, in their spread, from which they may be two beads."""

PLAN_APART = 3.0
"""Distance of a role's beads in some stretches from those in others, in their spread, from which they are
two beads: two lots of one that look 6 apart lie about 2 apart among beads that differ by a few percent."""

LEAST_BEADS = 16

FEWEST = 5
"""Beads on either side from which two are told."""


def split_where(placed: Placed, role: int, own: BoolArray, other: BoolArray) -> tuple[float, Placed] | None:
    """Part a role by the look of its beads in some places and in others.

    Parameters
    ----------
    placed : Placed
    role : int
    own, other : bool ndarray, shape (n,)
        Of the role's beads in their order: those surely of the first kind, and surely of the second; the rest
        goes with those it looks like.

    Returns
    -------
    apart : float
    placed : Placed
        With a role more. None instead where the beads look alike.
    """
    if min(own.sum(), other.sum()) < FEWEST:
        return None
    mine = np.flatnonzero(placed.beads.role == role)
    column = np.clip(np.round(placed.beads.column[mine]).astype(int), 0, len(placed.light) - 1)
    features = log_features(placed.beads.linear[mine]) - placed.light[column]
    middles = np.stack([np.median(features[own], axis=0), np.median(features[other], axis=0)])
    off = np.concatenate([features[own] - middles[0], features[other] - middles[1]])
    off = off[np.abs(off).sum(axis=1) <= np.percentile(np.abs(off).sum(axis=1), 90)]
    towards = np.linalg.solve(
        np.cov(off, rowvar=False) + np.diag([0.05, 0.02, 0.02]) ** 2, middles[1] - middles[0]
    )
    apart = float(np.sqrt(max(float(towards @ (middles[1] - middles[0])), 0.0)))
    if apart < PLAN_APART:
        return None
    second = (features - middles.mean(axis=0)) @ towards > 0
    new = placed.beads.role.copy()
    new[mine[second]] = len(placed.posterior)
    return apart, _with_roles(placed, new, len(placed.posterior) + 1, role)


def split_by_light(placed: Placed) -> Placed | None:
    """The role whose beads are of two lights parted in two, or None: two beads of one hue pass for one."""
    best: tuple[float, int, BoolArray] | None = None
    for role in range(len(placed.posterior)):
        light = _own_light(placed, role)
        if len(light) < LEAST_BEADS:
            continue
        cut, apart = _two_lights(light)
        if apart > LIGHT_APART and (best is None or apart > best[0]):
            best = apart, role, np.asarray(light > cut)
    if best is None:
        return None
    _, role, lighter = best
    mine = np.flatnonzero(placed.beads.role == role)
    new = placed.beads.role.copy()
    new[mine[lighter]] = len(placed.posterior)
    return _with_roles(placed, new, len(placed.posterior) + 1, role)


def _own_light(placed: Placed, role: int) -> FloatArray:
    """Log light of a role's beads, its course across the tube and the rope's light taken off."""
    beads, strip = placed.beads, placed.strip
    mine = beads.role == role
    light = np.log(np.maximum(beads.linear[mine].mean(axis=1), 1e-5))
    column = np.clip(np.round(beads.column[mine]).astype(int), 0, len(placed.light) - 1)
    light = light - placed.light[column, 0]
    across = (beads.row[mine] - strip.middle) / strip.radius
    design = np.column_stack([np.ones(len(across)), across, across**2])
    weights = np.ones(len(across))
    for _ in range(5):
        fit = np.linalg.lstsq(design * weights[:, None], light * weights, rcond=None)[0]
        off = light - design @ fit
        weights = 1 / np.maximum(1, np.abs(off) / (np.median(np.abs(off)) + 1e-6))
    return np.asarray(light - design[:, 1:] @ fit[1:])


def _two_lights(light: FloatArray) -> tuple[float, float]:
    """The place that parts numbers best in two, and how far apart the parts are in their spread."""
    order = np.sort(light)
    best = 0.0, 0.0
    for cut in range(4, len(order) - 4):
        low, high = order[:cut], order[cut:]
        spread = np.sqrt((low.var() * len(low) + high.var() * len(high)) / len(order)) + 0.02
        # The gap of the means in a spread common to both; a single spread cut in two reaches about 2.6.
        apart = float((high.mean() - low.mean()) / spread) - 1.4
        if apart > best[1]:
            best = float((order[cut - 1] + order[cut]) / 2), apart
    return best


def _with_roles(placed: Placed, role: IntArray, count: int, split: int) -> Placed:
    """Beads with other roles; the pixels of the role that was split go to the nearest bead's."""
    from scipy.spatial import cKDTree

    beads = replace(placed.beads, role=role)
    posterior = np.concatenate(
        [placed.posterior, np.zeros((count - len(placed.posterior), *placed.posterior.shape[1:]), np.float32)]
    )
    mine = np.flatnonzero(placed.beads.role == split)
    rows, columns = np.nonzero(posterior[split] > 1e-3)
    nearest = cKDTree(np.column_stack([beads.row[mine], beads.column[mine]])).query(
        np.column_stack([rows, columns])
    )[1]
    moved = role[mine[nearest]] != split
    to = role[mine[nearest[moved]]]
    posterior[to, rows[moved], columns[moved]] = posterior[split, rows[moved], columns[moved]]
    posterior[split, rows[moved], columns[moved]] = 0
    model = placed.model
    extra = count - len(model.means)
    model = replace(
        model,
        means=np.concatenate([model.means, np.repeat(model.means[split : split + 1], extra, axis=0)]),
        covariances=np.concatenate(
            [model.covariances, np.repeat(model.covariances[split : split + 1], extra, axis=0)]
        ),
        shares=np.append(model.shares, [model.shares[split] / 2] * extra),
    )
    return replace(placed, beads=beads, posterior=posterior, model=model)
