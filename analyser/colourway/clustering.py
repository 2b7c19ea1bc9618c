"""Weighted k-means on few representative colours, near its global optimum and always the same.

Pure functions on arrays of Lab colours; nothing here knows photos or beads. Pixels are first gathered
into bins whose sums are exact whole numbers, so that no result depends on the order of the pixels.

Sources
-------
[1] Lloyd (1982), IEEE Trans. Inf. Theory 28(2), 129-137, doi:10.1109/TIT.1982.1056489.
[2] Arthur, Vassilvitskii (2007), k-means++, Proc. 18th SODA, 1027-1035; the greedy form with several
    candidates a step is theirs too.
[3] Kaukoranta, Fränti, Nevalainen (1998), Opt. Eng. 37(10), doi:10.1117/1.601924: moves that merge two
    clusters and split a third.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from analyser.arrays import FloatArray, IntArray

# Lab is summed in whole 1/64 units: 2^53 holds the sum of any photo exactly, in any order.
_UNIT = 64
# A table of at most this many bins is counted; photos of few colours get finer bins for it.
_TABLE = 150_000
# Two starts whose sums differ by less are the same solution.
_SAME = 1e-4
# ``steady_centres`` averages solutions, whose weight falls to 1/e where the sum of squares is so much larger.
_NEAR_TIE = 0.01


def gather(planes: Sequence[FloatArray], most: int) -> tuple[FloatArray, FloatArray]:
    """Mean colour and number of pixels of the occupied bins of Lab.

    Parameters
    ----------
    planes : three ndarrays, shape (n,)
        L*, a* and b* of the pixels.
    most : int
        Bins are put together until there are no more than this.

    Returns
    -------
    colours : ndarray, shape (m, 3)
    weights : ndarray, shape (m,)
        Their number of pixels.
    """
    whole = [np.rint(plane * np.float32(_UNIT)) for plane in planes]
    spans = [(float(part.min()), float(part.max())) for part in whole]
    extent = math.prod((high - low) / _UNIT + 1 for low, high in spans)
    step = max(_UNIT / 4, math.ceil(_UNIT * math.cbrt(extent / _TABLE)))
    code, size = np.zeros(len(whole[0]), dtype=np.int32), 1
    for part in whole:
        # Bins are counted from neutral black, not from the darkest pixel: a crop keeps them. The least and
        # greatest bin are read off the bins themselves: rounded apart from them they may lie one off.
        place = np.floor(part * np.float32(1 / step)).astype(np.int32)
        first = int(place.min())
        side = int(place.max()) - first + 1
        code *= side
        code += place - first
        size *= side
    count = np.bincount(code, minlength=size)
    used = np.flatnonzero(count)
    sums = [np.bincount(code, part, size)[used] for part in whole]
    weights = count[used].astype(float)
    return coarser(np.stack(sums, axis=1) / (_UNIT * weights[:, np.newaxis]), weights, most)


def coarser(colours: FloatArray, weights: FloatArray, most: int) -> tuple[FloatArray, FloatArray]:
    """Put colours together until there are no more than ``most``.

    Cells are halved at their mean along their longest axis, those of the largest sum of squares first:
    where colours lie dense or spread, cells are many.
    """
    if len(colours) <= most:
        return colours, weights
    cell = np.zeros(len(colours), dtype=np.intp)
    number = 1
    while True:
        total = np.bincount(cell, weights, number).astype(np.float64)
        sums = [np.bincount(cell, weights * part, number) for part in colours.T]
        mean = np.stack(sums, axis=1).astype(np.float64) / total[:, np.newaxis]
        off = colours - mean[cell]
        spread = np.stack([np.bincount(cell, weights * part * part, number) for part in off.T], axis=1)
        room = min(most - number, number)
        own = spread.sum(axis=1)
        largest = np.argsort(-own, kind="stable")[:room]
        largest = largest[own[largest] > 1e-9 * own.sum()]
        if room == 0 or len(largest) == 0:
            return mean, total
        halved = np.full(number, -1, dtype=np.intp)
        halved[largest] = number + np.arange(len(largest))
        axis = spread.argmax(axis=1)
        upper = (halved[cell] >= 0) & (off[np.arange(len(cell)), axis[cell]] > 0)
        cell[upper] = halved[cell[upper]]
        number += len(largest)


def squared(colours: FloatArray, centres: FloatArray) -> FloatArray:
    """Squared distances, shape (n, k)."""
    away = colours @ (-2.0 * centres.T)
    away += np.einsum("ij,ij->i", colours, colours)[:, np.newaxis]
    away += np.einsum("ij,ij->i", centres, centres)
    return np.asarray(np.maximum(away, 0.0, out=away), dtype=float)


def nearest(colours: FloatArray, centres: FloatArray) -> IntArray:
    """Index of the nearest centre, shape (n,)."""
    return np.asarray(squared(colours, centres).argmin(axis=1), dtype=np.intp)


def distortion(colours: FloatArray, weights: FloatArray, centres: FloatArray) -> float:
    """Mean squared distance to the nearest centre."""
    return float(squared(colours, centres).min(axis=1) @ weights / weights.sum())


def means(colours: FloatArray, weights: FloatArray, label: IntArray, count: int) -> FloatArray:
    """Weighted mean colour of each label; NaN where a label has no weight."""
    total = np.bincount(label, weights, count)
    sums = np.stack([np.bincount(label, weights * part, count) for part in colours.T], axis=1)
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.asarray(sums / total[:, np.newaxis], dtype=float)


def lloyd(
    colours: FloatArray, weights: FloatArray, centres: FloatArray, rounds: int = 100, still: float = 1e-2
) -> FloatArray:
    """Move centres to the means of what is nearest to them, until none moves by more than ``still`` [1]."""
    for _ in range(rounds):
        moved = means(colours, weights, nearest(colours, centres), len(centres))
        moved = np.where(np.isnan(moved), centres, moved)
        step = np.abs(moved - centres).max()
        centres = moved
        if step < still:
            break
    return centres


def best_centres(colours: FloatArray, weights: FloatArray, count: int, starts: int = 24) -> FloatArray:
    """Centres of nearly the least sum of weighted squared distances.

    Many greedy starts are run side by side on few bins; the best few are improved by merging two centres
    and splitting a third, then settled on all the colours given.

    Parameters
    ----------
    colours : ndarray, shape (n, 3)
    weights : ndarray, shape (n,)
        Above 0.
    count : int
        Number of centres, at least 1; no more than ``len(colours)`` are returned.
    starts : int
        Number of starts.

    Returns
    -------
    ndarray, shape (k, 3)
    """
    if len(colours) <= count:
        return colours.copy()
    few, few_weights = coarser(colours, weights, max(300, 4 * count))
    many, many_weights = coarser(colours, weights, max(900, 4 * count))
    if len(few) <= count:
        few, few_weights = many, many_weights = colours, weights
    tried, value = _lloyd_together(few, few_weights, _starts(few, few_weights, count, starts), 12)
    settled, value = _lloyd_together(many, many_weights, tried[_different(value, 4)], 12)
    best, least = settled[0], math.inf
    for index in np.argsort(value, kind="stable")[:2]:
        improved, reached = _improved(many, many_weights, settled[index], float(value[index]))
        if reached < least * (1 - 1e-9):
            best, least = improved, reached
    return lloyd(colours, weights, best)


def steady_centres(colours: FloatArray, weights: FloatArray, count: int) -> FloatArray:
    """Centres that a copy of the photo has as well: solutions of nearly the same sum are averaged.

    Which of two nearly equal solutions is the best changes with a few pixels, their average does less. One
    round settles it on all the colours given.

    Takes and returns what ``best_centres`` does, without its number of starts.
    """
    if len(colours) <= count:
        return colours.copy()
    few, few_weights = coarser(colours, weights, max(300, 4 * count))
    if len(few) <= count:
        few, few_weights = colours, weights
    tried, value = _lloyd_together(few, few_weights, _starts(few, few_weights, count, 64), 12)
    order = _different(value, 8)
    found = [_improved(few, few_weights, tried[i], float(value[i])) for i in order[:3]]
    found += [(tried[i], float(value[i])) for i in order[3:]]
    sums = np.array([reached for _, reached in found])
    best = found[int(sums.argmin())][0]
    total, mean = 0.0, np.zeros_like(best)
    for index in _different(sums, len(sums)):
        load = math.exp((1.0 - sums[index] / sums.min()) / _NEAR_TIE)
        other = found[index][0]
        mean += load * other[_counterparts(best, other)]
        total += load
    return lloyd(colours, weights, mean / total, 1)


def _counterparts(centres: FloatArray, other: FloatArray) -> list[int]:
    """Which of the other centres stands for each, both used once; the nearest two first."""
    away = squared(centres, other)
    taken = [0] * len(centres)
    for _ in centres:
        one, two = divmod(int(away.argmin()), len(other))
        taken[one] = two
        away[one], away[:, two] = math.inf, math.inf
    return taken


def _different(value: FloatArray, most: int) -> list[int]:
    """Indices of at most so many different solutions by their sums, the least first."""
    found: list[int] = []
    for index in np.argsort(value, kind="stable"):
        if len(found) < most and (not found or value[index] > value[found[-1]] * (1 + _SAME)):
            found.append(int(index))
    return found


def split(colours: FloatArray, weights: FloatArray, centres: FloatArray, count: int) -> FloatArray:
    """So many centres, by cutting in two the cluster that gains most by it; fewer where nothing is left."""
    while len(centres) < count:
        halves, gain = _halves(colours, weights, centres, nearest(colours, centres))
        best = int(gain.argmax())
        if gain[best] <= 0:
            break
        centres = np.vstack([np.delete(centres, best, axis=0), halves[best]])
    return centres


def _starts(colours: FloatArray, weights: FloatArray, count: int, starts: int) -> FloatArray:
    """Greedy k-means++ starts [2] from fixed numbers; the first takes the best colour at each step."""
    away = squared(colours, colours)
    candidates, last = 2 + int(math.log(count)), len(weights) - 1
    chosen = np.empty((starts, count), dtype=np.intp)
    chosen[0, 0] = np.argmin(away @ weights)
    near = away[chosen[0, 0]]
    for place in range(1, count):
        reached = np.minimum(near, away)
        chosen[0, place] = (reached @ weights).argmin()
        near = reached[chosen[0, place]]
    # A fixed sequence: the same photo gives the same palette.
    draws = np.random.Generator(np.random.PCG64(2026)).random((starts - 1, 1 + candidates * (count - 1)))
    total = np.cumsum(weights)
    chosen[1:, 0] = np.minimum(np.searchsorted(total, draws[:, 0] * total[-1]), last)
    every = np.arange(starts - 1)
    nearest_so_far = away[chosen[1:, 0]]
    for place, drawn in enumerate(np.split(draws[:, 1:], count - 1, axis=1) if count > 1 else [], 1):
        mass = np.cumsum(nearest_so_far * weights, axis=1)
        wanted = drawn * mass[:, -1:]
        picks = np.array([np.searchsorted(*one) for one in zip(mass, wanted, strict=True)])
        picks = np.minimum(picks, last)
        tried = np.minimum(nearest_so_far[:, np.newaxis], away[picks])
        best = (tried @ weights).argmin(axis=1)
        chosen[1:, place], nearest_so_far = picks[every, best], tried[every, best]
    return np.asarray(colours[chosen], dtype=float)


def _lloyd_together(
    colours: FloatArray, weights: FloatArray, centres: FloatArray, rounds: int
) -> tuple[FloatArray, FloatArray]:
    """Lloyd's rounds for several sets of centres (s, k, 3) at once; the sets and their sums."""
    sets, count, _ = centres.shape
    loads = [np.tile(weights, sets), *(np.tile(weights * part, sets) for part in colours.T)]
    own = np.einsum("ij,ij->i", colours, colours)
    minus_two = -2.0 * colours.T

    def away(flat: FloatArray) -> FloatArray:
        """Squared distances less the colours' own squares, (sets, count, n)."""
        found = flat @ minus_two
        found += np.einsum("ij,ij->i", flat, flat)[:, np.newaxis]
        return np.asarray(found.reshape(-1, count, len(colours)))

    centres = centres.copy()
    moving = np.arange(sets)
    for _ in range(rounds):
        flat = centres[moving].reshape(-1, 3)
        first = (np.arange(len(moving)) * count)[:, np.newaxis]
        label = (_least(away(flat)) + first).ravel()
        total, *sums = (np.bincount(label, load[: len(label)], len(flat)) for load in loads)
        moved = np.where(
            total[:, np.newaxis] > 0, np.stack(sums, axis=1) / np.maximum(total, 1e-300)[:, np.newaxis], flat
        )
        step = np.abs(moved - flat).reshape(len(moving), -1).max(axis=1)
        centres[moving] = moved.reshape(-1, count, 3)
        if step.max() < 1e-2:
            break
        # A set that did not move at all would not in any further round.
        moving = moving[step > 0.0]
    return centres, away(centres.reshape(-1, 3)).min(axis=1) @ weights + own @ weights


