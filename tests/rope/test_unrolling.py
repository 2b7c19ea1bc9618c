"""Locating and unrolling on drawn textures whose course is known."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from analyser.errors import PhotoError
from analyser.photo.reading import Photo
from analyser.rope.locating import locate, resample
from analyser.rope.unrolling import unroll


def photo_of(linear: np.ndarray) -> Photo:
    height, width = linear.shape[:2]
    return Photo(
        linear.astype(np.float32),
        None,
        np.zeros((height, width), bool),
        "drawn",
        width,
        height,
        "sRGB",
        1,
        "0" * 64,
    )


def drawn(line: np.ndarray, radius: float, shape: tuple[int, int], *, bead: float = 15.0) -> Photo:
    """Discs of two colours all over the tube along a line, on paper."""
    rng = np.random.default_rng(1)
    picture = np.full((*shape, 3), 0.8, np.float32)
    picture += rng.normal(0, 0.004, picture.shape).astype(np.float32)
    steps = np.hypot(*np.diff(line, axis=0).T)
    length = steps.sum()
    count = max(2, round(length / bead))
    centres = resample(line, count)
    tangent = np.gradient(centres, axis=0)
    tangent /= np.hypot(*tangent.T)[:, None]
    rows = np.arange(-radius + bead / 2, radius - bead / 2 + 1, bead * 0.9)
    for number, (centre, along) in enumerate(zip(centres, tangent, strict=True)):
        for row, offset in enumerate(rows):
            x, y = centre + offset * np.array([-along[1], along[0]])
            colour = (0.5, 0.1, 0.08) if (number + row) % 3 else (0.1, 0.3, 0.4)
            at = (round(x * 16), round(y * 16))
            cv2.circle(picture, at, round(bead * 8), tuple(0.3 * c for c in colour), -1, cv2.LINE_AA, 4)
            cv2.circle(picture, at, round(bead * 6), colour, -1, cv2.LINE_AA, 4)
    return photo_of(picture)


def length_of(line: np.ndarray) -> float:
    return float(np.hypot(*np.diff(line, axis=0).T).sum())


def spiral(turns: float, inner: float, outer: float, centre: tuple[float, float]) -> np.ndarray:
    t = np.linspace(0, 1, 2000)
    turn, radius = 2 * np.pi * turns * t, inner + (outer - inner) * t
    return np.column_stack([centre[0] + radius * np.cos(turn), centre[1] + radius * np.sin(turn)])


@pytest.mark.parametrize("turns", [0.85, 1.4])
def test_a_drawn_spiral_unrolls_to_its_known_length(turns):
    line = spiral(turns, 150 if turns > 1 else 300, 330, (450, 420))
    strip = unroll(photo := drawn(line, 26, (860, 900)), locate(photo))
    # The drawn line's length is known; bead rows end half a bead beyond its ends, and the texture that
    # marks an end reaches a few pixels farther.
    assert strip.stop - strip.start == pytest.approx(length_of(line) + 15, rel=0.03)
    along = np.concatenate([[0], np.cumsum(np.hypot(*np.diff(line, axis=0).T))]) / length_of(line)
    middle = strip.centreline[strip.start : strip.stop]
    turned = np.hypot(*(middle[0] - line[0])) > np.hypot(*(middle[-1] - line[0]))
    for wanted in (0.2, 0.4, 0.6, 0.8):
        point = line[np.searchsorted(along, wanted)]
        found = np.argmin(np.hypot(*(middle - point).T)) / len(middle)
        assert (1 - found if turned else found) == pytest.approx(wanted, abs=0.01)


def test_the_centreline_lies_on_the_drawn_line():
    t = np.linspace(0, 1, 500)
    line = np.column_stack([80 + 740 * t, 300 + 90 * np.sin(2 * np.pi * t)])
    photo = drawn(line, 28, (600, 900))
    strip = unroll(photo, locate(photo))
    found = strip.centreline[strip.start + 20 : strip.stop - 20]
    far = [np.hypot(*(line - point).T).min() for point in found[::10]]
    assert np.median(far) < 0.1 * 28
    assert strip.radius == pytest.approx(28, rel=0.12)


def test_a_place_in_the_strip_goes_back_to_its_pixel():
    line = np.column_stack([np.linspace(100, 800, 300), np.full(300, 200.0)])
    photo = drawn(line, 26, (400, 900))
    strip = unroll(photo, locate(photo))
    column = (strip.start + strip.stop) / 2
    np.testing.assert_allclose(strip.pixel(column, strip.middle), [450, 200], atol=4)
    assert strip.fraction(column) == pytest.approx(0.5, abs=0.01)


def test_the_first_end_is_the_left_one_or_the_upper():
    left = np.column_stack([np.linspace(100, 800, 300), np.linspace(300, 200, 300)])
    assert locate(drawn(left[::-1], 26, (500, 900))).centreline[0, 0] < 300
    upright = np.column_stack([np.linspace(400, 410, 300), np.linspace(80, 820, 300)])
    assert locate(drawn(upright[::-1], 26, (900, 900))).centreline[0, 1] < 300


@pytest.mark.parametrize("kind", ["paper", "card", "noise", "pile"])
def test_what_is_no_rope_is_refused(kind):
    rng = np.random.default_rng(2)
    picture = np.full((600, 800, 3), 0.7, np.float32) + rng.normal(0, 0.01, (600, 800, 3))
    if kind == "card":
        picture[200:300, 100:600] = 0.2
    if kind == "noise":
        picture = rng.uniform(0.1, 0.9, (600, 800, 3))
    if kind == "pile":
        for x, y in rng.normal(0, 45, (300, 2)):
            cv2.circle(picture, (round(400 + x), round(300 + y)), 9, (0.5, 0.1, 0.1), -1, cv2.LINE_AA)
            cv2.circle(picture, (round(400 + x), round(300 + y)), 9, (0.1, 0.02, 0.02), 2, cv2.LINE_AA)
    with pytest.raises(PhotoError, match="no rope found"):
        locate(photo_of(picture))
