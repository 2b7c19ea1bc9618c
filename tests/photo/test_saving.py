"""Corrected photos on disk: tagged, upright, whole or not there."""

from __future__ import annotations

import dataclasses
import io
import os

import numpy as np
import pytest
from PIL import Image, ImageCms

from analyser.colour.spaces import linear_to_xyz
from analyser.errors import OptionError
from analyser.photo.reading import read
from analyser.photo.saving import into_srgb, save_corrected
from synthetic.charts import Scene, photo_of, render

PHOTO = photo_of(render(Scene(width=300, height=200, edition=None, swatch_lab=((40, 50, 20),)))[0])


@pytest.mark.parametrize("name", ["shop.jpg", "shop.JPEG", "shop.png"])
def test_a_saved_photo_is_tagged_srgb_and_reads_back(tmp_path, name):
    says = save_corrected(PHOTO, tmp_path / name)
    assert "300 x 200, sRGB; every colour fits" in says
    with Image.open(tmp_path / name) as picture:
        profile = ImageCms.ImageCmsProfile(io.BytesIO(picture.info["icc_profile"]))
        assert "sRGB" in ImageCms.getProfileDescription(profile)
        assert not picture.getexif()
    back = read(tmp_path / name)
    off = np.abs(back.linear - PHOTO.linear)
    if name == "shop.png":
        assert off.max() < 0.005  # half a step of eight bits, at the light end
    else:
        assert off.mean() < 0.003
    assert [path.name for path in tmp_path.iterdir()] == [name]


def test_colours_beyond_srgb_keep_their_luminance():
    linear = np.array([[0.5, 0.4, -0.05], [1.2, 0.3, 0.2], [0.2, 0.3, 0.4], [1.5, 1.5, 1.5]])
    inside, beyond = into_srgb(linear)
    assert beyond.tolist() == [True, True, False, True]
    assert (inside >= 0).all()
    assert (inside <= 1).all()
    np.testing.assert_array_equal(inside[2], linear[2])
    np.testing.assert_allclose(linear_to_xyz(inside)[:2, 1], linear_to_xyz(linear)[:2, 1], atol=1e-9)
    np.testing.assert_allclose(inside[3], 1)
    # hue: the order of the channels and their differences' ratio stay
    step_in, step_out = np.diff(inside[:2]), np.diff(linear[:2])
    np.testing.assert_allclose(step_in[:, 0] / step_in[:, 1], step_out[:, 0] / step_out[:, 1])


def test_the_share_beyond_srgb_is_told(tmp_path):
    linear = PHOTO.linear.copy()
    linear[:50] = [0.5, 0.4, -0.05]
    says = save_corrected(dataclasses.replace(PHOTO, linear=linear), tmp_path / "vivid.png")
    assert "25.00% of its pixels lie beyond sRGB and were dulled to fit" in says


def test_the_photo_itself_is_never_written_over(tmp_path):
    original = tmp_path / "mine.jpg"
    save_corrected(PHOTO, original)
    before = original.read_bytes()
    with pytest.raises(OptionError, match="is the photo itself"):
        save_corrected(read(original), original)
    assert original.read_bytes() == before


@pytest.mark.parametrize(
    ("name", "says"), [("shop.gif", "saved as .jpg or .png"), ("no/such/folder.jpg", "cannot be written")]
)
def test_what_cannot_be_saved_is_refused(tmp_path, name, says):
    with pytest.raises(OptionError, match=says):
        save_corrected(PHOTO, tmp_path / name)
    assert list(tmp_path.iterdir()) == []


def test_a_failed_write_leaves_the_old_file(tmp_path, monkeypatch):
    path = tmp_path / "shop.png"
    save_corrected(PHOTO, path)
    before = path.read_bytes()

    def fails(_handle):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", fails)
    with pytest.raises(OptionError, match="No space left"):
        save_corrected(PHOTO, path)
    assert path.read_bytes() == before
    assert [file.name for file in tmp_path.iterdir()] == ["shop.png"]
