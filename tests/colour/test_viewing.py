"""What the eye resolves: the published kernel, and the properties that visual angle demands."""

from __future__ import annotations

import csv
import json
import math
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analyser.colour import sight, viewing
from analyser.colour.difference import delta_e_2000
from analyser.colour.spaces import LINEAR_SRGB_TO_XYZ, lab_to_linear, linear_to_lab, srgb_to_lab, xyz_to_lab

PUBLISHED = Path(__file__).parents[1] / "published"
KERNEL = json.loads((PUBLISHED / "s-cielab.json").read_text(encoding="utf-8"))
ANGLES = list(csv.DictReader((PUBLISHED / "visual-angle.csv").read_text(encoding="utf-8").splitlines()))
CHANNELS = ("lum", "rg", "by")

srgb = st.tuples(st.floats(0, 1), st.floats(0, 1), st.floats(0, 1))


def stripes(width_px: int = 8, of: int = 24) -> np.ndarray:
    """Vertical stripes of the first of two roles, in a tile of 6 by ``of`` pixels."""
    share = np.zeros((6, of, 2))
    share[:, :width_px, 0] = 1
    share[..., 1] = 1 - share[..., 0]
    return share


def dots() -> np.ndarray:
    """Round dots of the first role in a staggered lattice, with soft edges."""
    y, x = np.mgrid[0:18, 0:21]
    here = np.zeros((18, 21))
    for row, column in ((4.5, 5), (13.5, 15.5)):
        dy = (y - row + 9) % 18 - 9
        dx = (x - column + 10.5) % 21 - 10.5
        here = np.maximum(here, np.clip(5.5 - np.hypot(dy, dx), 0, 1))
    return np.stack([here, 1 - here], axis=-1)


BLACK_WHITE = ([0, 0, 0], [100, 0, 0])
DOTS = viewing.pattern(dots(), (0.15, 0.15))


# Zhang & Wandell (1996): opponent matrix, and weights and widths of the authors' code (s-cielab.json).
def test_kernel_is_that_of_zhang_and_wandell():
    np.testing.assert_array_equal(sight.XYZ_TO_OPPONENT, KERNEL["xyz_to_opponent_2deg"])
    white = sight.XYZ_TO_OPPONENT @ [95.047, 100, 108.883]
    expected = KERNEL["checks"]["opponent_of_D65_white_xyz_95.047_100_108.883"]
    np.testing.assert_allclose(white, expected, rtol=0, atol=5e-7)
    cycles = np.array([0.0, 0.3, 1.0, 4.0, 10.0, 30.0])
    passed = sight.modulation(cycles)
    for channel, name in enumerate(CHANNELS):
        # Each Gaussian by its spread in degrees, from the full width at half maximum; transform of
        # exp(-r^2/spread^2); weights as the code normalises them (five decimals).
        spreads = KERNEL["relation"]["spread = fwhm/(2*sqrt(ln 2))"][name]
        expected = np.zeros(len(cycles))
        for part, spread in zip(KERNEL["authors_code_halfwidths_deg"][name], spreads, strict=True):
            exact = part["full_width_half_max"] / (2 * math.sqrt(math.log(2)))
            assert exact == pytest.approx(spread, abs=6e-5)
            expected += part["weight_normalised"] * np.exp(-((math.pi * exact * cycles) ** 2))
        np.testing.assert_allclose(passed[channel], expected, rtol=0, atol=1e-5)


# The kernel in space: exp(-r^2/spread^2) falls to one half at half the width; here by numerical transform.
def test_width_is_full_at_half_maximum():
    spread = 0.05 / (2 * math.sqrt(math.log(2)))
    assert math.exp(-((0.025 / spread) ** 2)) == pytest.approx(0.5, abs=1e-12)
    r = np.linspace(-0.4, 0.4, 8001)
    profile = np.exp(-((r / spread) ** 2))
    for cycles in (3.0, 11.0):
        transformed = np.sum(profile * np.cos(2 * np.pi * cycles * r)) / np.sum(profile)
        assert transformed == pytest.approx(math.exp(-((math.pi * spread * cycles) ** 2)), abs=1e-9)


