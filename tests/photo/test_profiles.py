"""Profiles against LittleCMS, published constants and library curves."""

from __future__ import annotations

import io
import json
import struct
from pathlib import Path

import imagecodecs
import numpy as np
import pytest
from PIL import Image, ImageCms

from analyser.photo import profiles

PUBLISHED = json.loads((Path(__file__).parents[1] / "published" / "rgb-spaces.json").read_text("utf-8"))
SRGB_XY = [0.64, 0.33, 1, 0.30, 0.60, 1, 0.15, 0.06, 1]
D65_XY = [0.3127, 0.3290, 1]


def pixels() -> np.ndarray:
    corners = [[255, 0, 0], [0, 255, 0], [0, 0, 255], [255, 255, 255], [0, 0, 0], [1, 2, 3], [128, 128, 128]]
    random = np.random.default_rng(7).integers(0, 256, (2041, 3))
    return np.concatenate([corners, random]).astype(np.uint8).reshape(32, 64, 3)


def by_littlecms(stored: np.ndarray, profile: bytes) -> np.ndarray:
    """Relative colorimetric to unclipped linear sRGB in floating point."""
    linear_srgb = imagecodecs.cms_profile("rgb", whitepoint=D65_XY, primaries=SRGB_XY, gamma=1.0)
    return imagecodecs.cms_transform(
        stored, profile, linear_srgb, colorspace="rgb", outcolorspace="rgb", outdtype="float32", intent=1
    )


CURVES = {
    "sRGB as para 3": lambda icc: icc.srgb_curve,
    "para 0": lambda icc: icc.para(0, 2.2),
    "para 1": lambda icc: icc.para(1, 2.2, 1.1, -0.1),
    "para 2": lambda icc: icc.para(2, 2.2, 0.9, -0.1, 0.05),
    "para 3, another": lambda icc: icc.para(3, 1 / 0.45, 1 / 1.099, 0.099 / 1.099, 1 / 4.5, 0.081),
    "para 4": lambda icc: icc.para(4, 2.4, 0.9, 0.05, 0.08, 0.04, 0.02, 0.01),
    "identity": lambda icc: icc.curv(),
    "gamma": lambda icc: icc.curv(563),
    "short table": lambda icc: icc.curv(0, 5000, 20000, 65535),
    "table": lambda icc: icc.curv(*(round(65535 * (i / 1023) ** 1.8) for i in range(1024))),
}


# LittleCMS is the reference. 1e-4 of white: both round colorants to 1/65536, and ProPhoto's
# blue is then multiplied by up to 2.
@pytest.mark.parametrize("version", [2, 4])
@pytest.mark.parametrize("curve", CURVES)
@pytest.mark.parametrize("space", ["sRGB", "Display P3", "Adobe RGB", "ProPhoto"])
def test_matrix_profiles_match_littlecms(icc, space, curve, version):
    profile = icc.matrix(space, CURVES[curve](icc), version=version)
    own = profiles.from_icc(profile)
    assert own.name == space
    np.testing.assert_allclose(own.to_linear(pixels()), by_littlecms(pixels(), profile), rtol=0, atol=1e-4)


def test_wide_colours_stay_unclipped(icc):
    linear = profiles.from_icc(icc.matrix("ProPhoto", icc.para(0, 1.8))).to_linear(pixels())
    assert linear.min() < -0.5
    assert linear.max() > 1.5


def test_each_channel_keeps_its_own_curve(icc):
    profile = icc.matrix("Adobe RGB", icc.curv(512), icc.para(0, 1.0), icc.srgb_curve)
    own = profiles.from_icc(profile).to_linear(pixels())
    np.testing.assert_allclose(own, by_littlecms(pixels(), profile), rtol=0, atol=1e-4)


@pytest.mark.parametrize("space", ["Display P3", "ProPhoto"])
def test_sixteen_bits_match_littlecms(icc, space):
    profile = icc.matrix(space, icc.srgb_curve)
    stored = np.random.default_rng(3).integers(0, 65536, (20, 30, 3)).astype(np.uint16)
    own = profiles.from_icc(profile).to_linear(stored)
    np.testing.assert_allclose(own, by_littlecms(stored, profile), rtol=0, atol=1e-4)


