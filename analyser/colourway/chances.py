"""How likely each bead is the one that would be chosen with the thing in the hand.

A photo's colours are doubtful in two ways: its light may be off, which shifts all of them together, and each
colour may be off by itself. A bead is chosen where it is the nearest and near enough to be accepted side by
side. The shared part is handled jointly: a set of possible lights is tried, each weighed by how well all the
photo's colours then meet beads of the list, so that one colour that can only be one bead helps the others.
So is the size of what is wrong with each alone: the stated doubt holds for all cameras together, but a plain
one errs far less than it says and a phone more, and which it was, the photo's colours tell together [3].
The lights that do well are few among all possible ones; so the set is drawn anew round those, twice, each
weighed by how much oftener it was drawn than lights are [2].

For one light and one colour the rule of Bayes is applied to two suppositions: the thing has the colour of a
bead of the list, every bead alike, or it has any colour at all. All spreads are Gaussian in CIEDE2000, which
stands for a distance here: within the doubt of a photo it is used to weigh, not to measure.

Sources
-------
[1] Roberts (2018), The unreasonable effectiveness of quasirandom sequences: the additive recurrence by the
    powers of the generalised golden ratio.
[2] Cappé, Guillin, Marin, Robert (2004), Population Monte Carlo, J. Comput. Graph. Stat. 13(4), 907-929.
[3] West (1987), On scale mixtures of normal distributions, Biometrika 74(3), 646-648: errors of one law whose
    scale is itself unknown.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import numpy.typing as npt

from analyser.arrays import FloatArray, IntArray
from analyser.colour.difference import delta_e_2000
from analyser.colour.nearest import nearest_2000, within_2000
from analyser.colour.spaces import lab_to_linear, linear_to_lab, triples

#: Half the observers accept this difference side by side (source [1] of ``matching``).
ACCEPTED_DE00 = 1.8
#: A stated uncertainty is a radius that holds 68 %: so many standard deviations of one axis in three.
_AXES = 1.872
#: A thing that has a bead's colour has it to within what half the observers see, 0.8 (68 %).
_SAME_COLOUR = 0.8 / _AXES
#: Standard deviation at which a Gaussian falls to one half at ``ACCEPTED_DE00``.
_ACCEPTED = ACCEPTED_DE00 / np.sqrt(2.0 * np.log(2.0))
#: Errors of the colours of one photo by themselves beside those stated: the middle of photos, and the spread
#: of their logs. By likelihood of the true beads in 80 drawn photos of all kinds (``benchmarks/chances.py``).
_MIDDLE, _SPREAD = 0.67, 0.6
#: How often a maker who photographs a thing owns its colour: our choice, between photos all of whose colours
#: are owned and those of which a quarter is not (``benchmarks/chances.py``).
_OWNED = 0.85
#: Size of the sRGB solid in CIEDE2000 units, by sampling: other colours are taken to lie in it evenly.
_ALL_COLOURS = 1.6e5
#: What a thing of none of the beads' colours weighs.
_OF_NONE = (1.0 - _OWNED) / _ALL_COLOURS
#: What is not known of a photo: its light (3), and how large its colours' own errors are.
_UNKNOWN = 4
#: Lights tried at once, and lights they are drawn round the second and third time.
_LIGHTS, _ROUND = 768, 48
#: Spread of those drawn round a light, as a part of the spread of all that do well.
_REACH = 0.45
#: Part of those drawn that are taken to be any light.
_ANY = 0.1

#: A weight of so little beside others is left out: it changes no chance in the digits that are told.
_NOTHING = 1e-9
#: The same where it only decides round which lights the next are drawn: each is weighed by how it was drawn.
_LITTLE = 1e-3

#: Beads looked at one by one for each colour; the others are stood for by an even sample of this size.
_NEAREST, _SAMPLED = 64, 192


def chances(
    labs: npt.ArrayLike,
    bead_labs: npt.ArrayLike,
    *,
    own_de00: npt.ArrayLike = 0.0,
    shared_de00: float = 0.0,
    bead_de00: npt.ArrayLike = 0.0,
    at_least: int = 1,
) -> tuple[IntArray, FloatArray]:
    """The chance of each of the nearest beads to be the one chosen.

    Parameters
    ----------
    labs : array_like, shape (m, 3)
        Colours of one photo (Lab, D65), or colours that have nothing in common with ``shared_de00`` 0.
    bead_labs : array_like, shape (n, 3)
        At least one bead.
    own_de00 : array_like, shape () or (m,)
        How far each colour may be off by itself (68 %).
    shared_de00 : float
        How far all may be off together, by the photo's light (68 %).
    bead_de00 : array_like, shape () or (n,)
        How far each bead may be off (68 %).
    at_least : int
        Beads wanted for each colour.

    Returns
    -------
    beads : ndarray of int, shape (m, k)
        Rows of ``bead_labs``, nearest first; k is 64 or ``at_least``, and at most n.
    chance : ndarray, shape (m, k)
        In [0, 1]; the rest to 1 is for beads farther away and for none.
    """
    colours = np.atleast_2d(triples(labs, "labs", "L*, a*, b*"))
    beads = np.atleast_2d(triples(bead_labs, "bead_labs", "L*, a*, b*"))
    own = np.broadcast_to(np.asarray(own_de00, dtype=np.float64), len(colours)) / _AXES
    doubt = np.broadcast_to(np.asarray(bead_de00, dtype=np.float64), len(beads)) / _AXES
    near, _ = nearest_2000(colours, beads, max(_NEAREST, at_least))
    spread = shared_de00 / _AXES

    def meet(lights: FloatArray, nothing: float = _NOTHING) -> list[_Met]:
        """Each colour held against the beads under each light."""
        lit = _under_lights(colours, spread, lights[:, :3])
        scale = _MIDDLE * np.exp(_SPREAD * lights[:, 3])
        return [
            _meet(lit[:, row], beads, rows, known * scale, doubt, nothing)
            for row, (rows, known) in enumerate(zip(near, own, strict=True))
        ]

    doubtful = spread > 0.0 or bool(own.any())
    lights = _standard_normal(_LIGHTS if doubtful else 1)
    rarer: FloatArray = np.zeros(1)
    for _ in range(2 if doubtful else 0):
        evidence = _evidence(meet(lights, _LITTLE)) + rarer
        lights, rarer = _drawn_round(lights, evidence)
    met = meet(lights)
    counts = _shares(_evidence(met) + rarer)
    return near, np.array([counts @ one.chances() for one in met]).reshape(near.shape)


def _shares(evidence: FloatArray, power: float = 1.0) -> FloatArray:
    """What each light counts, by its log evidence; sums to 1."""
    counts = np.exp(power * (evidence - evidence.max()))
    return np.asarray(counts / counts.sum())


def _drawn_round(lights: FloatArray, evidence: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Lights drawn round those that do well, and for each how much rarer it is among all lights (log)."""
    # Weighed less sharply where few lights hold all the weight, or they would be drawn round one.
    less, more = 0.0, 1.0
    while more - less > 1e-3:
        power = 0.5 * (less + more)
        if np.square(_shares(evidence, power)).sum() > 1.0 / _ROUND:
            more = power
        else:
            less = power
    counts = _shares(evidence, less)
    even = (np.arange(_ROUND) + 0.5) / _ROUND
    middles = lights[np.minimum(np.searchsorted(np.cumsum(counts), even), len(lights) - 1)]
    off = lights - counts @ lights
    reach = _REACH * np.linalg.cholesky(off.T @ (off * counts[:, None]) + 1e-4 * np.eye(_UNKNOWN))
    drawn = (middles[:, None] + _standard_normal(_LIGHTS // _ROUND) @ reach.T).reshape(-1, _UNKNOWN)
    steps = np.linalg.solve(reach, (drawn[:, None] - middles).reshape(-1, _UNKNOWN).T)
    density = np.exp(-0.5 * np.square(steps).sum(axis=0)).reshape(len(drawn), -1).mean(axis=1)
    density /= float(np.prod(np.diag(reach)))
    usual = np.exp(-0.5 * np.square(drawn).sum(axis=1)) + 1e-300
    return drawn, np.log(usual) - np.log((1.0 - _ANY) * density + _ANY * usual)


@dataclass(frozen=True, slots=True, eq=False)
class _Met:
    """One colour held against the beads under each of k lights.

    Attributes
    ----------
    lit : ndarray, shape (k, 3)
        The colour under each light.
    near : ndarray, shape (n, 3)
        Its nearest beads.
    own : ndarray, shape (k,)
        How far the colour may be off by itself.
    doubt : ndarray, shape (n,)
        How far each of these beads may be off.
    light, bead : ndarray of int, shape (p,)
        Where a bead weighs anything.
    off, weight : ndarray, shape (p,)
        How far it is off there, and what it weighs.
    together : ndarray, shape (k,)
        What all beads and things of any colour weigh together: how well the colour meets any.
    """

    lit: FloatArray
    near: FloatArray
    own: FloatArray
    doubt: FloatArray
    light: IntArray
    bead: IntArray
    off: FloatArray
    weight: FloatArray
    together: FloatArray

    def chances(self) -> FloatArray:
        """The chance of each of the nearest beads under each light, shape (k, n)."""
        light, bead, shape = self.light, self.bead, (len(self.lit), len(self.near))
        spread = np.sqrt(self.own[light] ** 2 + self.doubt[bead] ** 2 + _SAME_COLOUR**2)
        # What the difference is expected to be if the thing has that bead's colour: it must be accepted too.
        expected = self.off * (_SAME_COLOUR / spread) ** 2
        chance = np.zeros(shape)
        chance[light, bead] = self.weight / self.together[light] * np.exp(-0.5 * (expected / _ACCEPTED) ** 2)
        # A thing of any colour at all: its nearest bead, where that is accepted.
        away = np.full(shape, np.inf)
        away[light, bead] = self.off
        alone = np.flatnonzero(np.isinf(away).all(axis=1))
        away[alone] = delta_e_2000(self.lit[alone, None], self.near[None])
        first, rows = away.argmin(axis=1), np.arange(len(away))
        wide = np.sqrt(self.own**2 + self.doubt[first] ** 2 + _ACCEPTED**2)
        accepted = np.exp(-0.5 * (away[rows, first] / wide) ** 2) * (_ACCEPTED / wide) ** 3
        chance[rows, first] += _OF_NONE / self.together * accepted
        return chance


def _evidence(met: list[_Met]) -> FloatArray:
    """How well all the colours meet any bead under each light (log)."""
    return np.asarray(np.log([one.together for one in met]).sum(axis=0))


def _meet(
    lit: FloatArray, beads: FloatArray, near: IntArray, own: FloatArray, doubt: FloatArray, nothing: float
) -> _Met:
    """Hold one colour, under each light or the one, against all beads; ``near`` are looked at one by one."""
    far = np.ones(len(beads), bool)
    far[near] = False
    others = np.flatnonzero(far)
    sampled = others[:: max(1, len(others) // _SAMPLED)]
    stands_for = len(others) / max(len(sampled), 1)
    looked_at = np.concatenate([near, sampled])

    def spread_of(own: FloatArray, doubt: FloatArray) -> FloatArray:
        return np.asarray(np.sqrt(own**2 + doubt**2 + _SAME_COLOUR**2))

    def most(spread: FloatArray) -> FloatArray:
        """What a bead weighs where it lies."""
        return np.asarray(_OWNED / len(beads) / ((2.0 * np.pi) ** 1.5 * spread**3))

    # Beyond this a bead weighs nothing beside a thing of any colour, whose nearest bead it may yet be.
    wide = spread_of(own[:, None], np.unique(doubt[looked_at]))
    reach = np.max(wide * np.sqrt(2.0 * np.log(np.maximum(most(wide) / (_OF_NONE * nothing), 1.0))), axis=1)
    if len(lit) < len(own):  # one light: all differences are the same whatever the size of the errors
        _, bead, off = within_2000(lit, beads[looked_at], float(reach.max()))
        light = np.repeat(np.arange(len(own)), len(bead))
        bead, off = np.tile(bead, len(own)), np.tile(off, len(own))
        lit = np.broadcast_to(lit, (len(own), 3))
    else:
        light, bead, off = within_2000(lit, beads[looked_at], reach)
    spread = spread_of(own[light], doubt[looked_at][bead])
    weight = most(spread) * np.exp(-0.5 * (off / spread) ** 2)
    one_by_one = bead < len(near)
    counted = np.where(one_by_one, weight, stands_for * weight)
    together = _OF_NONE + np.bincount(light, counted, len(lit))
    singly = np.flatnonzero(one_by_one)
    return _Met(
        lit, beads[near], own, doubt[near], light[singly], bead[singly], off[singly], weight[singly], together
    )


def _under_lights(colours: FloatArray, spread: float, step: FloatArray) -> FloatArray:
    """The colours as they may truly be under lights the photo may have had, (k, m, 3); (1, m, 3) of one.

    A light multiplies; how far is told by what it does to a middle grey, in standard deviations.
    """
    if spread == 0.0:
        return colours[None]
    # A grey moved in a* by 1 differs by 1.5 CIEDE2000: the formula stretches a* near the neutral axis.
    grey = np.array([50.0, 0.0, 0.0]) + spread * step / [1.0, 1.5, 1.0]
    gain = np.maximum(lab_to_linear(grey), 1e-3) / lab_to_linear(np.array([50.0, 0.0, 0.0]))
    return np.asarray(linear_to_lab(lab_to_linear(colours)[None] * gain[:, None]))


@lru_cache(maxsize=4)
def _standard_normal(count: int) -> FloatArray:
    """An even set of points of the standard normal distribution, (count, 4) [1]."""
    from statistics import NormalDist

    golden = 1.1673039782614187  # the root of x**5 = x + 1
    even = (0.5 + np.outer(np.arange(1, count + 1), golden ** -np.arange(1.0, _UNKNOWN + 1.0))) % 1.0
    inverse = NormalDist().inv_cdf
    return np.array([[inverse(float(v)) for v in row] for row in even])
