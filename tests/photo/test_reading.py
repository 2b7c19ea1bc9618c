"""Photos of every format, orientation and size read back as the light they were made of."""

from __future__ import annotations

import hashlib
import shutil

import cv2
import numpy as np
import pytest
from PIL import Image

from analyser.errors import PhotoError
from analyser.photo.reading import read
from tests.photo.photo_files import (
    HEIC,
    PATCHES,
    exif_of,
    patches_of,
    picture,
    png_chunk,
    save,
    srgb_linear,
)

# --- formats ------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["a.jpg", "a.png", "a.tiff", "a.webp"])
def test_formats_give_the_same_light(tmp_path, name):
    photo = read(save(tmp_path / name))
    assert (photo.width, photo.height, photo.orientation) == (96, 64, 1)
    assert photo.profile == "none (sRGB assumed)"
    assert photo.linear.dtype == np.float32
    assert photo.linear.shape == (64, 96, 3)
    assert photo.clipped.shape == (64, 96)
    assert not photo.clipped.any()
    assert photo.opaque is None
    assert photo.scale == 1
    assert photo.file == str(tmp_path / name)
    assert photo.sha256 == hashlib.sha256((tmp_path / name).read_bytes()).hexdigest()
    tolerance = 0.012 if name.endswith("jpg") else 1e-6  # JPEG rounds the patches by up to a level or two
    np.testing.assert_allclose(patches_of(photo.linear), srgb_linear(PATCHES / 255), rtol=0, atol=tolerance)


def test_jpegs_of_other_makes(tmp_path):
    for options in (
        {"keep_rgb": True},
        {"progressive": True},
        {"subsampling": 2},
        {"restart_marker_blocks": 2},
    ):
        photo = read(save(tmp_path / "a.jpg", **options))
        np.testing.assert_allclose(patches_of(photo.linear), srgb_linear(PATCHES / 255), rtol=0, atol=0.012)


def test_heic_gives_the_same_light():
    photo = read(HEIC / "plain.heic")
    assert (photo.width, photo.height, photo.profile, photo.notes) == (96, 64, "sRGB", ())
    np.testing.assert_allclose(patches_of(photo.linear), srgb_linear(PATCHES / 255), rtol=0, atol=0.012)


def test_ten_bit_heic_reaches_the_same_light():
    photo = read(HEIC / "ten-bit.heic")
    # Within one of its 1023 levels, at most 0.0023 of white by the slope of the curve, and coding loss.
    np.testing.assert_allclose(patches_of(photo.linear), srgb_linear(PATCHES / 255), rtol=0, atol=0.005)


def test_grey_and_transparent_heic():
    np.testing.assert_allclose(
        patches_of(read(HEIC / "grey.heic").linear),
        np.repeat(srgb_linear(PATCHES[..., :1] / 255), 3, axis=2),
        rtol=0,
        atol=0.012,
    )
    hidden = read(HEIC / "alpha.heic").opaque
    assert hidden is not None
    assert not hidden[:, :32].any()
    assert hidden[:, 32:].all()


@pytest.mark.parametrize("wrong", ["a.png", "a.jpg", "noending", "a.heic", "a.txt"])
def test_format_is_told_by_content(tmp_path, wrong):
    for right in ("b.jpg", "b.png", "b.tiff", "b.webp"):
        photo = read(shutil.copy(save(tmp_path / right), tmp_path / wrong))
        assert photo.width == 96
    assert read(shutil.copy(HEIC / "plain.heic", tmp_path / wrong)).width == 96


@pytest.mark.parametrize("name", ["Foto mit Leerzeichen.jpg", "žluťoučký kůň.png", "写真 🧵.webp", "-x.jpg"])
def test_any_file_name_works(tmp_path, monkeypatch, name):
    save(tmp_path / name)
    monkeypatch.chdir(tmp_path)
    assert read(name).file == name