@pytest.mark.parametrize(
    ("primaries", "gamma"),
    [
        ([0.64, 0.33, 1, 0.30, 0.60, 1, 0.15, 0.06, 1], 2.2),
        ([0.68, 0.32, 1, 0.265, 0.69, 1, 0.15, 0.06, 1], 2.6),
        ([0.708, 0.292, 1, 0.170, 0.797, 1, 0.131, 0.046, 1], 2.4),
    ],
)
def test_profiles_written_by_littlecms_are_read(primaries, gamma):
    profile = imagecodecs.cms_profile("rgb", whitepoint=D65_XY, primaries=primaries, gamma=gamma)
    own = profiles.from_icc(profile).to_linear(pixels())
    np.testing.assert_allclose(own, by_littlecms(pixels(), profile), rtol=0, atol=1e-4)


def test_the_srgb_profile_of_littlecms_is_srgb():
    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    own = profiles.from_icc(profile)
    assert own.name.startswith("sRGB")
    np.testing.assert_allclose(
        own.to_linear(pixels()), profiles.srgb().to_linear(pixels()), rtol=0, atol=1e-4
    )


# IEC 61966-2-1 and SMPTE EG 432-1 matrices as in rgb-spaces.json, ten decimals.
@pytest.mark.parametrize(("key", "code"), [("srgb", 1), ("display_p3", 12)])
def test_matrices_match_the_published_ones(key, code):
    to_srgb = profiles.from_cicp(code, 13).matrix
    published = (
        np.array(PUBLISHED["srgb"]["inverse_from_primaries"]) @ PUBLISHED[key]["matrix_from_primaries"]
    )
    np.testing.assert_allclose(to_srgb, published, rtol=0, atol=1e-9)


# Display P3 colours in sRGB, unclipped, six decimals: rgb-spaces.json (colour-science and coloraide agree).
@pytest.mark.parametrize("check", PUBLISHED["display_p3"]["checks"], ids=lambda c: str(c["display_p3"]))
def test_display_p3_colours_match_published_srgb(check):
    p3 = profiles.from_cicp(12, 13)
    light = p3.matrix @ profiles.srgb_curve(np.array(check["display_p3"], float))
    encoded = np.sign(light) * np.where(
        abs(light) <= 0.0031308, 12.92 * abs(light), 1.055 * abs(light) ** (1 / 2.4) - 0.055
    )
    np.testing.assert_allclose(encoded, check["srgb_unclipped"], rtol=0, atol=1.5e-6)


# Adobe RGB (1998) 2005-05, 4.3.4: the D50 colorants of its own profile.
def test_adobe_rgb_by_primaries_is_its_icc_profile(icc):
    by_mark = profiles.adobe_rgb().to_linear(pixels())
    by_profile = profiles.from_icc(icc.matrix("Adobe RGB", icc.curv(563))).to_linear(pixels())
    np.testing.assert_allclose(by_mark, by_profile, rtol=0, atol=2e-4)


# ITU-R BT.709-6, item 1.2: V = 4.5 L below 0.018, 1.099 L^0.45 - 0.099 above.
@pytest.mark.parametrize("light", [0.0, 0.01, 0.018, 0.1, 0.5, 1.0])
def test_rec709_curve_inverts_the_camera_curve(light):
    code = 4.5 * light if light < 0.018 else 1.099 * light**0.45 - 0.099
    assert float(profiles.rec709_curve(np.array(code))) == pytest.approx(light, abs=3e-4)


@pytest.mark.parametrize("transfer", [16, 18])
def test_hdr_code_points_are_refused(transfer):
    with pytest.raises(profiles.HighDynamicRangeError):
        profiles.from_cicp(9, transfer)


@pytest.mark.parametrize("codes", [(3, 13), (99, 13), (1, 3), (1, 17)])
def test_unknown_code_points_are_refused(codes):
    with pytest.raises(ValueError, match="code points"):
        profiles.from_cicp(*codes)


def test_unspecified_code_points_are_srgb():
    np.testing.assert_array_equal(
        profiles.from_cicp(2, 2).to_linear(pixels()), profiles.srgb().to_linear(pixels())
    )