# visual-angle.csv: geometry, three decimals of a minute of arc. What spans a degree grows with distance.
@pytest.mark.parametrize("row", ANGLES, ids=lambda row: f"{row['size_mm']} mm at {row['distance_m']} m")
def test_visual_angle(row):
    size, distance = float(row["size_mm"]), float(row["distance_m"])
    minutes = 60 * size / float(viewing.mm_per_degree(distance))
    # A degree spans 2 d tan(0.5 deg): proportional to distance, within 1e-4 of the arc tangent at bead sizes.
    expected = float(row["arcmin"])
    assert minutes == pytest.approx(expected, abs=5e-4 + 1e-4 * expected, rel=0)


def filtered(picture: np.ndarray, mm_per_px: float, distance: float) -> np.ndarray:
    """A repeating picture as the eye has it, by scipy.ndimage: Gaussians in space, sampled by the pixel."""
    from scipy.ndimage import gaussian_filter

    to_opponent = sight.XYZ_TO_OPPONENT @ LINEAR_SRGB_TO_XYZ
    opponent = picture @ to_opponent.T
    seen = np.zeros_like(opponent)
    px_per_degree = float(viewing.mm_per_degree(distance)) / mm_per_px
    for channel, name in enumerate(CHANNELS):
        parts = KERNEL["authors_code_halfwidths_deg"][name]
        total = sum(part["weight_raw"] for part in parts)
        for part in parts:
            sigma = part["full_width_half_max"] / (2 * math.sqrt(2 * math.log(2))) * px_per_degree
            blurred = gaussian_filter(opponent[..., channel], sigma, mode="wrap", truncate=8)
            seen[..., channel] += part["weight_raw"] / total * blurred
    return seen @ np.linalg.inv(to_opponent).T


@pytest.mark.parametrize("distance", [0.35, 1.0, 3.0])
def test_mixing_is_the_mean_over_each_role_of_the_filtered_picture(distance):
    share = dots()
    colours = srgb_to_lab(np.array([[0.9, 0.3, 0.2], [0.1, 0.4, 0.6]]))
    seen = filtered(share @ lab_to_linear(colours), 0.15, distance)
    means = np.einsum("hwn,hwc->nc", share, seen) / share.sum(axis=(0, 1))[:, None]
    mixed = viewing.mixing(DOTS, distance)
    np.testing.assert_allclose(mixed.sum(axis=-1), 1.0, rtol=0, atol=1e-4)
    opponent = lab_to_linear(colours) @ LINEAR_SRGB_TO_XYZ.T @ sight.XYZ_TO_OPPONENT.T
    ours = np.einsum("kin,nk->ik", mixed, opponent)
    ours = linear_to_lab_of_opponent(ours)
    np.testing.assert_allclose(ours, linear_to_lab(means), rtol=0, atol=0.02)


def linear_to_lab_of_opponent(opponent: np.ndarray) -> np.ndarray:
    return xyz_to_lab(opponent @ np.linalg.inv(sight.XYZ_TO_OPPONENT).T)


@settings(max_examples=30, deadline=None)
@given(srgb, srgb, st.floats(0.3, 5))
def test_twice_the_bead_reads_at_twice_the_distance(one, two, scale):
    labs = srgb_to_lab(np.array([one, two]))
    distance = float(viewing.reads_to_m(DOTS, labs))
    for factor in (2.0, scale):
        larger = viewing.pattern(dots(), (0.15 * factor, 0.15 * factor))
        assert float(viewing.reads_to_m(larger, labs)) == pytest.approx(factor * distance, rel=1e-9, abs=0)


@settings(deadline=None)
@given(srgb)
def test_equal_colours_never_read(one):
    labs = srgb_to_lab(np.array([one, one]))
    assert float(viewing.reads_to_m(DOTS, labs)) == 0.0


