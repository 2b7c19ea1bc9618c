"""The search for the nearest colours against brute force."""

from __future__ import annotations

from unittest.mock import patch

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from analyser.colour import nearest
from analyser.colour.difference import delta_e_2000
from analyser.colour.nearest import nearest_2000
from analyser.colour.spaces import srgb_to_lab

component = st.floats(-128, 128)
colour = st.tuples(st.floats(0, 100), component, component)
# Few values, so that ties, equal lightness, neutrals and opposite hues come up.
coarse = st.tuples(
    st.sampled_from([0.0, 1.0, 50.0, 99.0, 100.0]),
    st.sampled_from([-60.0, -2.0, 0.0, 2.0, 60.0]),
    st.sampled_from([-60.0, -2.0, 0.0, 2.0, 60.0]),
)


def brute_force(queries: np.ndarray, candidates: np.ndarray, k: int) -> tuple[np.ndarray, np.ndarray]:
    every = delta_e_2000(queries[:, None], candidates[None])
    indices = np.argsort(every, axis=1, kind="stable")[:, :k]
    return indices, np.take_along_axis(every, indices, axis=1)


@settings(max_examples=60, deadline=None)
@example([[0.0, 38.0, -2e-309]], [[0.0, -1.0, 1e-172]], 1)  # opposite hues, to within rounding
@given(
    st.lists(st.one_of(colour, coarse), min_size=1, max_size=6),
    st.lists(st.one_of(colour, coarse), min_size=1, max_size=60),
    st.integers(1, 5),
)
def test_nearest_equals_brute_force(queries, candidates, k):
    queries, candidates = np.array(queries), np.array(candidates)
    expected, differences = brute_force(queries, candidates, min(k, len(candidates)))
    for few in (0, nearest._FEW):  # bounded first, and all pairs
        with patch.object(nearest, "_FEW", few):
            indices, de00 = nearest_2000(queries, candidates, k)
        np.testing.assert_array_equal(indices, expected)
        np.testing.assert_array_equal(de00, differences)


@settings(max_examples=40, deadline=None)
@given(
    st.lists(st.one_of(colour, coarse), min_size=1, max_size=6),
    st.lists(st.one_of(colour, coarse), min_size=1, max_size=60),
    st.floats(0, 60),
)
def test_within_reach_are_all_that_brute_force_finds(queries, candidates, reach):
    queries, candidates = np.array(queries), np.array(candidates)
    every = delta_e_2000(queries[:, None], candidates[None])
    query, candidate, de00 = nearest.within_2000(queries, candidates, reach)
    np.testing.assert_array_equal(np.stack([query, candidate]), np.stack(np.nonzero(every <= reach)))
    np.testing.assert_array_equal(de00, every[query, candidate])
    of_each = reach * np.linspace(0.5, 1.0, len(queries))
    some = np.stack(nearest.within_2000(queries, candidates, of_each)[:2])
    np.testing.assert_array_equal(some, np.stack(np.nonzero(every <= of_each[:, None])))


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("kind", ["anywhere", "clusters", "greys"])
def test_nearest_equals_brute_force_in_long_lists(seed, kind):
    rng = np.random.default_rng(seed)
    candidates = srgb_to_lab(rng.random((6000, 3)))
    if kind == "clusters":
        candidates = srgb_to_lab(rng.random((9, 3)))[rng.integers(0, 9, 6000)] + rng.normal(0, 2, (6000, 3))
        candidates[:, 0] = np.clip(candidates[:, 0], 0, 100)
    elif kind == "greys":
        candidates = np.round(candidates * [1, 0.05, 0.05], 1)
    queries = np.vstack([srgb_to_lab(rng.random((6, 3))), [[0, 0, 0], [100, 0, 0], [30, 60, -100]]])
    made_ready = nearest.Sorted(candidates)
    for k in (1, 3, 40):
        indices, de00 = nearest_2000(queries, candidates, k)
        expected, differences = brute_force(queries, candidates, k)
        np.testing.assert_array_equal(indices, expected)
        np.testing.assert_array_equal(de00, differences)
        again = nearest_2000(queries, made_ready, k)
        np.testing.assert_array_equal(again[0], expected)
        np.testing.assert_array_equal(again[1], differences)


@settings(max_examples=50, deadline=None)
@given(arrays(np.float64, (3,), elements=st.floats(0, 1)), st.integers(0, 2**32 - 1), st.floats(0.01, 1))
def test_the_bound_that_prunes_is_never_above_the_difference(srgb, seed, vividness):
    from analyser.colour.nearest import _lower_bound_squared, _with_bounds

    rng = np.random.default_rng(seed)
    query = srgb_to_lab(srgb)[None] * [1, vividness, vividness]
    spread = rng.choice([1, 10, 60])
    candidates = rng.normal(query, spread, (4000, 3))
    candidates[:, 0] = np.clip(candidates[:, 0], 0, 100)
    bound = _lower_bound_squared(_with_bounds(query).T[0], _with_bounds(candidates))
    assert np.all(np.sqrt(bound) <= delta_e_2000(query, candidates) * (1 + 1e-9) + 1e-9)


def test_nearest_gives_no_more_than_there_are():
    indices, de00 = nearest_2000([[50, 0, 0]], [[50, 1, 0], [50, 0, 0]], 9)
    assert indices.tolist() == [[1, 0]]
    assert de00.shape == (1, 2)


@pytest.mark.parametrize(
    ("queries", "candidates", "k", "says"),
    [
        ([50, 0, 0], [[50, 0, 0]], 1, "queries must be a list of colours"),
        ([[50, 0, 0]], np.zeros((0, 3)), 1, "candidates must be a list of colours"),
        ([[50, 0, 0]], [[50, 0, 0]], 0, "k must be at least 1; got 0"),
    ],
)
def test_nearest_names_what_does_not_fit(queries, candidates, k, says):
    with pytest.raises(ValueError, match=says):
        nearest_2000(queries, candidates, k)