def test_white_stays_white_in_every_space():
    for code in (1, 4, 5, 6, 7, 9, 11, 12):
        white = profiles.from_cicp(code, 13).matrix.sum(axis=1)
        np.testing.assert_allclose(white, 1, rtol=0, atol=1e-9)


def test_grey_profile_for_a_grey_picture(icc):
    profile = icc.write({b"kTRC": icc.curv(round(1.8 * 256))}, space=b"GRAY", name="Grey 1.8")
    linear = profiles.from_icc(profile, channels=1).to_linear(pixels())
    np.testing.assert_allclose(linear, (pixels() / 255) ** (round(1.8 * 256) / 256), rtol=0, atol=1e-6)


def lut8(icc, function) -> bytes:
    """An RGB profile with an 8-bit A2B table (ICC.1:2022 10.11) of 17 points a side to Lab."""
    side = 17
    grid = np.linspace(0, 1, side)
    lab = np.array([[[function(r, g, b) for b in grid] for g in grid] for r in grid])
    coded = np.round(np.stack([lab[..., 0] * 2.55, lab[..., 1] + 128, lab[..., 2] + 128], -1))
    ramp = bytes(range(256)) * 3
    table = np.clip(coded, 0, 255).astype(np.uint8).tobytes()
    head = b"mft1\0\0\0\0" + bytes([3, 3, side, 0])
    head += struct.pack(">9i", 65536, 0, 0, 0, 65536, 0, 0, 0, 65536)
    return icc.write({b"A2B0": head + ramp + table + ramp}, pcs=b"Lab ", version=2, name="Table space")


def test_table_profiles_go_through_littlecms(icc):
    profile = lut8(icc, lambda r, g, b: (20 + 80 * (r + g + b) / 3, 60 * (r - g), 30 * (g - b)))
    own = profiles.from_icc(profile)
    assert own.table is not None
    linear, expected = own.to_linear(pixels()), by_littlecms(pixels(), profile)
    # Eight bits in Rec. 2020 with a power of 2.2: half a step is at most 0.0043 of white, times the
    # matrix's largest row sum of 2.
    np.testing.assert_allclose(linear, expected, rtol=0, atol=0.01)
    assert expected.min() < -0.005  # and nothing was clipped at sRGB on the way


def test_damaged_tables_are_noticed_at_once(icc):
    with pytest.raises(ValueError, match="damaged tables"):
        profiles.from_icc(icc.write({b"A2B0": b"mft1\0\0\0\0" + bytes(60)}, pcs=b"Lab ", version=2))


def test_the_space_between_is_a_profile_littlecms_reads():
    profile = profiles.matrix_icc("wide", profiles._REC2020, profiles.D65, 2.2)
    np.testing.assert_allclose(
        profiles.from_icc(profile).to_linear(pixels()), by_littlecms(pixels(), profile), rtol=0, atol=1e-4
    )
    picture = Image.new("RGB", (2, 2))
    ImageCms.profileToProfile(
        picture, ImageCms.createProfile("sRGB"), ImageCms.ImageCmsProfile(io.BytesIO(profile))
    )


def test_hdr_profile_is_refused(icc):
    tags = {b"cicp": b"cicp\0\0\0\0" + bytes([9, 16, 0, 1])}
    with pytest.raises(profiles.HighDynamicRangeError, match="PQ"):
        profiles.from_icc(icc.write(tags))


def test_unusable_profiles_say_why(icc):
    good = icc.matrix("Display P3", icc.srgb_curve)
    with pytest.raises(ValueError, match="damaged"):
        profiles.from_icc(b"")
    with pytest.raises(ValueError, match="damaged"):
        profiles.from_icc(b"x" * 500)
    with pytest.raises(ValueError, match="CMYK"):
        profiles.from_icc(icc.write({}, space=b"CMYK"))
    with pytest.raises(ValueError, match="incomplete"):
        profiles.from_icc(icc.write({}))
    with pytest.raises(ValueError, match="unknown form"):
        profiles.from_icc(good.replace(b"para", b"paru"))
    for curve in (icc.curv(0), icc.para(0, -2.2), icc.para(3, 0.0, 1, 0, 1, 0)):
        with pytest.raises(ValueError, match="positive power"):
            profiles.from_icc(icc.matrix("sRGB", curve))
    with pytest.raises(ValueError, match="grey"):
        profiles.from_icc(icc.write({b"kTRC": icc.curv()}, space=b"GRAY"), channels=3)


