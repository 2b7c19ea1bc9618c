"""The chart's published values, and the correction fitted to them."""

from __future__ import annotations

import csv
from importlib.resources import files
from pathlib import Path

import cv2
import numpy as np
import pytest
from coloraide import cat

from analyser.colour.difference import delta_e_2000
from analyser.colour.spaces import D65_XYZ, lab_to_linear, linear_to_lab, xyz_to_lab, xyz_to_linear
from analyser.photo import chart

PUBLISHED = Path(__file__).parents[1] / "published"
CAMERA = np.array([[0.72, 0.22, 0.06], [0.10, 0.80, 0.10], [0.03, 0.19, 0.78]])
ALL = np.ones(24, bool)


def rows() -> list[dict[str, str]]:
    with (files("analyser.photo") / "data" / "chart24.csv").open(encoding="utf-8") as table:
        return list(csv.DictReader(table))


def seen_by(camera: np.ndarray, edition: str = "newer") -> np.ndarray:
    """Linear camera numbers of the patches, white balanced by the camera's rows summing to one."""
    return np.maximum(lab_to_linear(chart.editions()[edition]), 0.001) @ camera.T


def errors(fit: chart.ChartFit, linear: np.ndarray, edition: str = "newer") -> np.ndarray:
    return delta_e_2000(linear_to_lab(fit.correction.apply(linear)), chart.editions()[edition])


def test_the_table_is_whole():
    table = rows()
    assert len(table) == 3 * 24
    assert [int(row["patch"]) for row in table] == [*range(1, 25)] * 3


# McCamy, Marcus, Davidson (1976), J. Appl. Photogr. Eng. 2(3), 95-99, and its maker's later values: xyY as
# published. The table's Lab D65 must follow from them by Bradford adaptation; here by coloraide's, not ours.
@pytest.mark.parametrize("row", rows(), ids=lambda row: f"{row['edition']}-{row['patch']}")
def test_lab_follows_from_the_published_xyy(row):
    x, y, luminance = (float(row[key]) for key in ("x", "y", "Y"))
    xyz = np.array([x / y, 1.0, (1 - x - y) / y]) * luminance
    white = float(row["white_x"]), float(row["white_y"])
    d65 = D65_XYZ[0] / D65_XYZ.sum(), D65_XYZ[1] / D65_XYZ.sum()
    adapted = cat.Bradford().adapt(white, d65, list(xyz))
    lab = [float(row[f"{axis}_D65"]) for axis in "Lab"]
    # whites of four or five decimals leave some hundredths
    np.testing.assert_allclose(xyz_to_lab(adapted), lab, rtol=0, atol=0.05)


def test_plain_light_needs_a_white_balance_and_no_more():
    linear = np.maximum(lab_to_linear(chart.editions()["first"]), 0.001) * [0.9, 0.42, 0.13]
    fit = chart.fit(linear, ALL)
    assert (fit.edition, fit.tone, fit.mixing) == ("first", "none", "white balance")
    inside = lab_to_linear(chart.editions()["first"]).min(axis=1) > 0.001
    assert errors(fit, linear, "first")[inside].max() < 0.1


@pytest.mark.parametrize("edition", ["first", "older", "newer"])
def test_the_edition_is_told_by_the_fit(edition):
    assert chart.fit(seen_by(CAMERA, edition), ALL).edition == edition


def test_a_mixing_camera_is_undone_as_by_least_squares_and_opencv():
    linear = seen_by(CAMERA)
    lab = chart.editions()["newer"]
    fit = chart.fit(linear, ALL)
    assert fit.mixing == "matrix"
    assert fit.tone == "none"
    # NumPy's least squares, on the same numbers
    solved, *_ = np.linalg.lstsq(linear, np.maximum(lab_to_linear(lab), 0.001), rcond=None)
    np.testing.assert_allclose(fit.correction.mixing * fit.correction.gain, solved.T, rtol=0, atol=0.06)
    # OpenCV's fit, by CIEDE2000 in linear sRGB
    model = cv2.ccm.ColorCorrectionModel(linear[:, None], lab[:, None], cv2.ccm.COLOR_SPACE_LAB_D65_2)
    model.setColorSpace(cv2.ccm.COLOR_SPACE_SRGB)
    model.setCcmType(cv2.ccm.CCM_LINEAR)
    model.setLinearization(cv2.ccm.LINEARIZATION_IDENTITY)
    model.setDistance(cv2.ccm.DISTANCE_CIE2000)
    theirs = linear_to_lab(np.clip(linear @ np.asarray(model.compute())[:3], 0, None))
    ours = linear_to_lab(fit.correction.apply(linear))
    assert delta_e_2000(ours, theirs)[lab_to_linear(lab).min(axis=1) > 0.001].mean() < 0.3


def test_a_camera_curve_is_straightened():
    # an S on sRGB numbers, as cameras apply it, and the mixing before it
    light = seen_by(CAMERA)
    srgb = np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055)
    curved = 0.4 * srgb + 0.6 * srgb**2 * (3 - 2 * srgb)
    linear = np.where(curved <= 0.04045, curved / 12.92, ((curved + 0.055) / 1.055) ** 2.4)
    fit = chart.fit(linear, ALL)
    assert fit.tone != "none"
    assert errors(fit, linear).mean() < 1.2
    straight = chart.fit(linear, ALL)  # the same answer twice
    np.testing.assert_array_equal(fit.correction.mixing, straight.correction.mixing)