def _least(away: FloatArray) -> IntArray:
    """Index of the least along the middle axis, (s, k, n) to (s, n), of equal ones the first.

    A third of the time of ``argmin``, which looks at so few values one by one.
    """
    least = away[:, 0].copy()
    label = np.zeros(least.shape, dtype=np.uint16)
    for index in range(1, away.shape[1]):
        np.maximum(label, (away[:, index] < least) * np.uint16(index), out=label)
        np.minimum(least, away[:, index], out=least)
    return label.astype(np.intp)


def _improved(
    colours: FloatArray, weights: FloatArray, centres: FloatArray, value: float
) -> tuple[FloatArray, float]:
    """Merge two centres and split a third [3], while that lowers the sum."""
    count = len(centres)
    for _ in range(10 if count > 2 else 0):
        label = nearest(colours, centres)
        mass = np.bincount(label, weights, count)
        halves, gain = _halves(colours, weights, centres, label)
        both = mass[:, np.newaxis] + mass
        price = mass[:, np.newaxis] * mass / np.maximum(both, 1e-300) * squared(centres, centres)
        one, two = np.triu_indices(count, 1)
        # What each merge of (one, two) costs less what each split of a third gains.
        trade = price[one, two][:, np.newaxis] - gain
        trade[np.arange(len(one)), one] = trade[np.arange(len(one)), two] = math.inf
        proposals = []
        for best in np.argsort(trade, axis=None, kind="stable")[:8]:
            pair, split = divmod(int(best), count)
            i, j = one[pair], two[pair]
            proposal = centres.copy()
            proposal[i] = (mass[i] * centres[i] + mass[j] * centres[j]) / max(both[i, j], 1e-300)
            proposal[j], proposal[split] = halves[split]
            proposals.append(proposal)
        tried, reached = _lloyd_together(colours, weights, np.array(proposals), 10)
        best = int(reached.argmin())
        if not reached[best] < value * (1 - _SAME):
            break
        centres, value = tried[best], float(reached[best])
    return centres, value


