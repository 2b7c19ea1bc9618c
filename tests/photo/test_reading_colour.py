"""The colour a file declares: profiles, chunks, marks, gain maps."""

from __future__ import annotations

import struct
import zlib

import numpy as np
import pi_heif
import pytest

from analyser.errors import PhotoError
from analyser.photo import profiles
from analyser.photo.reading import read
from tests.photo.photo_files import (
    HEIC,
    PATCHES,
    exif_of,
    patches_of,
    picture,
    png_with,
    save,
    srgb_linear,
)


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
    tifffile = pytest.importorskip("tifffile", reason="writes the odd TIFF files read here")
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


def test_a_gain_map_in_heic_is_told(monkeypatch):
    given = pi_heif.open_heif

    def with_gain_map(*args, **options):
        opened = given(*args, **options)
        opened.info["aux"] = {"urn:com:apple:photo:2020:aux:hdrgainmap": [3]}
        return opened

    monkeypatch.setattr(pi_heif, "open_heif", with_gain_map)  # the library at hand writes none
    assert "gain map" in read(HEIC / "plain.heic").notes[0]


def test_a_table_profile_is_used_and_said(tmp_path, icc):
    ramp = bytes(range(256)) * 3
    grid = np.stack(np.meshgrid(*[np.linspace(0, 1, 9)] * 3, indexing="ij"), -1)
    # A scanner's idea of colour: lightness by the mean, the two others by differences.
    lab = np.stack(
        [
            grid.mean(-1) * 255,
            128 + 40 * (grid[..., 0] - grid[..., 1]),
            128 + 40 * (grid[..., 1] - grid[..., 2]),
        ],
        -1,
    )
    head = b"mft1\0\0\0\0" + bytes([3, 3, 9, 0]) + struct.pack(">9i", *(65536 * np.eye(3, dtype=int).ravel()))
    tag = head + ramp + np.round(lab).astype(np.uint8).tobytes() + ramp
    profile = icc.write({b"A2B0": tag}, pcs=b"Lab ", version=2, name="Scanner")
    photo = read(save(tmp_path / "a.png", icc_profile=profile))
    assert photo.profile == "Scanner"
    assert "8 bits" in photo.notes[0]
    grey = patches_of(photo.linear)[1, 1]  # 120 of 255: L* 47.06, by CIE 15 Y = ((L* + 16) / 116)^3
    np.testing.assert_allclose(grey, ((100 * 120 / 255 + 16) / 116) ** 3, rtol=0, atol=0.004)