# Metamerism: a chart's spectra, measured by Ohta (1997), under CIE illuminants
# (published/chart24-under-lights.csv), as a camera with the standard observer's eyes would see them. Real
# lamps keep some error: 1 to 3 on average.
@pytest.mark.parametrize("light", ["D50", "A", "FL2", "FL11", "LED-B1", "LED-B3"])
def test_real_spectra_under_real_lamps(light):
    with (PUBLISHED / "chart24-under-lights.csv").open(encoding="utf-8") as table:
        seen = [row for row in csv.DictReader(table) if row["light"] == light]
    xyz = np.array([[float(row[axis]) for axis in "XYZ"] for row in seen])
    linear = np.maximum(xyz_to_linear(xyz), 0.0005)
    fit = chart.fit(linear / linear.max(), ALL)
    assert fit.residual_de00.mean() < 2.0
    assert fit.left_out_de00.mean() < 3.0


def test_left_out_errors_are_those_of_fits_without_the_patch():
    generator = np.random.default_rng(5)
    linear = seen_by(CAMERA) * np.exp(generator.normal(0, 0.02, (24, 3)))
    whole = chart._tried(linear, ALL, "newer", "none", "matrix")
    again = []
    for patch in range(24):
        used = np.arange(24) != patch
        part = chart._tried(linear, used, "newer", "none", "matrix")
        again.append(errors(part, linear)[patch])
    assert np.mean(again) == pytest.approx(whole.left_out_de00.mean(), rel=0.15)


def test_overexposed_patches_do_not_count():
    linear = np.minimum(seen_by(CAMERA) * 1.3, 1.0)
    used = (linear < 1).all(axis=1)
    assert 1 <= (~used).sum() <= 6
    inside = used & (lab_to_linear(chart.editions()["newer"]).min(axis=1) > 0.001)
    assert errors(chart.fit(linear, used), linear)[inside].max() < 0.5


def test_a_shaded_patch_does_not_bend_the_rest():
    linear = seen_by(CAMERA)
    linear[:2] *= 0.7
    rest = np.arange(24) >= 2
    inside = rest & (lab_to_linear(chart.editions()["newer"]).min(axis=1) > 0.001)
    assert errors(chart.fit(linear, ALL), linear)[inside].mean() < 0.8


def test_root_polynomials_scale_with_exposure():
    # Finlayson, Mackiewicz, Hurlbert (2015), doi:10.1109/TIP.2015.2405336: k times light, k times colour
    generator = np.random.default_rng(2)
    mixing = np.eye(3, 6) + generator.normal(0, 0.1, (3, 6))
    correction = chart.Correction(np.ones(3), np.zeros((2, 3)), (-3.0, 0.0), mixing)
    light = generator.uniform(0.01, 1, (50, 3))
    np.testing.assert_allclose(correction.apply(0.25 * light), 0.25 * correction.apply(light), rtol=1e-5)


def test_root_polynomial_terms_are_the_published_ones():
    # the same paper, degree 2: r, g, b, sqrt(rg), sqrt(gb), sqrt(rb)
    mixing = np.zeros((3, 6))
    mixing[0, 3] = mixing[1, 4] = mixing[2, 5] = 1
    correction = chart.Correction(np.ones(3), np.zeros((2, 3)), (-3.0, 0.0), mixing)
    np.testing.assert_allclose(correction.apply(np.array([0.04, 0.09, 0.25])), [0.06, 0.15, 0.1], atol=1e-6)


@pytest.mark.parametrize(
    "linear", [[1, 0, 0], [0, 1, 0], [0, 0, 1], [1, 1, 0], [0.002, 0.002, 0.004], [1.2, 1.2, 1.2]]
)
def test_colours_off_the_chart_stay_near_the_truth(linear):
    light = np.array(linear, float)
    fit = chart.fit(seen_by(CAMERA), ALL)
    back = fit.correction.apply(light @ CAMERA.T)
    assert delta_e_2000(linear_to_lab(np.clip(back, 0, None)), linear_to_lab(light)) < 2.0


def test_the_curve_goes_on_straight_beyond_the_chart():
    correction = chart.Correction(np.ones(3), np.array([[0.3] * 3, [0.1] * 3]), (-3.0, -0.1), np.eye(3))
    light = np.geomspace(1e-6, 3, 400)[:, None] * np.ones(3)
    out = correction.apply(light)[:, 0]
    assert (np.diff(out) > 0).all()
    assert np.isfinite(out).all()
    assert correction.apply(np.array([-0.01, 0.0, 0.5]))[0] < 0


def test_too_few_patches_are_refused():
    used = np.zeros(24, bool)
    used[:11] = True
    with pytest.raises(ValueError, match="a fit needs 12 patches and a grey one; 11 can be used"):
        chart.fit(seen_by(CAMERA), used)
