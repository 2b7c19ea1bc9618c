"""The change-point test against published critical values, and on drawn series with a known jump."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.interpolate import BSpline

from analyser.audit.change_point import find_jump, splines

# Andrews (2003), Econometrica 71(1), 395-397, table 1, pi_0 = 0.15: asymptotic critical values of the
# sup-Wald test of one break in the mean. Read as the F values (p = 3: 4.09, 4.71, 6.02, here three times) of
# Stock & Watson (2003), Introduction to Econometrics, QLR statistic with 15 % trimming, in gretl's tables.
CRITICAL = {1: {0.10: 7.12, 0.05: 8.68, 0.01: 12.16}, 3: {0.10: 12.27, 0.05: 14.13, 0.01: 18.06}}


def series(n: int, channels: int, seed: int) -> tuple[np.ndarray, np.ndarray]:
    rng = np.random.default_rng(seed)
    return np.linspace(0, 1, n), rng.standard_normal((n, channels))


@pytest.mark.parametrize("channels", [1, 3])
def test_the_published_critical_values_are_those_of_the_limiting_process(channels):
    # Andrews (1993), Econometrica 61(4), 821-856, theorem 3: the largest square of a Brownian bridge B(s)
    # over s (1 - s), 0.15 <= s <= 0.85, summed over the channels. Its steps find a little less.
    rng = np.random.default_rng(8)
    paths, steps = 4000, 1000
    s = np.arange(1, steps + 1) / steps
    squares = np.zeros((paths, steps))
    for _ in range(channels):
        walk = np.cumsum(rng.standard_normal((paths, steps)), axis=1) / np.sqrt(steps)
        squares += (walk - s * walk[:, -1:]) ** 2
    inside = slice(int(0.15 * steps) - 1, int(0.85 * steps))
    largest = (squares[:, inside] / (s * (1 - s))[inside]).max(axis=1)
    for alpha, critical in CRITICAL[channels].items():
        error = 3 * np.sqrt(alpha * (1 - alpha) / paths)  # three binomial standard errors
        assert float((largest > critical).mean()) == pytest.approx(alpha, abs=error)


@pytest.mark.parametrize("channels", [1, 3])
def test_the_statistic_passes_the_published_critical_values_as_often_as_published(channels):
    largest = []
    for seed in range(150):
        at, noise = series(200, channels, seed)
        jump = find_jump(at, noise, np.ones((200, 1)), trim=0.15)
        largest.append(jump.statistic)
    for alpha in (0.10, 0.05):
        share = float(np.mean(np.array(largest) > CRITICAL[channels][alpha]))
        # Three binomial standard errors of 150 runs. The autocorrelation of the residuals is estimated
        # and never lowers the noise, so the test may be on the careful side.
        error = 3 * np.sqrt(alpha * (1 - alpha) / 150)
        assert alpha - 0.6 * alpha - error < share < alpha + error


@pytest.mark.parametrize("channels", [1, 3])
def test_the_p_value_at_a_published_critical_value_is_its_level(channels):
    for alpha, critical in CRITICAL[channels].items():
        from analyser.audit import change_point

        steps = (np.arange(400)[:, None] >= np.arange(60, 341)[None]).astype(float)
        free = steps - steps.mean(axis=0)
        directions = free / np.linalg.norm(free, axis=0)
        assert change_point._p_value(critical, directions, channels) == pytest.approx(alpha, rel=0.3)


def test_a_jump_is_found_where_it_is_with_its_size():
    at, noise = series(200, 3, 2)
    values = 0.03 * noise + np.outer(at > 0.37, [0.1, -0.05, 0.0])
    jump = find_jump(at, values, np.column_stack([np.ones(200), at]))
    assert jump.at == pytest.approx(0.37, abs=0.02)
    np.testing.assert_allclose(jump.size, [0.1, -0.05, 0.0], atol=0.03)
    assert jump.p_value < 1e-6


def test_a_lamps_falloff_is_no_jump():
    at, noise = series(200, 3, 3)
    falloff = np.log(1 / (1 + 0.4 * at) ** 2)[:, None]
    design = np.column_stack([np.ones(200), splines(at, 0, 1, 8)[:, 1:]])
    assert find_jump(at, falloff + 0.03 * noise, design).p_value > 0.01


def test_odd_values_do_not_make_a_jump():
    at, noise = series(200, 3, 4)
    noise[[20, 90, 150]] += 12
    assert find_jump(at, noise, np.ones((200, 1))).p_value > 0.01


def test_order_does_not_matter_and_the_answer_repeats():
    at, noise = series(120, 3, 5)
    values = noise + np.outer(at > 0.6, [2, 2, 0])
    turned = np.random.default_rng(0).permutation(120)
    one = find_jump(at, values, np.ones((120, 1)))
    two = find_jump(at[turned], values[turned], np.ones((120, 1)))
    assert one.at == two.at
    assert one.p_value == pytest.approx(two.p_value)


def test_too_few_values_give_no_answer():
    at, noise = series(8, 3, 6)
    assert find_jump(at, noise, splines(at, 0, 1, 8)) is None


def test_like_neighbours_raise_the_noise():
    at, noise = series(300, 1, 7)
    smooth = np.convolve(noise[:, 0], np.ones(9) / 3, mode="same")[:, None]
    alone = find_jump(at, noise, np.ones((300, 1)))
    alike = find_jump(at, smooth, np.ones((300, 1)))
    # Moving sums of nine make neighbours alike: without the allowance their statistic would be ninefold.
    assert alike.statistic < 4 * alone.statistic + 12


@pytest.mark.parametrize(("low", "high", "count"), [(0, 1, 4), (0, 1, 5), (-0.8, 0.8, 6), (0, 1, 24)])
def test_the_splines_are_those_of_scipy(low, high, count):
    x = np.concatenate([np.linspace(low - 0.1, high + 0.1, 501), np.linspace(low, high, count - 2)])
    knots = np.concatenate([[low] * 3, np.linspace(low, high, count - 2), [high] * 3])
    inside = np.clip(x, low, high - 1e-9 * (high - low))
    theirs = BSpline.design_matrix(inside, knots, 3).toarray()
    np.testing.assert_allclose(splines(x, low, high, count), theirs, rtol=0, atol=1e-14)
