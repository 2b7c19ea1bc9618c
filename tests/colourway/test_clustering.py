"""Colours gathered in bins: nothing is lost, whatever their range. Centres of groups are their means.

Common practice, no source: a histogram holds every pixel once, and its bins' means average to that of all.
"""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analyser.colourway import clustering

RANGE = st.tuples(st.integers(-220, 150), st.integers(0, 300)).map(lambda told: (told[0], sum(told)))


# Ranges whose least colour falls on the edge of a bin, where float32 rounds it into the bin below.
@pytest.mark.parametrize(("low", "high"), [(-75, 22), (-49, 39), (-42, 46), (-45, 52)])
def test_a_colour_on_the_edge_of_a_bin_is_gathered(low: int, high: int) -> None:
    planes = [np.array(ends, np.float32) for ends in ((0, 100), (low, high), (low, high))]
    colours, weights = clustering.gather(planes, 10)
    assert weights.sum() == 2
    np.testing.assert_allclose(np.sort(colours[:, 1]), [low, high])


@given(st.tuples(RANGE, RANGE, RANGE), st.integers(0, 2**32 - 1))
def test_every_pixel_is_gathered_once(ranges: tuple[tuple[int, int], ...], seed: int) -> None:
    lots = np.random.default_rng(seed)
    planes = [np.float32([low, *lots.uniform(low, high, 60), high]) for low, high in ranges]
    colours, weights = clustering.gather(planes, 40)
    assert weights.sum() == 62
    mean = weights @ colours / weights.sum()
    np.testing.assert_allclose(mean, [plane.mean() for plane in planes], atol=0.02)


def test_centres_of_groups_far_apart_are_their_means() -> None:
    # k-means of groups farther apart than they are wide: the groups' means are the one optimum.
    lots = np.random.default_rng(3)
    middles = np.array([[20.0, 0.0, 0.0], [50.0, 60.0, 0.0], [80.0, 0.0, 60.0], [50.0, -50.0, -40.0]])
    colours = np.concatenate([middle + lots.normal(0, 2, (200, 3)) for middle in middles])
    found = clustering.steady_centres(colours, np.ones(len(colours)), 4)
    means = colours.reshape(4, 200, 3).mean(axis=1)
    away = np.sqrt(clustering.squared(means, found))
    assert sorted(away.argmin(axis=1)) == [0, 1, 2, 3]
    np.testing.assert_allclose(away.min(axis=1), 0.0, atol=1e-3)