@settings(max_examples=60, deadline=None)
@given(srgb, srgb)
def test_moving_only_the_accent_in_lightness_away_never_reads_less_far(accent, body):
    accent_lab, body_lab = srgb_to_lab(np.array([accent, body]))
    lightness = np.linspace(0, 100, 101)
    accents = np.stack([lightness, *np.broadcast_to(accent_lab[1:, None], (2, 101))], axis=-1)
    labs = np.stack([accents, np.broadcast_to(body_lab, accents.shape)], axis=-2)
    distance = viewing.reads_to_m(DOTS, labs)
    lighter = distance[lightness >= body_lab[0]]
    darker = distance[lightness <= body_lab[0]][::-1]
    for away in (lighter, darker):
        assert np.all(np.diff(away) >= -1e-9 * away[1:])


@settings(deadline=None)
@given(srgb, srgb)
def test_it_reads_up_to_that_distance_and_no_farther(one, two):
    labs = srgb_to_lab(np.array([one, two]))
    distance = float(viewing.reads_to_m(DOTS, labs))
    if distance == 0:
        assert np.all(viewing.seen_contrast(DOTS, labs, np.array([0.2, 0.35, 1.0])) < viewing.READS)
        return
    at = viewing.seen_contrast(DOTS, labs, distance * np.array([1 - 1e-6, 1.0, 1 + 1e-6, 1.5]))
    assert at[0] >= viewing.READS > at[2] > at[3]
    assert at[1] == pytest.approx(viewing.READS, rel=1e-9)


# 6/6 sight resolves detail of 1 minute of arc (definition; a stripe and its gap are 2). S-CIELAB, made for
# pictures and not for letters on a chart, ends a little short of it: between 1 and 2 minutes a stripe.
@pytest.mark.parametrize("colours", [([0, 0, 0], [100, 0, 0]), ([100, 0, 0], [0, 0, 0])])
def test_black_on_white_reads_as_acuity_allows(colours):
    stripe_mm = 2.0
    waves = viewing.pattern(stripes(12, 24), (0.5, stripe_mm / 12))
    distance = float(viewing.reads_to_m(waves, colours))
    minutes = 60 * stripe_mm / float(viewing.mm_per_degree(distance))
    assert 1.0 < minutes < 2.0


# Barten (2004), Proc. SPIE 5294, 231-238: sharp sight ends between 20/20, which resolves stripes of 1 minute
# of arc (30 cycles a degree), and 60 cycles a degree, the limit of the eye's optics (Campbell & Green 1965).
def test_sharp_sight_ends_beyond_20_20():
    stripe_mm = 2.0
    waves = viewing.pattern(stripes(12, 24), (0.5, stripe_mm / 12))
    reads = float(viewing.reads_to_m(waves, BLACK_WHITE))
    blurs = viewing.blurs_from_m(waves, BLACK_WHITE, reads)
    assert 30.0 < float(viewing.mm_per_degree(blurs)) / (2 * stripe_mm) < 60.0
    assert reads < blurs


def test_the_sensitivity_is_bartens():
    # The formula as printed, for an object of 10 degrees square at 100 cd/m2, worked through for 4 cycles:
    # 5200 exp(-0.0256 * 2 ** 0.08) / sqrt((1 + 1.44 + 10.24) * (63 / 45.709 + 1 / (1 - exp(-0.32)))) = 634.
    # A strip as long as the eye gathers light over, and as wide, is 12 degrees square: a little more.
    assert float(sight.sensitivity(4.0, 10.0)) == pytest.approx(634, rel=0.01)
    cycles = np.geomspace(0.5, 60, 200)
    peak = cycles[np.argmax(sight.sensitivity(cycles, 10.0))]
    assert 1.0 < peak < 8.0  # Barten (2004): highest at a few cycles a degree
    assert np.all(sight.sensitivity(cycles, 0.1) < sight.sensitivity(cycles, 10.0))


@settings(deadline=None)
@given(srgb, srgb)
def test_what_reads_at_a_glance_has_not_blurred(one, two):
    labs = srgb_to_lab(np.array([one, two]))
    reads = float(viewing.reads_to_m(DOTS, labs))
    assert viewing.blurs_from_m(DOTS, labs, reads) >= reads


