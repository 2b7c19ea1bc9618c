"""Palettes: drawn pictures whose colours are known, and k-means of a second library as the measure."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from analyser.colour import spaces
from analyser.colour.difference import delta_e_2000
from analyser.colourway import clustering, gathering, palette
from analyser.errors import OptionError, PhotoError
from analyser.photo.reading import Photo
from analyser.photo.subject import Subject, find_subject

CALIBRATION = SimpleNamespace(uncertainty_of=lambda lab: np.full(np.shape(lab)[:-1], 6.0))


def photo_of(linear, scale=1):
    height, width = linear.shape[:2]
    clipped = np.zeros((height, width), dtype=bool)
    return Photo(linear.astype(np.float32), None, clipped, "drawn.png", width * scale, height * scale,
                 "sRGB", 1, "0" * 64)  # fmt: skip


def whole(photo):
    return Subject(np.ones(photo.linear.shape[:2], dtype=bool))


def scene(seed, height=120, width=160):
    """Patches of random colours with shade along them and noise, as light."""
    rng = np.random.default_rng(seed)
    light = np.empty((height, width, 3))
    light[:] = rng.uniform(0.05, 0.8, 3)
    for _ in range(9):
        y, x = rng.integers(0, height - 20), rng.integers(0, width - 20)
        light[y : y + rng.integers(10, 80), x : x + rng.integers(10, 80)] = rng.uniform(0.01, 0.9, 3)
    light *= np.linspace(0.7, 1.1, width)[None, :, None]
    return (light * rng.normal(1, 0.03, light.shape)).clip(0, 1).astype(np.float32)


def flat(*colours, side=40):
    """Squares side by side."""
    return np.concatenate([np.full((side, side, 3), colour, np.float32) for colour in colours], axis=1)


@pytest.mark.parametrize("seed", range(3))
def test_a_vivid_patch_of_a_thousandth_comes_back_from_a_grey_field(seed):
    rng = np.random.default_rng(seed)
    light = np.full((400, 400, 3), 0.3) * rng.normal(1, 0.05, (400, 400, 1))
    y, x = rng.integers(0, 380, 2)
    light[y : y + 13, x : x + 13] = vivid = [0.5, 0.02, 0.05]
    found = palette.reduce_colours(light.astype(np.float32), 6)
    assert delta_e_2000(found.lab, spaces.linear_to_lab(vivid)).min() < 3


def test_without_accents_the_sum_of_squares_is_that_of_many_k_means_starts():
    # SciPy's kmeans2 as the second library, best of 20 starts; the bound is that of the benchmark, 1 %.
    vq = pytest.importorskip("scipy.cluster.vq", reason="the peer compared with")
    light = scene(5)
    lab = spaces.linear_to_lab(light).reshape(-1, 3)
    best = min(
        clustering.distortion(
            lab, np.ones(len(lab)), vq.kmeans2(lab, 8, minit="++", rng=seed, missing="warn")[0]
        )
        for seed in range(20)
    )
    found = palette.reduce_colours(light, 8, keep_accents=False)
    assert len(found.lab) == 8
    assert clustering.distortion(lab, np.ones(len(lab)), found.lab) <= 1.01 * best


@pytest.mark.parametrize("keep_accents", [True, False])
def test_exactly_as_many_colours_as_asked_for(keep_accents):
    for count in (2, 5, 8, 24):
        assert len(palette.reduce_colours(scene(1), count, keep_accents=keep_accents).lab) == count


def test_three_flat_colours_asked_for_eight_give_three_and_say_so():
    photo = photo_of(flat((0.5, 0.1, 0.1), (0.1, 0.4, 0.1), (0.05, 0.1, 0.6)))
    found = palette.of_photo(photo, CALIBRATION, colours=8, subject=whole(photo))
    assert len(found.colours) == 3
    assert "8 colours were asked for, the photo has 3" in found.notes
    for colour, light in zip(sorted(found.colours, key=lambda c: c.pixel),
                             ((0.5, 0.1, 0.1), (0.1, 0.4, 0.1), (0.05, 0.1, 0.6)), strict=True):  # fmt: skip
        np.testing.assert_allclose(colour.lab, spaces.linear_to_lab(light), atol=0.02)
        assert colour.share == pytest.approx(1 / 3)
        assert colour.spread_de00 < 0.02


def test_a_noisy_patch_of_one_colour_is_one_colour_its_mean_light():
    rng = np.random.default_rng(3)
    light = (np.array([0.12, 0.05, 0.03]) * rng.normal(1, 0.15, (60, 60, 3))).astype(np.float32)
    photo = photo_of(light)
    (colour,) = palette.of_photo(photo, CALIBRATION, colours=2, subject=whole(photo)).colours
    assert delta_e_2000(colour.lab, spaces.linear_to_lab(light.mean(axis=(0, 1)))) < 0.1


@settings(max_examples=12, deadline=None)
@given(st.integers(0, 1000), st.integers(0, 7))
@example(500, 1)
def test_turned_and_mirrored_photos_give_the_same_palette(seed, turn):
    light = scene(seed, 60, 84)
    turned = np.rot90(light[:, ::-1] if turn >= 4 else light, turn % 4)
    one, two = (palette.reduce_colours(np.ascontiguousarray(part), 6) for part in (light, turned))
    assert delta_e_2000(one.lab[:, None], two.lab[None]).min(axis=1).max() < 0.1
    np.testing.assert_allclose(one.share, two.share, atol=0.01)


@settings(max_examples=10, deadline=None)
@given(st.integers(0, 1000), st.sampled_from([None, 2, 7, 12]))
@example(607, 12)
@example(35, 2)
def test_shares_sum_to_one_and_pixels_show_their_colour(seed, count):
    photo = photo_of(scene(seed), scale=3)
    found = palette.of_photo(photo, CALIBRATION, colours=count, subject=find_subject(photo))
    parts = [*found.colours, *([found.background] if found.background else [])]
    assert sum(colour.share for colour in parts) == pytest.approx(1)
    for colour in parts:
        x, y = colour.pixel
        assert 0 <= x < photo.width
        assert 0 <= y < photo.height
        shown = spaces.linear_to_lab(photo.linear[y // 3, x // 3])
        assert delta_e_2000(shown, colour.lab) < max(6.0, 1.5 * colour.spread_de00)


def test_the_same_pixels_give_the_identical_palette():
    one, two = (palette.reduce_colours(scene(11), 8) for _ in range(2))
    for name in ("lab", "share", "spread_de00", "place"):
        np.testing.assert_array_equal(getattr(one, name), getattr(two, name))


def test_the_number_is_chosen_by_the_data():
    colours = ((0.5, 0.1, 0.1), (0.1, 0.4, 0.1), (0.05, 0.1, 0.6), (0.7, 0.7, 0.7))
    assert len(palette.reduce_colours(flat(*colours)).lab) == 4
    assert 2 <= len(palette.reduce_colours(scene(2)).lab) <= 24


def test_transparent_pixels_do_not_count():
    light = flat((0.5, 0.1, 0.1), (0.1, 0.4, 0.1))
    photo = photo_of(light)
    mask = np.zeros(light.shape[:2], dtype=bool)
    mask[:, :40] = True
    (colour,) = palette.of_photo(photo, CALIBRATION, colours=2, subject=Subject(mask)).colours
    np.testing.assert_allclose(colour.lab, spaces.linear_to_lab((0.5, 0.1, 0.1)), atol=0.02)


@pytest.mark.parametrize("count", [1, 25])
def test_too_few_or_many_colours_are_refused(count):
    photo = photo_of(scene(0))
    with pytest.raises(OptionError, match=f"2 to 24 colours; got {count}"):
        palette.of_photo(photo, CALIBRATION, colours=count, subject=whole(photo))


def test_an_empty_subject_is_refused():
    photo = photo_of(scene(0))
    with pytest.raises(PhotoError, match="no pixel of the subject"):
        palette.of_photo(photo, CALIBRATION, subject=Subject(np.zeros((120, 160), dtype=bool)))


def test_wrong_shapes_are_programming_mistakes():
    with pytest.raises(ValueError, match="got \\(4, 3\\)"):
        palette.reduce_colours(np.zeros((4, 3), np.float32), 2)
    with pytest.raises(ValueError, match="at least one pixel"):
        palette.reduce_colours(scene(0), 2, mask=np.zeros((120, 160), dtype=bool))


def test_pixels_gathered_once_give_the_same_bits_for_every_number():
    light = scene(7)
    once = gathering.gathered(light)
    for count in (8, None, 2, 6):
        anew, again = palette.reduce_colours(light, count), palette.reduced(once, count)
        for name in ("lab", "share", "spread_de00", "place"):
            np.testing.assert_array_equal(getattr(anew, name), getattr(again, name))


def test_a_photo_gathered_once_gives_the_palettes_it_gives_when_read_anew():
    photo = photo_of(scene(7), scale=3)
    subject = find_subject(photo)
    pixels = palette.pixels_of(photo, CALIBRATION, subject=subject)
    for count in (5, None, 8):
        anew = palette.of_photo(photo, CALIBRATION, colours=count, subject=subject)
        again = pixels.reduced(count)
        assert (again.colours, again.background, again.notes) == (anew.colours, anew.background, anew.notes)