@pytest.mark.parametrize("name", ["a.png", "a.tiff"])
@pytest.mark.parametrize("channels", [1, 3])
def test_sixteen_bits_are_kept(tmp_path, name, channels):
    ramp = np.arange(0, 65536, 16, np.uint16).reshape(64, 64)
    stored = ramp if channels == 1 else np.dstack([ramp, ramp[::-1], ramp[:, ::-1]])
    cv2.imwrite(str(tmp_path / name), stored if channels == 1 else stored[..., ::-1])
    photo = read(tmp_path / name)
    expected = srgb_linear(np.atleast_3d(stored) / 65535)
    np.testing.assert_allclose(photo.linear, np.broadcast_to(expected, (64, 64, 3)), rtol=0, atol=1e-6)


def test_sixteen_bits_clip_at_their_own_top(tmp_path):
    stored = np.full((8, 8, 3), 65278, np.uint16)  # 254 of 255
    stored[:4] = 65535
    cv2.imwrite(str(tmp_path / "a.png"), stored)
    clipped = read(tmp_path / "a.png").clipped
    assert clipped[:4].all()
    assert not clipped[4:].any()


def test_grey_palette_and_bilevel_pictures(tmp_path):
    grey = np.tile(np.arange(0, 250, 2, dtype=np.uint8), (16, 1))
    for name in ("a.png", "a.tiff", "a.jpg"):
        tolerance = 0.01 if name.endswith("jpg") else 1e-6
        linear = read(save(tmp_path / name, grey)).linear
        np.testing.assert_allclose(linear, np.dstack([srgb_linear(grey / 255)] * 3), rtol=0, atol=tolerance)
    for name in ("p.png", "p.tiff"):
        Image.fromarray(picture()).quantize(8).save(tmp_path / name)
        np.testing.assert_allclose(
            patches_of(read(tmp_path / name).linear), srgb_linear(PATCHES / 255), rtol=0, atol=0.012
        )
    Image.fromarray(grey).convert("1").save(tmp_path / "b.png")
    assert set(np.unique(read(tmp_path / "b.png").linear)) == {0.0, 1.0}


@pytest.mark.parametrize("compression", ["raw", "tiff_lzw", "tiff_adobe_deflate", "packbits", "zstd"])
def test_tiff_compressions(tmp_path, compression):
    path = save(tmp_path / "a.tiff", compression=compression)
    np.testing.assert_allclose(patches_of(read(path).linear), srgb_linear(PATCHES / 255), rtol=0, atol=1e-6)


def test_tiff_with_white_as_zero(tmp_path):
    tifffile = pytest.importorskip("tifffile", reason="writes the odd TIFF files read here")
    for dtype, factor in ((np.uint8, 1), (np.uint16, 257)):
        stored = picture()[..., 0].astype(dtype) * factor
        tifffile.imwrite(tmp_path / "a.tiff", np.iinfo(dtype).max - stored, photometric="miniswhite")
        linear = patches_of(read(tmp_path / "a.tiff").linear)[..., 0]
        np.testing.assert_allclose(linear, srgb_linear(PATCHES[..., 0] / 255), rtol=0, atol=1e-6)


def test_tiff_with_alpha_of_either_kind(tmp_path):
    tifffile = pytest.importorskip("tifffile", reason="writes the odd TIFF files read here")
    alpha = np.full((64, 96), 128, np.uint8)
    for dtype, factor in ((np.uint8, 1), (np.uint16, 257)):
        straight = np.dstack([picture(), alpha]).astype(dtype) * factor
        multiplied = (
            np.dstack([np.round(picture() * (128 / 255)).astype(np.uint8), alpha]).astype(dtype) * factor
        )
        for kind, stored in (("unassalpha", straight), ("assocalpha", multiplied)):
            path = tmp_path / f"{kind}.tiff"
            tifffile.imwrite(path, stored, photometric="rgb", extrasamples=[kind])
            np.testing.assert_allclose(
                patches_of(read(path).linear), srgb_linear(PATCHES / 255), rtol=0, atol=0.01
            )


