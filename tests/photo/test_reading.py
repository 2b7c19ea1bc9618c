"""Photos of every kind read back as the light they were made of."""

from __future__ import annotations

import contextlib
import hashlib
import io
import os
import shutil
import struct
import zlib
from pathlib import Path

import cv2
import numpy as np
import pytest
from PIL import Image, ImageCms

from analyser.errors import PhotoError
from analyser.photo import profiles
from analyser.photo.reading import read

HEIC = Path(__file__).parent / "heic"
PATCHES = np.array(
    [[(200, 40, 40), (40, 160, 60), (30, 60, 180)], [(230, 230, 230), (120, 120, 120), (20, 20, 20)]],
    np.uint8,
)


def picture() -> np.ndarray:
    """Six flat patches, 64 rows and 96 columns."""
    return np.repeat(np.repeat(PATCHES, 32, axis=0), 32, axis=1)


def srgb_linear(codes: np.ndarray) -> np.ndarray:
    return profiles.srgb_curve(np.asarray(codes, float))


def patches_of(linear: np.ndarray) -> np.ndarray:
    """The six patch centres of an upright reading."""
    h, w = linear.shape[:2]
    return linear[np.ix_([h // 4, 3 * h // 4], [w // 6, w // 2, 5 * w // 6])]


def save(path: Path, pixels: np.ndarray | None = None, **options: object) -> Path:
    stored = picture() if pixels is None else pixels
    suffix = path.suffix.lower()
    if suffix in (".jpg", ".jpeg"):
        options = {"quality": 98, "subsampling": 0, **options}
    if suffix == ".webp":
        options = {"lossless": True, "exact": True, **options}
    Image.fromarray(stored).save(path, **options)
    return path


def exif_of(orientation: int = 1, *, adobe: bool = False) -> bytes:
    """An EXIF block by hand: orientation, and the DCF mark of Adobe RGB."""
    order, main = b"MM\0*" + struct.pack(">I", 8), struct.pack(">HHIHH", 0x0112, 3, 1, orientation, 0)
    if not adobe:
        return b"Exif\0\0" + order + struct.pack(">H", 1) + main + struct.pack(">I", 0)
    main += struct.pack(">HHII", 0x8769, 4, 1, 38)
    sub = struct.pack(">H", 2) + struct.pack(">HHIHH", 0xA001, 3, 1, 0xFFFF, 0)
    sub += struct.pack(">HHII", 0xA005, 4, 1, 68) + struct.pack(">I", 0)
    interop = struct.pack(">H", 1) + struct.pack(">HHI4s", 0x0001, 2, 4, b"R03\0") + struct.pack(">I", 0)
    return b"Exif\0\0" + order + struct.pack(">H", 2) + main + struct.pack(">I", 0) + sub + interop


def png_chunk(name: bytes, data: bytes) -> bytes:
    return struct.pack(">I", len(data)) + name + data + struct.pack(">I", zlib.crc32(name + data))


def png_with(path: Path, *chunks: tuple[bytes, bytes]) -> Path:
    """The picture as PNG with chunks put before its pixels."""
    stream = io.BytesIO()
    Image.fromarray(picture()).save(stream, "PNG")
    data = stream.getvalue()
    at = 8 + 25  # signature and IHDR
    path.write_bytes(data[:at] + b"".join(png_chunk(*chunk) for chunk in chunks) + data[at:])
    return path


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
    tifffile = pytest.importorskip("tifffile")
    for dtype, factor in ((np.uint8, 1), (np.uint16, 257)):
        stored = picture()[..., 0].astype(dtype) * factor
        tifffile.imwrite(tmp_path / "a.tiff", np.iinfo(dtype).max - stored, photometric="miniswhite")
        linear = patches_of(read(tmp_path / "a.tiff").linear)[..., 0]
        np.testing.assert_allclose(linear, srgb_linear(PATCHES[..., 0] / 255), rtol=0, atol=1e-6)


def test_tiff_with_alpha_of_either_kind(tmp_path):
    tifffile = pytest.importorskip("tifffile")
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
    tifffile = pytest.importorskip("tifffile")
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
        tifffile = pytest.importorskip("tifffile")
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


# --- colour -------------------------------------------------------------------------------------


def encoded(linear: np.ndarray, space: profiles.Profile, exponent: float | None = None) -> np.ndarray:
    """Linear sRGB into a space's own numbers, 0 to 255, not rounded."""
    light = np.linalg.solve(space.matrix, linear.reshape(-1, 3).T).T.reshape(linear.shape).clip(0, 1)
    if exponent is not None:
        return 255 * light ** (1 / exponent)
    return 255 * np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055)


@pytest.mark.parametrize("name", ["a.jpg", "a.png", "a.tiff", "a.webp"])
def test_one_picture_in_display_p3_and_srgb_gives_the_same_light(tmp_path, icc, name):
    p3 = encoded(srgb_linear(picture() / 255), profiles.from_cicp(12, 13))
    profile = icc.matrix("Display P3", icc.srgb_curve)
    photo = read(save(tmp_path / name, np.round(p3).astype(np.uint8), icc_profile=profile))
    assert photo.profile == "Display P3"
    assert photo.notes == ()
    # Half a level of rounding in P3 is at most 0.0045 of white; JPEG twice that.
    tolerance = 0.012 if name.endswith("jpg") else 0.006
    np.testing.assert_allclose(patches_of(photo.linear), srgb_linear(PATCHES / 255), rtol=0, atol=tolerance)


def test_sixteen_bit_wide_colours_come_through_unclipped(tmp_path, icc):
    tifffile = pytest.importorskip("tifffile")
    red = np.zeros((8, 8, 3), np.uint16)
    red[..., 0] = 65535
    profile = icc.matrix("ProPhoto", icc.para(0, 1.8), name="ProPhoto RGB")
    tifffile.imwrite(tmp_path / "a.tiff", red, photometric="rgb", iccprofile=profile)
    photo = read(tmp_path / "a.tiff")
    assert photo.profile == "ProPhoto RGB"
    assert photo.linear[0, 0, 0] > 1.9
    assert photo.linear[0, 0, 1] < -0.2


@pytest.mark.parametrize("name", ["display-p3.heic", "icc-display-p3.heic"])
def test_heic_colour_by_nclx_and_by_icc(name):
    photo = read(HEIC / name)
    assert photo.profile == "Display P3"
    expected = srgb_linear(PATCHES / 255) @ profiles.from_cicp(12, 13).matrix.T
    np.testing.assert_allclose(patches_of(photo.linear), expected, rtol=0, atol=0.015)


def test_adobe_rgb_by_its_exif_mark(tmp_path):
    stored = np.round(encoded(srgb_linear(picture() / 255), profiles.adobe_rgb(), 563 / 256)).astype(np.uint8)
    photo = read(save(tmp_path / "a.jpg", stored, exif=exif_of(adobe=True)))
    assert photo.profile == "Adobe RGB (1998)"
    np.testing.assert_allclose(patches_of(photo.linear), srgb_linear(PATCHES / 255), rtol=0, atol=0.012)


def test_png_declares_its_colour_by_chunks(tmp_path, icc):
    p3_xy = (31270, 32900, 68000, 32000, 26500, 69000, 15000, 6000)
    p3 = srgb_linear(PATCHES / 255) @ profiles.from_cicp(12, 13).matrix.T
    plain = srgb_linear(PATCHES / 255)
    cicp, chrm = (b"cICP", bytes([12, 13, 0, 1])), (b"cHRM", struct.pack(">8I", *p3_xy))
    gamma = (b"gAMA", struct.pack(">I", 45455))
    srgb = (b"sRGB", b"\0")
    profile = (b"iCCP", b"p\0\0" + zlib.compress(icc.matrix("Display P3", icc.srgb_curve)))
    power = (PATCHES / 255) ** (1 / 0.45455)
    for chunks, says, expected in (
        ([cicp], "Display P3", p3),
        ([cicp, srgb], "Display P3", p3),
        ([profile], "Display P3", p3),
        ([srgb, chrm, gamma], "sRGB", plain),
        ([gamma], "gamma 2.2", power),
        ([chrm, gamma], "gamma 2.2", power @ profiles.from_cicp(12, 13).matrix.T),
        ([chrm], "sRGB curve", p3),
    ):
        photo = read(png_with(tmp_path / "a.png", *chunks))
        assert photo.profile.startswith(says)
        np.testing.assert_allclose(patches_of(photo.linear), expected, rtol=0, atol=2e-4)


@pytest.mark.parametrize("transfer", [16, 18])
def test_hdr_curves_are_refused(tmp_path, transfer):
    with pytest.raises(PhotoError, match=r"HDR photo .*standard range"):
        read(png_with(tmp_path / "a.png", (b"cICP", bytes([9, transfer, 0, 1]))))


def test_hdr_heic_is_refused():
    with pytest.raises(PhotoError, match=r"pq\.heic: is an HDR photo \(PQ curve\)"):
        read(HEIC / "pq.heic")


def test_an_unreadable_profile_is_said(tmp_path):
    photo = read(save(tmp_path / "a.jpg", icc_profile=b"no profile" * 20))
    assert photo.profile == "unreadable (sRGB assumed)"
    assert "cannot be used" in photo.notes[0]
    photo = read(png_with(tmp_path / "b.png", (b"iCCP", b"p\0\0no zlib stream")))
    assert photo.profile == "unreadable (sRGB assumed)"
    photo = read(png_with(tmp_path / "c.png", (b"gAMA", struct.pack(">I", 0))))
    assert photo.profile == "unreadable (sRGB assumed)"
    photo = read(png_with(tmp_path / "d.png", (b"cICP", bytes([99, 13, 0, 1]))))
    assert photo.profile == "unreadable (sRGB assumed)"


def test_a_profile_in_several_jpeg_segments(tmp_path, icc):
    table = icc.curv(*(round(65535 * (i / 59999) ** 2.2) for i in range(60000)))
    profile = icc.matrix("Display P3", table)
    assert len(profile) > 65535  # more than one segment holds
    data = save(tmp_path / "a.jpg", icc_profile=profile).read_bytes()
    assert data.count(b"ICC_PROFILE\0") > 1
    assert read(tmp_path / "a.jpg").profile == "Display P3"
    (tmp_path / "b.jpg").write_bytes(data.replace(b"ICC_PROFILE\0\2", b"ICC_PROFILE\0\7", 1))
    assert read(tmp_path / "b.jpg").profile == "unreadable (sRGB assumed)"


def test_grey_profile(tmp_path, icc):
    profile = icc.write({b"kTRC": icc.curv(512)}, space=b"GRAY", name="Grey, gamma 2")
    grey = np.tile(np.arange(0, 250, 10, dtype=np.uint8), (8, 1))
    for name in ("a.png", "a.tiff"):
        photo = read(save(tmp_path / name, grey, icc_profile=profile))
        assert photo.profile == "Grey, gamma 2"
        np.testing.assert_allclose(photo.linear[..., 1], (grey / 255) ** 2, rtol=0, atol=1e-6)
    photo = read(save(tmp_path / "colour.png", icc_profile=profile))
    assert photo.profile == "unreadable (sRGB assumed)"


def test_a_gain_map_is_told_and_the_base_picture_read(tmp_path):
    xmp = b'<x:xmpmeta xmlns:hdrgm="http://ns.adobe.com/hdr-gain-map/1.0/" hdrgm:Version="1.0"/>'
    plain = read(save(tmp_path / "a.jpg"))
    photo = read(save(tmp_path / "b.jpg", xmp=xmp))
    assert "gain map" in photo.notes[0]
    np.testing.assert_array_equal(photo.linear, plain.linear)
    data = (tmp_path / "a.jpg").read_bytes()
    urn = b"urn:iso:std:iso:ts:21496:-1\0" + bytes(4)
    segment = b"\xff\xe2" + struct.pack(">H", 2 + len(urn)) + urn
    (tmp_path / "c.jpg").write_bytes(data[:2] + segment + data[2:])
    assert "gain map" in read(tmp_path / "c.jpg").notes[0]


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


# --- what cannot be read ------------------------------------------------------------------------


def refusal(path: object, **options: float) -> str:
    with pytest.raises(PhotoError) as caught:
        read(path, **options)  # type: ignore[arg-type]
    text = str(caught.value)
    assert "\n" not in text
    assert text.startswith(str(path))
    assert len(text) < len(str(path)) + 160
    return text


def test_missing_folder_and_empty(tmp_path):
    assert "no such file" in refusal(tmp_path / "nothing.jpg")
    assert "no such file" in refusal(tmp_path / "no" / "folder.jpg")
    assert "is a folder" in refusal(tmp_path)
    (tmp_path / "empty.jpg").touch()
    assert "is empty" in refusal(tmp_path / "empty.jpg")
    save(tmp_path / "a.jpg")
    assert "cannot be opened" in refusal(tmp_path / "a.jpg" / "b.jpg")


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="this system has no pipes with names")
def test_a_pipe_is_refused_at_once(tmp_path):
    os.mkfifo(tmp_path / "pipe.jpg")
    assert "not a regular file" in refusal(tmp_path / "pipe.jpg")


def test_a_file_without_permission(tmp_path, monkeypatch):
    path = save(tmp_path / "a.jpg")

    def deny(self: Path) -> bytes:
        raise PermissionError(13, "Permission denied", str(self))

    monkeypatch.setattr(Path, "read_bytes", deny)  # as root, no mode of a file denies reading
    assert "may not be read" in refusal(path)


def test_what_is_no_photo(tmp_path):
    for name, data in (
        ("note.jpg", b"dear customer, the photo follows"),
        ("x.png", bytes(1000)),
        ("x.heic", b"\0\0\0\x18ftypisom" + bytes(100)),
        ("x.jpg", b"\xff\xd8"),
    ):
        (tmp_path / name).write_bytes(data)
        assert "photo" in refusal(tmp_path / name)
    Image.fromarray(picture()).save(tmp_path / "a.gif")
    assert "GIF" in refusal(tmp_path / "a.gif")
    Image.fromarray(picture()).save(tmp_path / "a.bmp")
    assert "BMP" in refusal(tmp_path / "a.bmp")


@pytest.mark.parametrize(
    "name", ["a.jpg", "progressive.jpg", "a.png", "a.webp", "a.tiff", "16.tiff", "a.heic"]
)
def test_a_truncated_file_is_never_half_a_photo(tmp_path, name, capfd):
    noise = np.random.default_rng(0).integers(0, 256, (120, 160, 3), dtype=np.uint8)
    whole = tmp_path / f"whole-{name}"
    if name == "a.heic":
        shutil.copy(HEIC / "plain.heic", whole)
    elif name == "16.tiff":
        cv2.imwrite(str(whole), noise.astype(np.uint16) * 257)
    else:
        extra = {"progressive": True} if name.startswith("progressive") else {}
        save(whole, noise, **extra)
    data = whole.read_bytes()
    read(whole)
    for share in (0.02, 0.3, 0.6, 0.9, 0.99):
        (tmp_path / name).write_bytes(data[: int(len(data) * share)])
        for about in (None, 2000):
            assert "cut short or damaged" in refusal(tmp_path / name, about_pixels=about)
    assert capfd.readouterr() == ("", "")  # decoders' own remarks stay away from the user


def test_damage_inside_a_jpeg_is_noticed(tmp_path, capfd):
    noise = np.random.default_rng(0).integers(0, 256, (240, 320, 3), dtype=np.uint8)
    data = bytearray(save(tmp_path / "a.jpg", noise).read_bytes())
    middle = len(data) // 2
    data[middle : middle + 4000] = bytes(4000)
    (tmp_path / "b.jpg").write_bytes(data)
    assert "damaged" in refusal(tmp_path / "b.jpg")
    assert capfd.readouterr() == ("", "")


def test_damage_inside_a_png_is_noticed(tmp_path):
    data = bytearray(save(tmp_path / "a.png").read_bytes())
    data[len(data) // 2] ^= 0x55
    (tmp_path / "b.png").write_bytes(data)
    assert "damaged" in refusal(tmp_path / "b.png")


def test_a_png_with_too_few_rows_is_refused(tmp_path, capfd):
    head = struct.pack(">IIBBBBB", 64, 64, 8, 2, 0, 0, 0)
    few = zlib.compress(bytes(193 * 10))
    chunks = png_chunk(b"IHDR", head) + png_chunk(b"IDAT", few) + png_chunk(b"IEND", b"")
    (tmp_path / "a.png").write_bytes(b"\x89PNG\r\n\x1a\n" + chunks)
    assert "damaged" in refusal(tmp_path / "a.png")
    assert capfd.readouterr() == ("", "")


def bomb(kind: str, side: int) -> bytes:
    """A tiny file that claims side x side pixels."""
    if kind == "png":
        head = struct.pack(">IIBBBBB", side, side, 8, 2, 0, 0, 0)
        parts = ((b"IHDR", head), (b"IDAT", zlib.compress(bytes(1000))), (b"IEND", b""))
        return b"\x89PNG\r\n\x1a\n" + b"".join(png_chunk(*part) for part in parts)
    if kind == "jpg":
        frame = struct.pack(">BHHB", 8, side, side, 3) + bytes([1, 17, 0, 2, 17, 1, 3, 17, 1])
        scan = bytes([3, 1, 0, 2, 17, 3, 17, 0, 63, 0])
        segments = b"\xff\xc0" + struct.pack(">H", 2 + len(frame)) + frame
        return b"\xff\xd8" + segments + b"\xff\xda" + struct.pack(">H", 2 + len(scan)) + scan + b"\0\xff\xd9"
    if kind == "webp":
        size = struct.pack("<I", side - 1)[:3]
        chunk = b"VP8X" + struct.pack("<I", 10) + bytes(4) + size * 2
        return b"RIFF" + struct.pack("<I", 4 + len(chunk)) + b"WEBP" + chunk
    entries = [(256, 4, side), (257, 4, side), (258, 3, 8 << 16), (262, 3, 2 << 16), (277, 3, 3 << 16)]
    body = b"".join(struct.pack(">HHII", tag, code, 1, value) for tag, code, value in entries)
    return b"MM\0*" + struct.pack(">IH", 8, len(entries)) + body + bytes(4)


@pytest.mark.parametrize("kind", ["png", "jpg", "webp", "tiff"])
def test_a_bomb_is_refused_before_it_is_decoded(tmp_path, kind, monkeypatch):
    path = tmp_path / f"bomb.{kind}"
    path.write_bytes(bomb(kind, 60_000))
    monkeypatch.setattr(cv2, "imdecode", lambda *_: pytest.fail("a bomb was given to the decoder"))
    assert "has 60000 x 60000 pixels, the limit is 200 megapixels" in refusal(path)


def test_the_limit_can_be_moved(tmp_path):
    path = save(tmp_path / "a.jpg", np.zeros((1100, 1000, 3), np.uint8))
    assert "has 1000 x 1100 pixels, the limit is 1 megapixels" in refusal(path, limit_mp=1)
    assert read(path, limit_mp=1.2).width == 1000
    assert "limit" in refusal(HEIC / "plain.heic", limit_mp=0.001)


def test_a_bomb_of_a_profile_is_told(tmp_path):
    packed = zlib.compress(bytes(200 << 20), 1)
    photo = read(png_with(tmp_path / "a.png", (b"iCCP", b"p\0\0" + packed)))
    assert photo.profile == "unreadable (sRGB assumed)"


def test_cmyk_is_refused(tmp_path):
    for name in ("a.jpg", "a.tiff"):
        Image.fromarray(picture()).convert("CMYK").save(tmp_path / name)
        assert "CMYK" in refusal(tmp_path / name)


def test_other_tiffs_are_refused(tmp_path):
    tifffile = pytest.importorskip("tifffile")
    tifffile.imwrite(tmp_path / "f.tiff", (picture() / 255).astype(np.float32), photometric="rgb")
    assert "decimal numbers" in refusal(tmp_path / "f.tiff")
    planes = np.moveaxis(picture().astype(np.uint16) * 257, 2, 0)
    tifffile.imwrite(tmp_path / "p.tiff", planes, photometric="rgb", planarconfig="separate")
    assert "separate colour planes" in refusal(tmp_path / "p.tiff")
    tags = [(254, "I", 1, 1, True)]
    tifffile.imwrite(tmp_path / "r.nef", picture(), photometric="rgb", extratags=tags, subfiletype=1)
    assert "raw file" in refusal(tmp_path / "r.nef")
    srgb, lab = ImageCms.createProfile("sRGB"), ImageCms.createProfile("LAB")
    in_lab = ImageCms.profileToProfile(Image.fromarray(picture()), srgb, lab, outputMode="LAB")
    in_lab.save(tmp_path / "l.tiff")
    assert "neither RGB nor grey" in refusal(tmp_path / "l.tiff")


@pytest.mark.parametrize("name", ["a.gif", "a.webp", "a.png"])
def test_animations_are_refused(tmp_path, name):
    frames = [Image.fromarray(picture()), Image.fromarray(picture()[::-1].copy())]
    frames[0].save(tmp_path / name, save_all=True, append_images=frames[1:], duration=100)
    assert "save" in refusal(tmp_path / name)


def test_a_line_break_in_a_name_stays_one_line(tmp_path):
    with pytest.raises(PhotoError) as caught:
        read(tmp_path / "two\nlines.jpg")
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize("name", ["a.jpg", "a.png", "a.webp", "a.tiff", "a.heic"])
def test_damaged_files_raise_nothing_but_photo_error(tmp_path, name):
    if name == "a.heic":
        good = (HEIC / "orientation-6.heic").read_bytes()
    else:
        options = {"tiffinfo": {274: 6}} if name == "a.tiff" else {"exif": exif_of(6)}
        good = save(tmp_path / name, **options).read_bytes()
    random = np.random.default_rng(11)
    for _ in range(60):
        bad = bytearray(good)
        for at in random.integers(0, min(len(bad), 300), 4):
            bad[at] = random.integers(0, 256)
        (tmp_path / name).write_bytes(bad)
        with contextlib.suppress(PhotoError):
            photo = read(tmp_path / name, about_pixels=3000, limit_mp=5)
            assert np.isfinite(photo.linear).all()
