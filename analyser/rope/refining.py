"""Roles told again by how their beads look all over: body, gloss, flop and what is seen through them.

A first Gaussian for each role leaves out what a finish adds: a film's other hues, metal's light and dark
sides, the lining behind clear glass. Once the motif's repeats are known, each place is known to want one
role, and the pixels at all places that want it show the whole of its look. A small mixture is fitted to
them; a stray bead, which is one of a hundred, is too few for a component of its own.

Sources
-------
Common practice, no single source: class densities as mixtures, learned from labels that are mostly right.
"""

from __future__ import annotations

from collections.abc import Set
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from analyser.arrays import FloatArray
from analyser.imaging.mixtures import log_density, looks_of
from analyser.rope.motif_steps import MotifSteps
from analyser.rope.placing import Placed, beads_of, together
from analyser.rope.repeats import Expected, expect, on_strip
from analyser.rope.roles import SHADE

SURE = 0.55
"""Mean of the repeats' roles from which a place teaches that role's look."""

LEAST_VOTES = 3

LEAST_LEARNED = 0.2
"""Share of the rope's places that must teach, or the motif is too little known."""

HELD, HELD_WITHIN = 0.88, 0.7
"""Share of a role's places, within so many radii, that its first Gaussian must hold, or its look is wide. In
rendered films it was 0.81 to 0.85, in metals, clear and plain glass 0.91 and more."""

LEAST_PIXELS = 400
"""Pixels that a role's look is learned from at the least."""


@dataclass(frozen=True, slots=True, eq=False)
class Refined:
    """A rope and what its motif wants, told by each role's whole look, and by its first narrow one.

    Attributes
    ----------
    placed : Placed
        Told by whole looks: which beads are whose.
    expected : Expected
    first : Placed
        Told by one Gaussian a role: which pixels are of a role beyond doubt.
    first_expected : Expected
        The same as ``expected`` where nothing could be refined.
    """

    placed: Placed
    expected: Expected
    first: Placed
    first_expected: Expected

    @property
    def wide(self) -> frozenset[int]:
        """Roles of which one Gaussian holds too little: films, whose beads differ as their finish does."""
        first, told = self.first_expected, self.expected
        across = np.abs(told.rows - self.placed.strip.middle) < HELD_WITHIN * self.placed.strip.radius
        sure = (told.expected.max(axis=0) > SURE) & (told.votes >= LEAST_VOTES) & (told.table < 0.2)
        sure &= across[:, None]
        wanted = told.expected.argmax(axis=0)
        return frozenset(
            role
            for role in range(len(self.placed.posterior))
            if (mine := sure & (wanted == role)).any() and first.known[mine].mean() < HELD
        )

    def coloured(self, wide: Set[int]) -> Placed:
        """Where to look for roles' colours: those roles' in all their hues, others' where beyond doubt."""
        posterior = self.placed.posterior.copy()
        plain = [role for role in range(len(posterior)) if role not in wide]
        posterior[plain] = self.first.posterior[plain]
        beads = together(self.first.beads.of(set(plain)), self.placed.beads.of(set(wide)))
        return replace(self.placed, posterior=posterior, beads=beads)


def refined(placed: Placed, motif: MotifSteps | None = None) -> Refined:
    """The rope with its roles told by their whole looks, and what its motif wants.

    Parameters
    ----------
    placed : Placed
    motif : MotifSteps, optional
        Of the motif that was woven, where known.

    Returns
    -------
    Refined
        Both alike where the motif does not show well enough to learn from.
    """
    first = unrefined(placed, motif)
    wanted = _wanted(placed, first.expected)
    columns = slice(placed.strip.start, placed.strip.stop)
    if len(placed.posterior) < 2 or (wanted[:, columns] >= 0).mean() < LEAST_LEARNED:
        return first
    logs = []
    for role in range(len(placed.posterior)):
        pixels = placed.features[wanted == role]
        if len(pixels) < LEAST_PIXELS:
            return first
        shares, means, covariances = looks_of(pixels.astype(float))
        parts = [
            np.log(share) + log_density(placed.features, mean, 1.5 * covariance + 0.1 * SHADE)
            for share, mean, covariance in zip(shares, means, covariances, strict=True)
        ]
        logs.append(np.logaddexp.reduce(parts, axis=0) + np.log((wanted == role).sum()))
    posterior = _shares(np.stack(logs), float((wanted >= 0).sum()))
    posterior[:, placed.table] = 0
    told = replace(
        placed, posterior=posterior, beads=beads_of(placed.strip, posterior, placed.table, placed.bead)
    )
    return Refined(told, expect(told, motif), placed, first.expected)


def unrefined(placed: Placed, motif: MotifSteps | None = None) -> Refined:
    """The rope as it was told at first, and what its motif wants."""
    expected = expect(placed, motif)
    return Refined(placed, expected, placed, expected)


def _shares(logs: FloatArray, total: float) -> npt.NDArray[np.float32]:
    """Probability of each role against the others and an even floor, shape (k, across, along)."""
    stack = np.concatenate([logs, np.full((1, *logs.shape[1:]), np.log(total * 0.02 / 50))])
    parts = np.exp(stack - stack.max(axis=0))
    return np.asarray(parts[:-1] / parts.sum(axis=0), np.float32)


def _wanted(placed: Placed, expected: Expected) -> npt.NDArray[np.int8]:
    """The role each strip pixel surely should show, -1 where that is not known, shape (across, along)."""
    sure = (expected.expected.max(axis=0) > SURE) & (expected.votes >= LEAST_VOTES)
    return on_strip(placed, np.where(sure, expected.expected.argmax(axis=0), -1))
