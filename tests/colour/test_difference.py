"""Colour differences against published pairs, other libraries and the equations as published."""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from analyser.colour.difference import delta_e_2000
from tests.colour.oracle_ciede2000 import ciede2000

PUBLISHED = Path(__file__).parents[1] / "published"
PAIRS = list(csv.DictReader((PUBLISHED / "ciede2000-pairs.csv").read_text(encoding="utf-8").splitlines()))

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
    plainly = ciede2000(tuple(lab(row, "1")), tuple(lab(row, "2")))
    assert plainly == pytest.approx(float(row["de00_published"]), abs=5.0e-5, rel=0)


def bisector(one: tuple[float, ...], two: tuple[float, ...]) -> float:
    """Length of the sum of the two hue directions: 2 for equal hues, 0 for opposite ones."""
    directions = [np.array(lab[1:]) / max(np.hypot(*lab[1:]), 1e-12) for lab in (one, two)]
    return float(np.hypot(*sum(directions)))


# The paper's equations one by one (oracle_ciede2000.py) against the kernel that rearranges them. Where hues
# are opposite the formula jumps, so that rounding alone decides on which side it comes out.
@settings(max_examples=500, deadline=None)
@given(st.one_of(colour, coarse), st.one_of(colour, coarse))
def test_delta_e_2000_agrees_with_the_equations_as_published(one, two):
    assume(bisector(one, two) > 1e-4 or min(np.hypot(*one[1:]), np.hypot(*two[1:])) == 0)
    assert float(delta_e_2000(one, two)) == pytest.approx(ciede2000(one, two), abs=1e-8, rel=0)


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


def test_a_wrong_last_axis_is_named():
    with pytest.raises(ValueError, match=r"must hold L\*, a\*, b\* on its last axis; got shape \(4, 2\)"):
        delta_e_2000(np.zeros((4, 2)), np.zeros(3))
