"""Several drawn ropes in one photo, with exact truth: each is found, and nothing that is none."""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
import pytest

from analyser.errors import PhotoError
from analyser.rope.locating import locate
from analyser.rope.several import box_of, locate_all
from synthetic.ropes import Recipe, draw, photo_of

ONE = Recipe("chenille", "straight", "even", "paper", (32, 25, -8), (76, -20, 8), 32, 8.0, 0.6, 70, 11)
OTHER = replace(ONE, body=(50, -30, 0), accent=(80, 10, 60), seed=12)


def stacked(*recipes):
    """The drawn ropes one below the other, and each one's y of its first row."""
    pictures = [draw(recipe).linear for recipe in recipes]
    width = max(picture.shape[1] for picture in pictures)
    wide = [cv2.copyMakeBorder(p, 0, 0, 0, width - p.shape[1], cv2.BORDER_REPLICATE) for p in pictures]
    tops = np.cumsum([0, *(picture.shape[0] for picture in wide)])
    return np.vstack(wide), tops


def test_one_rope_is_what_locating_finds():
    photo = photo_of(draw(ONE).linear)
    (rope,), unjudged = locate_all(photo)
    assert unjudged == []
    assert np.array_equal(rope.centreline, locate(photo).centreline)


def test_each_of_two_ropes_is_found_in_reading_order():
    linear, tops = stacked(ONE, OTHER)
    ropes, unjudged = locate_all(photo_of(linear))
    assert unjudged == []
    for rope, recipe, top in zip(ropes, (ONE, OTHER), tops[:-1], strict=True):
        true = draw(recipe).centreline + np.array([0, top])
        gaps = np.hypot(*(rope.centreline[:, None] - true[None]).T).min(axis=0)
        assert np.max(gaps) < 0.35 * rope.width
        x, y, width, height = box_of(rope)
        assert (x < true[:, 0]).mean() > 0.95
        assert (true[:, 0] < x + width).mean() > 0.95
        assert ((y < true[:, 1]) & (true[:, 1] < y + height)).all()


def test_a_rope_of_too_small_beads_is_told_and_not_judged():
    linear, tops = stacked(ONE, replace(OTHER, px_per_mm=2.6, rounds=64))
    (rope,), (small,) = locate_all(photo_of(linear))
    assert rope.centreline[:, 1].max() < tops[1]
    assert small.why == "small"
    assert small.box[1] > tops[1]


@pytest.mark.parametrize("across", [False, True])
def test_stripes_and_rows_of_swatches_are_no_ropes(across):
    linear, tops = stacked(ONE, ONE)
    top, bottom = tops[1] + 70, tops[1] + 130
    linear[tops[1] :] = linear[:4].mean()
    if across:
        for k, x in enumerate(range(100, 560, 60)):
            linear[top:bottom, x : x + 60] = (0.1 + 0.1 * k, 0.5, 0.9 - 0.1 * k)
    else:
        linear[top:bottom][::4] *= 0.7
    ropes, unjudged = locate_all(photo_of(linear))
    assert len(ropes) == 1
    assert unjudged == []


def test_a_photo_without_a_rope_is_refused():
    with pytest.raises(PhotoError, match="no rope found"):
        locate_all(photo_of(np.full((300, 400, 3), 0.6, np.float32)))
