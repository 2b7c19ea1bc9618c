"""The search over all pairs against brute force."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analyser.colour.difference import delta_e_2000
from analyser.colour.pair_search import best_pairs, pairs_2000
from analyser.colour.spaces import srgb_to_lab

part = st.sampled_from([-40.0, -3.0, 0.0, 3.0, 40.0])
labs_lists = st.lists(
    st.tuples(st.sampled_from([0.0, 30.0, 60.0, 100.0]), part, part), min_size=0, max_size=25
)


def every_pair(labs: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    pairs = np.array(list(itertools.combinations(range(len(labs)), 2)), dtype=int).reshape(-1, 2)
    return pairs, np.array([float(delta_e_2000(labs[first], labs[second])) for first, second in pairs])


@settings(max_examples=50, deadline=None)
@given(labs_lists, st.integers(1, 12), st.floats(0, 60), st.booleans())
def test_best_pairs_equal_brute_force(labs, k, wanted, fussy):
    labs = np.array(labs).reshape(-1, 3)
    own = np.arange(len(labs)) % 3

    def cost(first, second, de00):
        costs = np.abs(de00 - wanted) + own[first] + own[second]
        return np.where(de00 < 2, np.inf, costs) if fussy else costs

    pairs, de00, costs = best_pairs(labs, k, cost)
    all_pairs, all_de00 = every_pair(labs)
    all_costs = cost(all_pairs[:, 0], all_pairs[:, 1], all_de00)
    order = [row for row in np.argsort(all_costs, kind="stable") if all_costs[row] < np.inf][:k]
    np.testing.assert_array_equal(pairs, all_pairs[order])
    np.testing.assert_array_equal(de00, all_de00[order])
    np.testing.assert_array_equal(costs, all_costs[order])


def test_each_pair_comes_once_with_its_difference():
    labs = srgb_to_lab(np.random.default_rng(3).random((260, 3)))
    table = np.zeros((260, 260))
    seen = np.zeros((260, 260), dtype=int)
    for first, second, de00 in pairs_2000(labs):
        pair = second > first
        rows, columns = (index[pair] for index in np.broadcast_arrays(first, second))
        np.add.at(seen, (rows, columns), 1)
        table[rows, columns] = de00[pair]
    upper = np.triu(np.ones((260, 260), dtype=int), 1)
    np.testing.assert_array_equal(seen, upper)
    np.testing.assert_array_equal(table, delta_e_2000(labs[:, None], labs) * upper)


def test_too_few_colours_have_no_pairs():
    for count in (0, 1):
        pairs, de00, costs = best_pairs(np.zeros((count, 3)), 3, lambda first, second, de00: de00)
        assert pairs.shape == (0, 2)
        assert de00.shape == costs.shape == (0,)


def test_what_does_not_fit_is_named():
    with pytest.raises(ValueError, match="k must be at least 1; got 0"):
        best_pairs(np.zeros((3, 3)), 0, lambda first, second, de00: de00)
    with pytest.raises(ValueError, match="must be a list of colours"):
        next(pairs_2000(np.zeros(3)))