def test_a_rope_narrower_than_the_eyes_blur_is_a_line():
    share = stripes(120, 240)
    cloth, rope = (viewing.pattern(share, (0.5, 0.5), width) for width in (math.inf, 6.0))
    assert float(viewing.reads_to_m(cloth, BLACK_WHITE)) > 50.0
    minutes = [
        60 * 6.0 / float(viewing.mm_per_degree(d))
        for d in (viewing.reads_to_m(rope, BLACK_WHITE), viewing.blurs_from_m(rope, BLACK_WHITE, 0.0))
    ]
    assert minutes == pytest.approx([3.0, 1.0])


def test_near_by_the_contrast_is_that_of_the_two_colours():
    rng = np.random.default_rng(8)
    one = srgb_to_lab(rng.uniform(0.3, 0.7, (200, 3)))
    two = srgb_to_lab(rng.uniform(0.3, 0.7, (200, 3)))
    waves = viewing.pattern(stripes(), (0.2, 0.2))
    near = viewing.seen_contrast(waves, np.stack([one, two], axis=1), np.full(200, 0.002))
    plain = delta_e_2000(one, two)
    # Lightness is weighted at the body's L* instead of the mean of the two.
    assert np.median(np.abs(near / plain - 1)) < 0.05


# How far the filtering in two parts strays from filtering the colours as they are.
def test_value_and_hue_apart_read_about_as_far_as_together():
    rng = np.random.default_rng(12)
    labs = srgb_to_lab(rng.random((150, 2, 3)))
    distance = viewing.reads_to_m(DOTS, labs)
    mixed = viewing.mixing(DOTS, distance)
    opponent = lab_to_linear(labs) @ LINEAR_SRGB_TO_XYZ.T @ sight.XYZ_TO_OPPONENT.T
    seen = linear_to_lab_of_opponent(np.einsum("pkin,pnk->pik", mixed, opponent))
    together = delta_e_2000(seen[:, 0], seen[:, 1])
    assert 0.6 < np.median(together / viewing.READS) < 1.7


def test_far_away_it_is_the_mixture_of_its_light():
    labs = np.array([[90.0, 0, 0], [20.0, 30, 20]])
    far = viewing.blurs_to(labs, DOTS.shares)
    expected = linear_to_lab(DOTS.shares @ lab_to_linear(labs))
    np.testing.assert_allclose(far, expected, rtol=0, atol=1e-12)


def test_many_pairs_and_three_roles():
    share = np.zeros((6, 12, 3))
    share[:, :4, 0] = share[:, 4:6, 2] = share[:, 6:, 1] = 1
    waves = viewing.pattern(share, (0.3, 0.3))
    np.testing.assert_allclose(waves.shares, [1 / 3, 1 / 2, 1 / 6])
    labs = srgb_to_lab(np.random.default_rng(2).random((300, 3, 3)))
    distance = viewing.reads_to_m(waves, labs, roles=(0, 1))
    assert distance.shape == (300,)
    one_by_one = [float(viewing.reads_to_m(waves, labs[row])) for row in (0, 150, 299)]
    np.testing.assert_allclose(distance[[0, 150, 299]], one_by_one, rtol=1e-9)


@pytest.mark.parametrize(
    ("call", "says"),
    [
        (lambda: viewing.pattern(np.ones((4, 4)), (1, 1)), "share must have shape"),
        (
            lambda: viewing.pattern(np.stack([np.ones((4, 4)), np.zeros((4, 4))], -1), (1, 1)),
            "seen somewhere",
        ),
        (lambda: viewing.reads_to_m(DOTS, np.zeros((3, 3))), "labs must give 2 colours"),
        (lambda: viewing.reads_to_m(DOTS, np.zeros((2, 3)), threshold=0.0), "threshold must be"),
        (lambda: viewing.seen_contrast(DOTS, np.zeros(3), 1.0), "labs must give 2 colours"),
    ],
)
def test_what_does_not_fit_is_named(call, says):
    with pytest.raises(ValueError, match=says):
        call()