def _halves(
    colours: FloatArray, weights: FloatArray, centres: FloatArray, label: IntArray
) -> tuple[FloatArray, FloatArray]:
    """Each cluster cut in two along its longest axis: the two means (k, 2, 3) and the sum that saves."""
    halves, gain = np.repeat(centres[:, np.newaxis], 2, axis=1), np.zeros(len(centres))
    for index, centre in enumerate(centres):
        own = label == index
        off, load = colours[own] - centre, weights[own]
        if len(off) < 2:
            continue
        along = off @ np.linalg.eigh((off * load[:, np.newaxis]).T @ off)[1][:, -1]
        cut = 0.0
        for _ in range(4):
            upper = along > cut
            if upper.all() or not upper.any():
                break
            pulls = along * load
            cut = float(pulls[upper].sum() / load[upper].sum() + pulls[~upper].sum() / load[~upper].sum()) / 2
        upper = along > cut
        if upper.all() or not upper.any():
            continue
        masses = load[upper].sum(), load[~upper].sum()
        halves[index] = [load[part] @ off[part] / mass + centre
                         for part, mass in zip((upper, ~upper), masses, strict=True)]  # fmt: skip
        between = halves[index, 0] - halves[index, 1]
        gain[index] = masses[0] * masses[1] / sum(masses) * float(between @ between)
    return halves, gain
