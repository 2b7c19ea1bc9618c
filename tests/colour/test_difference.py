"""Colour differences against published pairs and other libraries, and the search against brute force."""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from analyser.colour.difference import delta_e_2000, delta_e_cmc, nearest_2000
from analyser.colour.spaces import srgb_to_lab

PUBLISHED = Path(__file__).parents[1] / "published"
PAIRS = list(csv.DictReader((PUBLISHED / "ciede2000-pairs.csv").read_text(encoding="utf-8").splitlines()))
CMC = list(csv.DictReader((PUBLISHED / "cmc-checks.csv").read_text(encoding="utf-8").splitlines()))

component = st.floats(-128, 128)
colour = st.tuples(st.floats(0, 100), component, component)
# Few values, so that ties, equal lightness, neutrals and opposite hues come up.
coarse = st.tuples(
    st.sampled_from([0.0, 1.0, 50.0, 99.0, 100.0]),
    st.sampled_from([-60.0, -2.0, 0.0, 2.0, 60.0]),
    st.sampled_from([-60.0, -2.0, 0.0, 2.0, 60.0]),
)


def lab(row: dict[str, str], which: str) -> np.ndarray:
    return np.array([float(row[part + which]) for part in "Lab"])


# Sharma, Wu, Dalal (2005), table 1, doi:10.1002/col.20070: all 34 pairs, four decimals.
@pytest.mark.parametrize("row", PAIRS, ids=lambda row: f"pair{row['pair']}")
def test_delta_e_2000_matches_sharma_2005(row):
    computed = float(delta_e_2000(lab(row, "1"), lab(row, "2")))
    assert computed == pytest.approx(float(row["de00_published"]), abs=5.0e-5, rel=0)
    assert computed == pytest.approx(float(row["de00_double_precision"]), abs=5.0e-10, rel=0)
    assert float(delta_e_2000(lab(row, "2"), lab(row, "1"))) == computed


def random_pairs(count: int) -> tuple[np.ndarray, np.ndarray]:
    rng = np.random.default_rng(2005)
    one = rng.uniform([0, -128, -128], [100, 128, 128], (count, 3))
    far = rng.uniform([0, -128, -128], [100, 128, 128], (count, 3))
    near = np.clip(one + rng.normal(0, 2, (count, 3)), [0, -128, -128], [100, 128, 128])
    return one, np.where(np.arange(count)[:, None] % 2, far, near)


# scikit-image and, where its matrix functions still work, colormath: 100,000 random pairs, near and far.
def test_delta_e_2000_agrees_with_scikit_image():
    from skimage.color import deltaE_ciede2000

    one, two = random_pairs(100_000)
    np.testing.assert_allclose(delta_e_2000(one, two), deltaE_ciede2000(one, two), rtol=0, atol=1e-9)


def test_delta_e_2000_agrees_with_colormath():
    from colormath.color_diff_matrix import delta_e_cie2000

    one, two = random_pairs(2000)
    np.testing.assert_allclose(delta_e_2000(one[7], two), delta_e_cie2000(one[7], two), rtol=0, atol=1e-9)


# coloraide on the hard ones: neutrals, opposite hues, hue at the end of the circle.
@pytest.mark.parametrize("one", [(50, 0, 0), (50, 30, 0), (50, 30, -1e-9), (20, -40, 0), (70, 3, -60)])
@pytest.mark.parametrize("two", [(50, 0, 0), (51, -30, 0), (50, -30, 1e-9), (20, 40, 0), (70, -3, 60)])
def test_delta_e_2000_agrees_with_coloraide_where_hues_are_opposite(one, two):
    from coloraide import Color

    expected = Color("lab-d65", one).delta_e(Color("lab-d65", two), method="2000")
    assert float(delta_e_2000(one, two)) == pytest.approx(expected, abs=1e-6)


@settings(deadline=None)
@given(colour, colour)
def test_delta_e_2000_is_a_symmetric_premetric(one, two):
    assert delta_e_2000(one, two) == delta_e_2000(two, one)
    assert delta_e_2000(one, two) >= 0
    assert delta_e_2000(one, one) == 0


# Eq. 15 of Sharma et al.: S_L is at most 1 + 0.015 * 2500 / sqrt(2520) = 1.74702 for L* in [0, 100].
@settings(deadline=None)
@given(colour, colour)
def test_delta_e_2000_is_never_less_than_its_lightness_part(one, two):
    largest = 1 + 0.015 * 50**2 / np.sqrt(20 + 50**2)
    assert delta_e_2000(one, two) >= abs(one[0] - two[0]) / largest - 1e-12


def test_delta_e_2000_broadcasts_and_works_in_pieces():
    rng = np.random.default_rng(1)
    one, two = rng.uniform(0, 60, (37, 1, 3)), rng.uniform(0, 60, (1, 501, 3))
    table = delta_e_2000(one, two)
    assert table.shape == (37, 501)
    for row, column in ((0, 0), (20, 333), (36, 500)):
        assert table[row, column] == delta_e_2000(one[row, 0], two[0, column])
    assert delta_e_2000(np.zeros((0, 3)), np.zeros(3)).shape == (0,)
    long = rng.uniform(0, 60, (20_000, 3))
    np.testing.assert_array_equal(delta_e_2000(long, long[3])[15_000:], delta_e_2000(long[15_000:], long[3]))


@pytest.mark.parametrize("function", [delta_e_2000, delta_e_cmc])
def test_a_wrong_last_axis_is_named(function):
    with pytest.raises(ValueError, match=r"must hold L\*, a\*, b\* on its last axis; got shape \(4, 2\)"):
        function(np.zeros((4, 2)), np.zeros(3))


# ISO 105-J03: values on which colour-science, coloraide, scikit-image and colormath agree, eight decimals.
@pytest.mark.parametrize("row", CMC, ids=lambda row: ",".join(row.values()))
def test_delta_e_cmc_matches_four_libraries(row):
    standard, batch = lab(row, "_std"), lab(row, "_batch")
    assert float(delta_e_cmc(standard, batch)) == pytest.approx(float(row["de_cmc_2_1"]), abs=5e-9, rel=0)
    assert float(delta_e_cmc(standard, batch, 1, 1)) == pytest.approx(
        float(row["de_cmc_1_1"]), abs=5e-9, rel=0
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
    indices, de00 = nearest_2000(queries, candidates, k)
    expected, differences = brute_force(queries, candidates, min(k, len(candidates)))
    np.testing.assert_array_equal(indices, expected)
    np.testing.assert_array_equal(de00, differences)


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
    for k in (1, 3, 40):
        indices, de00 = nearest_2000(queries, candidates, k)
        expected, differences = brute_force(queries, candidates, k)
        np.testing.assert_array_equal(indices, expected)
        np.testing.assert_array_equal(de00, differences)


@settings(max_examples=50, deadline=None)
@given(arrays(np.float64, (3,), elements=st.floats(0, 1)), st.integers(0, 2**32 - 1), st.floats(0.01, 1))
def test_the_bound_that_prunes_is_never_above_the_difference(srgb, seed, vividness):
    from analyser.colour.difference import _lower_bound_squared, _with_bounds

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
        ([50, 0, 0], [[50, 0, 0]], 1, "must be lists of colours"),
        ([[50, 0, 0]], np.zeros((0, 3)), 1, "must be lists of colours"),
        ([[50, 0, 0]], [[50, 0, 0]], 0, "k must be at least 1; got 0"),
    ],
)
def test_nearest_names_what_does_not_fit(queries, candidates, k, says):
    with pytest.raises(ValueError, match=says):
        nearest_2000(queries, candidates, k)