def test_big_tiff_and_pages(tmp_path):
    tifffile = pytest.importorskip("tifffile", reason="writes the odd TIFF files read here")
    sixteen = picture().astype(np.uint16) * 257
    tifffile.imwrite(tmp_path / "big.tiff", sixteen, photometric="rgb", bigtiff=True)
    assert patches_of(read(tmp_path / "big.tiff").linear)[1, 0, 0] == pytest.approx(srgb_linear(230 / 255))
    tifffile.imwrite(tmp_path / "pages.tiff", np.stack([sixteen, sixteen // 2]), photometric="rgb")
    photo = read(tmp_path / "pages.tiff")
    assert "first" in photo.notes[0]
    assert patches_of(photo.linear)[1, 0, 0] == pytest.approx(srgb_linear(230 / 255))


# --- orientation --------------------------------------------------------------------------------


def stored_as(upright: np.ndarray, orientation: int) -> np.ndarray:
    """The pixels a file with that orientation holds: Pillow's own reading of the tag, inverted."""
    turns = {
        1: [],
        2: [Image.Transpose.FLIP_LEFT_RIGHT],
        3: [Image.Transpose.ROTATE_180],
        4: [Image.Transpose.FLIP_TOP_BOTTOM],
        5: [Image.Transpose.TRANSPOSE],
        6: [Image.Transpose.ROTATE_90],
        7: [Image.Transpose.TRANSVERSE],
        8: [Image.Transpose.ROTATE_270],
    }
    image = Image.fromarray(upright)
    for turn in turns[orientation]:
        image = image.transpose(turn)
    return np.asarray(image)


@pytest.mark.parametrize("orientation", range(1, 9))
@pytest.mark.parametrize("name", ["a.jpg", "a.png", "a.webp", "a.tiff", "16.tiff", "16.png"])
def test_orientation_is_applied_once(tmp_path, name, orientation):
    stored, path = stored_as(picture(), orientation), tmp_path / name
    if name == "16.tiff":
        tifffile = pytest.importorskip("tifffile", reason="writes the odd TIFF files read here")
        tags = [(274, "H", 1, orientation, True)]
        tifffile.imwrite(path, stored.astype(np.uint16) * 257, photometric="rgb", extratags=tags)
    elif name == "16.png":
        _, data = cv2.imencode(".png", stored[..., ::-1].astype(np.uint16) * 257)
        whole = data.tobytes()
        path.write_bytes(whole[:33] + png_chunk(b"eXIf", exif_of(orientation)[6:]) + whole[33:])
    elif name == "a.tiff":
        save(path, stored, tiffinfo={274: orientation})
    else:
        save(path, stored, exif=exif_of(orientation))
    for about in (None, 1500):
        photo = read(path, about_pixels=about)
        assert (photo.width, photo.height, photo.orientation) == (96, 64, orientation)
        assert photo.linear.shape[:2] == photo.clipped.shape
        np.testing.assert_allclose(patches_of(photo.linear), srgb_linear(PATCHES / 255), rtol=0, atol=0.012)


def test_heic_is_turned_once():
    photo = read(HEIC / "orientation-6.heic")
    assert (photo.width, photo.height, photo.orientation) == (64, 96, 6)
    upright = patches_of(np.rot90(photo.linear, 1))
    np.testing.assert_allclose(upright, srgb_linear(PATCHES / 255), rtol=0, atol=0.012)


@pytest.mark.parametrize("value", [0, 9, 65535])
def test_a_senseless_orientation_counts_as_none(tmp_path, value):
    assert read(save(tmp_path / "a.jpg", exif=exif_of(value))).orientation == 1


# --- alpha, clipping, size ----------------------------------------------------------------------


@pytest.mark.parametrize("name", ["a.png", "a.webp", "a.tiff", "16.png"])
def test_alpha_becomes_a_mask(tmp_path, name):
    stored = np.dstack([picture(), np.full((64, 96), 255, np.uint8)])
    stored[:, :16, 3] = 0
    if name == "16.png":
        cv2.imwrite(str(tmp_path / name), cv2.cvtColor(stored.astype(np.uint16) * 257, cv2.COLOR_RGBA2BGRA))
    else:
        save(tmp_path / name, stored)
    opaque = read(tmp_path / name).opaque
    assert opaque is not None
    assert not opaque[:, :16].any()
    assert opaque[:, 16:].all()


def test_hidden_pixels_do_not_bleed_into_means(tmp_path):
    stored = np.full((64, 64, 4), (255, 0, 255, 0), np.uint8)
    stored[:, ::3] = (60, 120, 180, 255)
    photo = read(save(tmp_path / "a.png", stored), about_pixels=100)
    inside = photo.linear[2:-2, 2:-2].reshape(-1, 3)
    expected = srgb_linear(np.array([60, 120, 180]) / 255)
    np.testing.assert_allclose(inside, np.broadcast_to(expected, inside.shape), rtol=0, atol=1e-5)


def test_transparency_of_a_palette(tmp_path):
    image = Image.fromarray(picture()).quantize(8)
    hidden = image.getpixel((5, 5))
    image.save(tmp_path / "a.png", transparency=hidden)
    opaque = read(tmp_path / "a.png").opaque
    assert opaque is not None
    assert not opaque[5, 5]
    assert opaque[5, 40]


@pytest.mark.parametrize("value", [253, 254, 255])
def test_clipped_marks_a_channel_at_its_top(tmp_path, value):
    stored = picture()
    stored[:32, :32, 0] = value
    clipped = read(save(tmp_path / "a.png", stored)).clipped
    assert clipped[:32, :32].all() == (value >= 254)
    assert not clipped[32:].any()


@pytest.mark.parametrize("name", ["a.jpg", "a.png", "a.tiff"])
@pytest.mark.parametrize("size", [(301, 413), (1200, 1607)])
def test_about_pixels_is_kept_and_places_stay(tmp_path, name, size):
    h, w = size
    y, x = np.mgrid[:h, :w]
    centre = (0.9 * w, 0.9 * h)
    spot = np.exp(-((x - centre[0]) ** 2 + (y - centre[1]) ** 2) / (2 * (0.03 * w) ** 2))
    stored = np.dstack([20 + 200 * spot] * 3).round().astype(np.uint8)
    path = save(tmp_path / name, stored)
    for about in (4000, 20_000, 100_000):
        photo = read(path, about_pixels=about)
        rows, columns = photo.linear.shape[:2]
        assert 0.97 * min(about, h * w) <= rows * columns <= 1.03 * about
        assert (photo.width, photo.height) == (w, h)
        assert photo.scale == pytest.approx(w / columns)
        light = photo.linear[..., 1] - np.median(photo.linear[..., 1])
        for axis, place in ((1, centre[0]), (0, centre[1])):
            profile = light.sum(axis=1 - axis)
            found = (profile * (np.arange(len(profile)) + 0.5)).sum() / profile.sum() * photo.scale - 0.5
            assert abs(found - place) < 0.5 * photo.scale


def test_means_are_of_light_not_of_numbers(tmp_path):
    stored = np.zeros((400, 400, 3), np.uint8)
    stored[::2] = 250  # stripes of one pixel: half the light of 250, not the light of 125
    expected = srgb_linear(np.array(250 / 255)) / 2
    linear = read(save(tmp_path / "a.png", stored), about_pixels=10_000).linear
    np.testing.assert_allclose(linear[5:-5, 5:-5], expected, rtol=0, atol=1e-4)


def test_a_smaller_photo_is_not_enlarged(tmp_path):
    assert read(save(tmp_path / "a.png"), about_pixels=10**6).linear.shape == (64, 96, 3)


def test_reduced_jpeg_is_close_to_the_full_one(tmp_path):
    rng = np.random.default_rng(2)
    coarse = rng.uniform(10, 245, (15, 20, 3)).astype(np.float32)
    stored = cv2.resize(coarse, (800, 600), interpolation=cv2.INTER_CUBIC).clip(0, 255).astype(np.uint8)
    jpeg = read(save(tmp_path / "a.jpg", stored), about_pixels=8000).linear
    png = read(save(tmp_path / "a.png", stored), about_pixels=8000).linear
    assert abs(jpeg - png).mean() < 0.003


def test_a_directory_that_lies_beyond_all_offsets_is_damage(tmp_path):
    # BigTIFF (offsets of eight bytes): the first directory at 2^63 and more, found by the fuzzed readers.
    path = tmp_path / "big.tiff"
    path.write_bytes(b"II+\0\x08\0\0\0" + b"\xf5" * 8 + bytes(64))
    with pytest.raises(PhotoError, match="damaged"):
        read(path)
