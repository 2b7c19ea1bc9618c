"""The subject of drawn photos: what a box, a mask and a plain border single out."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from analyser.errors import OptionError, PhotoError
from analyser.photo.box import Box
from analyser.photo.reading import Photo
from analyser.photo.subject import find_subject, is_plain


def photo_of(linear, opaque=None):
    height, width = linear.shape[:2]
    clipped = np.zeros((height, width), dtype=bool)
    return Photo(linear.astype(np.float32), opaque, clipped, "drawn.png", 2 * width, 2 * height,
                 "sRGB", 1, "0" * 64)  # fmt: skip


@pytest.fixture
def on_a_wall():
    """A red disc with blue dots before a busy wall; the photo is twice the size it was read at."""
    rng = np.random.default_rng(4)
    light = 0.3 + 0.25 * cv2.GaussianBlur(rng.normal(0, 1, (200, 300, 3)), (0, 0), 4) * 8
    y, x = np.mgrid[0:200, 0:300]
    disc = np.hypot(x - 150, y - 100) < 60
    light[disc] = (0.4, 0.03, 0.03)
    light[disc & (np.hypot(x % 24 - 12, y % 24 - 12) < 5)] = (0.03, 0.05, 0.4)
    return photo_of(light.clip(0, 1)), disc


def test_a_box_round_a_thing_finds_the_thing(on_a_wall):
    photo, disc = on_a_wall
    subject = find_subject(photo, Box.parse("160,60,280,280"))
    assert (subject.mask & disc).sum() > 0.95 * disc.sum()
    assert (subject.mask & ~disc).sum() < 0.05 * disc.sum()
    assert subject.background is None
    assert subject.notes == ("the subject is what stands out in the box",)


def test_the_same_box_gives_the_same_cut(on_a_wall):
    photo, _ = on_a_wall
    one, two = (find_subject(photo, Box.parse("160,60,280,280")).mask for _ in range(2))
    np.testing.assert_array_equal(one, two)


def test_a_box_of_one_plain_colour_is_taken_as_it_is():
    rng = np.random.default_rng(1)
    light = 0.2 * rng.normal(1, 0.05, (100, 100, 3))
    light[:50] *= (2.0, 0.5, 0.5)
    subject = find_subject(photo_of(light), Box.parse("20,20,60,60"))
    expected = np.zeros((100, 100), dtype=bool)
    expected[10:40, 10:40] = True
    np.testing.assert_array_equal(subject.mask, expected)
    assert "one plain colour" in subject.notes[0]


def test_a_plain_background_is_set_apart_and_nothing_is_lost():
    light = np.full((150, 200, 3), 0.4) * np.linspace(0.85, 1.15, 200)[None, :, None]
    light[50:100, 60:140] = (0.4, 0.05, 0.1)
    subject = find_subject(photo_of(light))
    thing = np.zeros((150, 200), dtype=bool)
    thing[50:100, 60:140] = True
    np.testing.assert_array_equal(subject.mask, ~subject.background)
    assert (subject.mask ^ thing).mean() < 0.01


def test_a_busy_border_is_no_background(on_a_wall):
    photo, _ = on_a_wall
    subject = find_subject(photo)
    assert subject.background is None
    assert subject.mask.all()


def test_a_photo_of_one_colour_is_all_subject():
    subject = find_subject(photo_of(np.full((60, 80, 3), 0.3)))
    assert subject.background is None
    assert subject.mask.all()


def test_a_mask_of_another_size_marks_the_subject(tmp_path):
    marked = np.zeros((50, 100), np.uint8)
    marked[:, :50] = 255
    file = tmp_path / "mask.png"
    cv2.imwrite(str(file), marked)
    subject = find_subject(photo_of(np.full((100, 200, 3), 0.3)), mask_file=file)
    assert subject.mask[:, :98].all()
    assert not subject.mask[:, 102:].any()


def test_masks_that_cannot_be_used_are_told(tmp_path):
    photo = photo_of(np.full((100, 200, 3), 0.3))
    wrong = tmp_path / "square.png"
    cv2.imwrite(str(wrong), np.full((50, 50), 255, np.uint8))
    with pytest.raises(PhotoError, match="the mask is 50 x 50, the photo 400 x 200"):
        find_subject(photo, mask_file=wrong)
    black = tmp_path / "black.png"
    cv2.imwrite(str(black), np.zeros((50, 100), np.uint8))
    with pytest.raises(PhotoError, match="marks no pixel"):
        find_subject(photo, mask_file=black)
    text = tmp_path / "text.png"
    text.write_text("no picture")
    with pytest.raises(PhotoError, match="the mask is no picture"):
        find_subject(photo, mask_file=text)
    with pytest.raises(PhotoError, match="the mask cannot be opened"):
        find_subject(photo, mask_file=tmp_path / "none.png")


def test_a_box_beside_the_photo_is_refused():
    with pytest.raises(OptionError, match="lies outside the photo"):
        find_subject(photo_of(np.full((100, 200, 3), 0.3)), Box.parse("500,10,50,50"))


def test_hidden_pixels_are_never_the_subject():
    opaque = np.ones((100, 200), dtype=bool)
    opaque[:, 100:] = False
    photo = photo_of(np.full((100, 200, 3), 0.3), opaque)
    np.testing.assert_array_equal(find_subject(photo).mask, opaque)
    with pytest.raises(PhotoError, match="only transparent pixels"):
        find_subject(photo, Box.parse("260,20,100,100"))
    with pytest.raises(PhotoError, match="transparent everywhere"):
        find_subject(photo_of(np.full((10, 10, 3), 0.3), np.zeros((10, 10), dtype=bool)))


def test_plain_means_one_colour_apart_from_noise():
    rng = np.random.default_rng(2)
    light = (0.3 * rng.normal(1, 0.1, (200, 200, 3))).astype(np.float32)
    mask = np.ones((200, 200), dtype=bool)
    assert is_plain(light, mask)
    light[90:97, 90:97] = (0.6, 0.02, 0.02)  # 0.12 % of it
    assert not is_plain(light, mask)