@pytest.mark.parametrize(
    "curve",
    [
        (3, 2.4, 60.0, 0.05, 0.08, 0.04),  # as found by benchmarks.fuzz: linear light of 40,793 and of 3e10
        (3, 24000.0, 1.1, 0.05, 0.08, 0.04),
        (3, 2.4, 0.95, 0.05, 0.08, 12.0),
        (3, 2.4, 0.01, 0.05, 0.08, 0.04),
        (0, 30.0),
        (1, 2.4, -1.0, 1.0),  # falls
    ],
)
def test_a_curve_that_no_space_has_is_damage(icc, curve):
    with pytest.raises(ValueError, match="damaged in its curves"):
        profiles.from_icc(icc.matrix("sRGB", icc.para(*curve)))


def test_a_table_that_falls_is_damage(icc):
    rising = list(range(0, 65536, 257))
    profiles.from_icc(icc.matrix("sRGB", icc.curv(*rising), version=2))
    rising[100] = 65535
    with pytest.raises(ValueError, match="damaged in its curves"):
        profiles.from_icc(icc.matrix("sRGB", icc.curv(*rising), version=2))


@pytest.mark.parametrize("channel", [b"rXYZ", b"gXYZ", b"bXYZ"])
@pytest.mark.parametrize("byte", [8, 9, 12, 13, 16, 17])
def test_colorants_that_make_no_white_are_damage(icc, channel, byte):
    good = icc.matrix("Display P3", icc.srgb_curve)
    at = next(132 + 12 * n for n in range(20) if good[132 + 12 * n :][:4] == channel)
    bad = bytearray(good)
    bad[int.from_bytes(good[at + 4 : at + 8], "big") + byte] ^= 0x40
    with pytest.raises(ValueError, match="damaged in its colours"):
        profiles.from_icc(bytes(bad))


@pytest.mark.parametrize("gamma", [1.0, 1.4, 1.8, 2.2, 2.6, 4.0])
@pytest.mark.parametrize("space", ["sRGB", "Display P3", "Adobe RGB", "ProPhoto"])
def test_whole_profiles_are_believed(icc, space, gamma):
    profiles.from_icc(icc.matrix(space, icc.para(0, gamma)))
    profiles.from_icc(icc.matrix(space, icc.curv(round(256 * gamma)), version=2))


def test_damaged_profiles_raise_nothing_else(icc):
    tables = icc.matrix("Display P3", *([icc.curv(*range(0, 65536, 257))] * 3), version=2)
    parametric = icc.matrix("Display P3", icc.srgb_curve)
    random = np.random.default_rng(5)
    for number in range(800):
        good = (tables, parametric)[number % 2]
        bad = bytearray(good[: random.integers(100, len(good))] if random.random() < 0.5 else good)
        for at in random.integers(0, min(len(bad), 400), 6):
            bad[at] = random.integers(0, 256)
        try:
            linear = profiles.from_icc(bytes(bad)).to_linear(pixels()[:1])
        except ValueError:
            continue
        assert np.abs(linear).max() < 10


def test_chromaticities_and_gamma_of_png():
    p3 = (0.3127, 0.3290, 0.68, 0.32, 0.265, 0.69, 0.15, 0.06)
    np.testing.assert_allclose(
        profiles.from_chromaticities(p3, None).matrix, profiles.from_cicp(12, 13).matrix, atol=1e-12
    )
    linear = profiles.from_chromaticities(None, 1 / 2.2).to_linear(pixels())
    np.testing.assert_allclose(linear, (pixels() / 255) ** 2.2, rtol=0, atol=1e-6)
    with pytest.raises(ValueError, match="gamma"):
        profiles.from_chromaticities(None, 0.0)
    with pytest.raises(ValueError, match="chromaticities"):
        profiles.from_chromaticities((0.0,) * 8, None)
    with pytest.raises(ValueError, match="chromaticities"):
        profiles.from_chromaticities((0.3, 0.3, *([0.4, 0.4] * 3)), None)
