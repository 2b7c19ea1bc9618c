"""Colour spaces against published values and other libraries."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from analyser.colour import gamut, spaces
from analyser.colour.difference import delta_e_2000

PUBLISHED = Path(__file__).parents[1] / "published"
RGB_SPACES = json.loads((PUBLISHED / "rgb-spaces.json").read_text(encoding="utf-8"))
SRGB = list(csv.DictReader((PUBLISHED / "srgb-checks.csv").read_text(encoding="utf-8").splitlines()))
WCAG = list(csv.DictReader((PUBLISHED / "wcag-contrast.csv").read_text(encoding="utf-8").splitlines()))
P3 = RGB_SPACES["display_p3"]["checks"]

colours = arrays(np.float64, (5, 3), elements=st.floats(0, 1))


def numbers(row: dict[str, str], *columns: str) -> np.ndarray:
    return np.array([float(row[column]) for column in columns])


def srgb_of(text: str) -> np.ndarray:
    return np.array([int(text[i : i + 2], 16) for i in (1, 3, 5)]) / 255


# IEC 61966-2-1:1999 and SMPTE EG 432-1, as rgb-spaces.json gives the matrices (ten decimals).
def test_matrices_are_those_of_the_primaries():
    srgb = RGB_SPACES["srgb"]
    np.testing.assert_allclose(spaces.LINEAR_SRGB_TO_XYZ, srgb["matrix_from_primaries"], rtol=0, atol=5e-11)
    np.testing.assert_allclose(spaces.XYZ_TO_LINEAR_SRGB, srgb["inverse_from_primaries"], rtol=0, atol=5e-11)
    p3 = RGB_SPACES["display_p3"]["matrix_from_primaries"]
    np.testing.assert_allclose(spaces.LINEAR_P3_TO_XYZ, p3, rtol=0, atol=5e-11)
    np.testing.assert_allclose(
        spaces.D65_XYZ, RGB_SPACES["bradford"]["white_xyz"]["D65_from_xy"], rtol=0, atol=1e-12
    )
    np.testing.assert_allclose(
        spaces.LINEAR_SRGB_TO_XYZ @ spaces.XYZ_TO_LINEAR_SRGB, np.eye(3), rtol=0, atol=1e-15
    )


# srgb-checks.csv: coloraide, colour-science and scikit-image differ by up to 0.022; tolerance 0.03 Lab.
@pytest.mark.parametrize("row", SRGB, ids=lambda row: row["hex"])
def test_srgb_agrees_with_three_libraries(row):
    srgb = srgb_of(row["hex"])
    linear = spaces.srgb_to_linear(srgb)
    np.testing.assert_allclose(linear, numbers(row, "lin_r", "lin_g", "lin_b"), rtol=0, atol=5e-11)
    np.testing.assert_allclose(spaces.linear_to_xyz(linear), numbers(row, "X", "Y", "Z"), rtol=0, atol=5e-9)
    lab = spaces.srgb_to_lab(srgb)
    np.testing.assert_allclose(lab, numbers(row, "L", "a", "b"), rtol=0, atol=5e-7)
    for library in ("_lib2", "_lib3"):
        columns = [part + library for part in "Lab"]
        np.testing.assert_allclose(lab, numbers(row, *columns), rtol=0, atol=0.03)
    # codes are read without NumPy: the same formulas once more, equal but for rounding
    np.testing.assert_allclose(spaces.hex_to_lab(row["hex"]), lab, rtol=0, atol=1e-12)
    assert gamut.lab_to_hex(lab) == (row["hex"], True)


# Display P3 colours by colour-science and coloraide (rgb-spaces.json), six and four decimals.
@pytest.mark.parametrize("check", P3, ids=lambda check: str(check["display_p3"]))
def test_display_p3_agrees_with_two_libraries(check):
    linear = spaces.display_p3_to_linear(check["display_p3"])
    lab = spaces.linear_to_lab(linear)
    np.testing.assert_allclose(spaces.linear_to_srgb(linear), check["srgb_unclipped"], rtol=0, atol=5e-7)
    np.testing.assert_allclose(lab, check["lab_d65"], rtol=0, atol=6e-5)
    read_as_srgb = delta_e_2000(lab, spaces.srgb_to_lab(check["display_p3"]))
    assert float(read_as_srgb) == pytest.approx(check["de00_if_read_as_srgb"], abs=6e-4)
    components, inside = gamut.lab_to_display_p3(lab)
    assert inside
    np.testing.assert_allclose(components, check["display_p3"], rtol=0, atol=1e-9)


# WCAG 2.2, relative luminance and contrast ratio (wcag-contrast.csv); the second library differs by 7e-4.
@pytest.mark.parametrize("row", WCAG, ids=lambda row: f"{row['colour1']} on {row['colour2']}")
def test_contrast_is_that_of_wcag(row):
    one, two = (spaces.srgb_to_linear(srgb_of(row[column])) for column in ("colour1", "colour2"))
    assert float(spaces.relative_luminance(one)) == pytest.approx(float(row["luminance1"]), abs=5e-9)
    assert float(spaces.relative_luminance(two)) == pytest.approx(float(row["luminance2"]), abs=5e-9)
    ratio = float(spaces.contrast_ratio(one, two))
    assert ratio == pytest.approx(float(row["ratio"]), abs=5e-7)
    assert ratio == pytest.approx(float(row["ratio_lib2"]), abs=8e-4)
    assert f"{ratio:.2f}" == row["ratio_2dp"]


# The lightest greys on white for 3, 4.5 and 7 to 1 (WCAG 2.2).
@pytest.mark.parametrize(("grey", "least"), [("#949494", 3.0), ("#767676", 4.5), ("#595959", 7.0)])
def test_lightest_grey_that_passes_on_white(grey, least):
    passes = spaces.contrast_ratio(spaces.srgb_to_linear(srgb_of(grey)), np.ones(3))
    lighter = spaces.contrast_ratio(spaces.srgb_to_linear(srgb_of(grey) + 1 / 255), np.ones(3))
    assert lighter < least <= passes


def test_neutral_rgb_is_neutral_in_lab():
    greys = np.linspace(0, 1, 256)[:, None] * np.ones(3)
    lab = spaces.srgb_to_lab(greys)
    assert np.abs(lab[:, 1:]).max() < 1e-9
    assert lab[0, 0] == pytest.approx(0.0, abs=1e-12)
    assert lab[-1, 0] == pytest.approx(100.0, abs=1e-12)


@settings(deadline=None)
@given(colours)
def test_round_trips(srgb):
    lab = spaces.srgb_to_lab(srgb)
    # The two branches of the standard's curve meet with a step of 3e-8.
    np.testing.assert_allclose(spaces.lab_to_srgb(lab), srgb, rtol=0, atol=4e-8)
    linear = spaces.srgb_to_linear(srgb)
    np.testing.assert_allclose(spaces.xyz_to_linear(spaces.linear_to_xyz(linear)), linear, rtol=0, atol=1e-14)
    p3 = spaces.linear_to_display_p3(linear)
    np.testing.assert_allclose(spaces.display_p3_to_linear(p3), linear, rtol=0, atol=1e-12)


@settings(deadline=None)
@given(arrays(np.float64, (4, 3), elements=st.floats(-0.5, 1.5)))
def test_round_trips_beyond_srgb(linear):
    # The two branches of the standard's curve meet with a step of 4e-9 in linear light.
    np.testing.assert_allclose(
        spaces.srgb_to_linear(spaces.linear_to_srgb(linear)), linear, rtol=0, atol=5e-9
    )
    np.testing.assert_allclose(spaces.lab_to_linear(spaces.linear_to_lab(linear)), linear, rtol=0, atol=1e-12)


@pytest.mark.parametrize("shape", [(3,), (2, 3), (2, 4, 3), (0, 3)])
def test_leading_axes_are_free(shape):
    srgb = np.full(shape, 0.25)
    assert spaces.srgb_to_lab(srgb).shape == shape
    assert spaces.relative_luminance(srgb).shape == shape[:-1]


@pytest.mark.parametrize(
    "function",
    [spaces.srgb_to_linear, spaces.linear_to_xyz, spaces.xyz_to_lab, spaces.lab_to_xyz, spaces.srgb_to_lab],
)
def test_a_wrong_last_axis_is_named(function):
    with pytest.raises(ValueError, match=r"on its last axis; got shape \(3, 4\)"):
        function(np.zeros((3, 4)))


@pytest.mark.parametrize("text", ["#12345", "12345g", "", "#1234567", "red"])
def test_what_is_no_hex_is_refused(text):
    with pytest.raises(ValueError, match="six hexadecimal digits; got"):
        spaces.hex_to_lab(text)


def test_hex_without_its_sign_and_in_capitals():
    np.testing.assert_array_equal(spaces.hex_to_lab("B22222"), spaces.hex_to_lab("#b22222"))


# coloraide 8: gamut mapping of CSS Color 4 (OKLCh, MINDE) and others; ours is the nearest by CIEDE2000.
@pytest.mark.parametrize(
    "lab", [(55, 94, 94), (86, -115, 107), (50, -100, 0), (40, 80, -120), (60, -60, -40)]
)
@pytest.mark.parametrize(("space", "to_hex"), [("srgb", True), ("display-p3", False)])
def test_mapped_colour_is_nearer_than_other_mappings(lab, space, to_hex):
    from coloraide import Color

    if to_hex:
        code, inside = gamut.lab_to_hex(lab)
        ours = spaces.hex_to_lab(code)
    else:
        components, inside = gamut.lab_to_display_p3(lab)
        ours = spaces.linear_to_lab(spaces.display_p3_to_linear(components))
    if inside:
        assert float(delta_e_2000(ours, lab)) < 0.3
        return
    for method in ("clip", "oklch-chroma", "lch-chroma", "minde-chroma"):
        fitted = Color("lab-d65", lab).convert(space).fit(method=method).convert("lab-d65")
        assert delta_e_2000(ours, lab) <= delta_e_2000(fitted.coords(), lab) + 0.3  # eight-bit rounding


def test_mapping_says_so():
    assert gamut.lab_to_hex([120, 0, 0]) == ("#ffffff", False)
    assert gamut.lab_to_hex([-5, 0, 0]) == ("#000000", False)
    with pytest.raises(ValueError, match="must be one L"):
        gamut.lab_to_hex([[50, 0, 0]])
    with pytest.raises(ValueError, match="must be one L"):
        gamut.lab_to_display_p3([[50, 0, 0]])
