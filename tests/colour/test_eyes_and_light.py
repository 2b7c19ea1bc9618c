"""Colour vision, light, harmony and grey scale against published values and other libraries."""

from __future__ import annotations

import csv
import json
from itertools import combinations
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analyser.colour import adaptation, grey_scale, vision
from analyser.colour.difference import delta_e_2000
from analyser.colour.harmony import harmony
from analyser.colour.spaces import (
    D65_XYZ,
    hex_to_lab,
    lab_to_linear,
    lab_to_xyz,
    srgb_to_lab,
    srgb_to_linear,
    xyz_to_lab,
)
from analyser.colourway import reasons

PUBLISHED = Path(__file__).parents[1] / "published"


def table(name: str) -> list[dict[str, str]]:
    return list(csv.DictReader((PUBLISHED / name).read_text(encoding="utf-8").splitlines()))


MODELS = json.loads((PUBLISHED / "cvd-models.json").read_text(encoding="utf-8"))
MACHADO = table("cvd-checks.csv")
BRADFORD = json.loads((PUBLISHED / "rgb-spaces.json").read_text(encoding="utf-8"))["bradford"]
WHITES = BRADFORD["white_xyz"]
CHART = table("chart24-under-lights.csv")
LAMPS = [light for name, lights in adaptation.LIGHTS.items() if name != "daylight" for light in lights]

colour = st.tuples(st.floats(0, 100), st.floats(-100, 100), st.floats(-100, 100))


def lab(row: dict[str, str], which: str) -> list[float]:
    return [float(row[part + which]) for part in "Lab"]


# Machado, Oliveira & Fernandes (2009), tables of matrices, six decimals.
@pytest.mark.parametrize("kind", vision.KINDS)
@pytest.mark.parametrize("severity", ["0.5", "1.0"])
def test_matrices_are_those_of_machado_2009(kind, severity):
    published = np.array(MODELS["machado_2009"]["matrices"][kind][severity])
    np.testing.assert_array_equal(vision.simulate(np.eye(3), kind, float(severity)), published.T)


# cvd-checks.csv, six decimals: the table applied, and coloraide (`_lib2`).
@pytest.mark.parametrize("row", MACHADO, ids=lambda row: f"{row['kind']} {row['severity']} {row['hex']}")
def test_simulation_agrees_with_coloraide(row):
    linear = srgb_to_linear([int(row["hex"][i : i + 2], 16) / 255 for i in (1, 3, 5)])
    seen = vision.simulate(linear, row["kind"], float(row["severity"]))
    for library in ("", "_lib2"):
        expected = [float(row[f"lin_{part}{library}"]) for part in "rgb"]
        np.testing.assert_allclose(seen, expected, rtol=0, atol=5.1e-7)


# daltonlens, a second library with the same model: linear in, linear out, not encoded in between.
@pytest.mark.parametrize("kind", vision.KINDS)
@pytest.mark.parametrize("severity", [0.5, 1.0])
def test_simulation_agrees_with_daltonlens(kind, severity):
    from daltonlens import simulate

    linear = np.random.default_rng(9).random((7, 5, 3))
    simulator = simulate.Simulator_Machado2009()
    deficiency = {"protan": simulate.Deficiency.PROTAN, "deutan": simulate.Deficiency.DEUTAN}.get(
        kind, simulate.Deficiency.TRITAN
    )
    expected = simulator._simulate_cvd_linear_rgb(linear, deficiency, severity)
    np.testing.assert_allclose(vision.simulate(linear, kind, severity), expected, rtol=0, atol=1e-6)


def test_red_and_green_merge_for_some_eyes_only():
    red, green = hex_to_lab("#a03030"), hex_to_lab("#4f6b2f")
    seen = vision.de00_seen(red, green)
    plain = float(delta_e_2000(red, green))
    assert float(seen["protan"]) < plain / 2
    assert float(seen["deutan"]) < plain / 2
    assert float(seen["tritan"]) > plain / 2
    # Half the severity lies between.
    assert float(seen["deutan"]) < float(vision.de00_seen(red, green, 0.5)["deutan"]) < plain


@pytest.mark.parametrize(("kind", "severity"), [("protan", 0.7), ("red", 1.0)])
def test_no_matrix_for_that(kind, severity):
    with pytest.raises(ValueError, match=r"kind must be one of .* got"):
        vision.simulate([0.1, 0.2, 0.3], kind, severity)


# CIE 15:2018 white points: the shipped table is the published one, and chromaticity and XYZ agree.
@pytest.mark.parametrize("row", table("illuminants.csv"), ids=lambda row: row["name"])
def test_illuminants_are_those_of_cie_15(row):
    light = adaptation.illuminants()[row["name"]]
    np.testing.assert_array_equal(light.xyz, [float(row[part]) for part in "XYZ"])
    x, y = float(row["x"]), float(row["y"])
    np.testing.assert_allclose(light.xyz, [x / y, 1.0, (1 - x - y) / y], rtol=0, atol=1e-6)
    assert light.cct_k == float(row["cct_k"])


def test_warm_lamps_are_warm():
    for light in adaptation.LIGHTS["evening"]:
        assert adaptation.illuminants()[light].cct_k < 3100
    assert adaptation.illuminants()["LED-B3"].cct_k > 4000


# Bradford between D65 and D50 (Lam 1985 / ICC.1): matrices of colour-science and coloraide. That to the
# profile connection space starts from the white of the standard's four-decimal matrix (its rows' sums).
@pytest.mark.parametrize(
    ("matrix", "source", "target", "decimal"),
    [
        ("D65_to_D50", WHITES["D65_from_xy"], WHITES["D50_from_xy"], 5.1e-11),
        ("D50_to_D65", WHITES["D50_from_xy"], WHITES["D65_from_xy"], 5.1e-11),
        ("D65_to_D50_with_icc_pcs_white", [0.9505, 1.0, 1.0891], WHITES["D50_icc_pcs"], 5.1e-8),
    ],
)
def test_adaptation_is_bradford(matrix, source, target, decimal):
    adapted = adaptation.adapt(np.eye(3), source, target)
    np.testing.assert_allclose(adapted.T, BRADFORD[matrix], rtol=0, atol=decimal)


@settings(deadline=None)
@given(st.lists(colour, min_size=1, max_size=4), st.sampled_from(LAMPS))
def test_adaptation_there_and_back(labs, light):
    white = adaptation.illuminants()[light].xyz
    xyz = np.abs(np.array(labs)) / 100
    there = adaptation.adapt(xyz, D65_XYZ, white)
    np.testing.assert_allclose(adaptation.adapt(there, white, D65_XYZ), xyz, rtol=0, atol=1e-12)


@pytest.mark.parametrize("light", LAMPS)
def test_white_and_grey_stay_neutral_under_any_lamp(light):
    greys = [[100, 0, 0], [50, 0, 0], [5, 0, 0]]
    np.testing.assert_allclose(adaptation.lab_under(greys, light), greys, rtol=0, atol=1e-4)


def chart_under(light: str) -> tuple[np.ndarray, np.ndarray]:
    """XYZ of the 24 patches under a light, and their Lab to its own white."""
    rows = [row for row in CHART if row["light"] == light]
    xyz = np.array([[float(row[part]) for part in "XYZ"] for row in rows])
    own = [[float(row[f"{part}_own_white"]) for part in "Lab"] for row in rows]
    return xyz, np.array(own)


def foretold(light: str, known: np.ndarray, wanted: np.ndarray) -> np.ndarray:
    """Lab of patches under a lamp by least squares on others, as ``benchmarks/lamps.py`` fits the table."""
    day, lamp = (chart_under(one)[0] / adaptation.illuminants()[one].xyz for one in ("D65", light))
    terms, white = adaptation.terms(day), np.array(adaptation.illuminants()[light].xyz)
    columns = []
    for part in lamp[known].T:
        weight = np.append(np.maximum(part, 0.02) ** (-1 / 3), 1e4)
        rows = np.vstack([terms[known], np.ones(6)]) * weight[:, None]
        columns.append(np.linalg.lstsq(rows, np.append(part, 1.0) * weight, rcond=None)[0])
    return xyz_to_lab(terms[wanted] @ np.array(columns).T * white, white)


# A real chart's spectra (measured by Ohta, 1997) under the lamps: the shipped table is their least squares.
@pytest.mark.parametrize("light", LAMPS)
def test_the_table_of_surfaces_is_fitted_to_the_chart(light):
    every = np.arange(24)
    daylight, _ = chart_under("D65")
    np.testing.assert_allclose(
        adaptation.lab_under(xyz_to_lab(daylight), light), foretold(light, every, every), rtol=0, atol=2e-3
    )


# What is stated of the prediction, on patches left out of the fit: how far it goes wrong, and that it
# foretells how far two patches differ better than their daylight look does, by a third or more.
def test_limit_of_the_prediction_is_the_one_stated():
    first, second = np.triu_indices(24, 1)
    daylight, _ = chart_under("D65")
    here = xyz_to_lab(daylight)
    means = []
    for light in LAMPS:
        truth = chart_under(light)[1]
        told = np.array([foretold(light, np.delete(np.arange(24), k), np.array([k]))[0] for k in range(24)])
        means.append(float(delta_e_2000(told, truth).mean()))
        true = delta_e_2000(truth[first], truth[second])
        error = np.abs(delta_e_2000(told[first], told[second]) - true).mean()
        assert error < 2 / 3 * np.abs(delta_e_2000(here[first], here[second]) - true).mean()
    assert np.mean(means) == pytest.approx(adaptation.BEYOND_PREDICTION_DE00, abs=0.05)


# Pairs of the chart that come nearer in shop light (by 2 CIEDE2000 and 15 %) are warned of, half of them or
# more, and at most one warning in ten is false; each pair is foretold without its own two patches.
def test_pairs_that_come_nearer_in_shop_light_are_warned_of():
    lights = adaptation.LIGHTS["shop"]
    day = xyz_to_lab(chart_under("D65")[0])
    nearer, warned = [], []
    for pair in combinations(range(24), 2):
        others = np.setdiff1d(np.arange(24), pair)
        here = float(delta_e_2000(*day[list(pair)]))
        true = min(float(delta_e_2000(*chart_under(light)[1][list(pair)])) for light in lights)
        told = min(float(delta_e_2000(*foretold(light, others, np.array(pair)))) for light in lights)
        nearer.append(here - true >= max(2.0, 0.15 * here))
        warned.append(here - told >= max(reasons.LAMP_TAKES_DE00, reasons.LAMP_TAKES_PART * here))
    right = np.count_nonzero(np.array(nearer) & warned)
    assert np.count_nonzero(nearer) == 25
    assert right >= 0.5 * np.count_nonzero(nearer)
    assert np.count_nonzero(warned) - right <= 0.1 * np.count_nonzero(warned)


def test_a_lamp_that_is_not_in_the_table_is_adapted_to():
    white = np.array(adaptation.illuminants()["D50"].xyz)
    expected = xyz_to_lab(adaptation.adapt(lab_to_xyz([40, 50, 30]), D65_XYZ, white), white)
    np.testing.assert_allclose(adaptation.lab_under([40, 50, 30], "D50"), expected, atol=1e-9)


def test_lights_give_the_least_of_the_lamps_that_stand_for_them():
    one, two = [40, 50, 30], [45, 45, 40]
    lights = adaptation.de00_under_lights(one, two)
    assert list(lights) == ["daylight", "shop", "evening"]
    assert float(lights["daylight"]) == pytest.approx(float(delta_e_2000(one, two)), abs=1e-4)
    evening = [
        float(delta_e_2000(adaptation.lab_under(one, light), adaptation.lab_under(two, light)))
        for light in adaptation.LIGHTS["evening"]
    ]
    assert float(lights["evening"]) == min(evening)


# Ou & Luo (2006): no worked value was published; values worked out twice from the equations, eight decimals.
@pytest.mark.parametrize("row", table("harmony-checks.csv"), ids=lambda row: row["CH"])
def test_harmony_follows_the_equations(row):
    one, two = lab(row, "1"), lab(row, "2")
    assert float(harmony(one, two)) == pytest.approx(float(row["CH"]), abs=5e-9, rel=0)
    assert float(harmony(two, one)) == pytest.approx(float(row["CH"]), abs=5e-9, rel=0)


def test_harmony_lies_in_the_published_range_and_rewards_likeness():
    model = json.loads((PUBLISHED / "harmony-ou-luo-2006.json").read_text(encoding="utf-8"))
    span = model["range_over_srgb_pairs"]
    steps = np.linspace(0, 1, 9)
    grid = srgb_to_lab(np.stack(np.meshgrid(steps, steps, steps), axis=-1).reshape(-1, 3))
    values = harmony(grid[:, None], grid)
    computed = [values.min(), *np.percentile(values, [5, 50, 95]), values.max()]
    published = [span["from"], *span["percentiles_5_50_95"], span["to"]]
    np.testing.assert_allclose(computed, published, rtol=0, atol=0.02)  # they depend on the grid by so much
    blue = [45, 10, -45]
    assert harmony(blue, [55, 8, -40]) > harmony(blue, [55, 50, 50])


# ISO 105-A05:1996 from the formula, six decimals, every row; grades by the limits of clause 8.
@pytest.mark.parametrize("row", table("grey-scale-a05-checks.csv"), ids=lambda row: row["dE_f"])
def test_grey_scale_follows_iso_105_a05(row):
    reference, specimen = lab(row, "_ref"), lab(row, "_spec")
    assert float(grey_scale.de_f(reference, specimen)) == pytest.approx(float(row["dE_f"]), abs=5.1e-7, rel=0)
    halves = {limit["grade"]: float(limit["grade_number"]) for limit in table("grey-scale-a05.csv")}
    assert float(grey_scale.rating(reference, specimen)) == halves[row["grade"]]


# ISO 105-A05:1996 clause 8, the limits of the grades: a grey pair's dE_F is its difference in L*.
@pytest.mark.parametrize("row", table("grey-scale-a05.csv"), ids=lambda row: row["grade"])
def test_grades_begin_and_end_at_the_limits(row):
    first = float(row["de_f_from_inclusive"])
    last = float(row["de_f_below"]) if row["de_f_below"] else 60.0
    for inside in (first + 1e-9, (first + last) / 2, last - 1e-9):
        assert float(grey_scale.rating([20, 0, 0], [20 + inside, 0, 0])) == float(row["grade_number"])


# ISO 105-A02 clause 2.4: the nominal difference of each grade falls in the grade of A05, the tolerance too.
@pytest.mark.parametrize("row", table("grey-scale-a02.csv"), ids=lambda row: row["grade"])
def test_grey_pairs_of_the_printed_scale_get_its_grades(row):
    halves = {limit["grade"]: float(limit["grade_number"]) for limit in table("grey-scale-a05.csv")}
    nominal = float(row["cielab_de_nominal"])
    assert float(grey_scale.rating([30, 0, 0], [30 + nominal, 0, 0])) == halves[row["grade"]]


@settings(deadline=None)
@given(colour, colour)
def test_rating_is_a_half_step_and_falls_with_the_difference(one, two):
    rating = float(grey_scale.rating(one, two))
    assert rating in {1, 1.5, 2, 2.5, 3, 3.5, 4, 4.5, 5}
    assert float(grey_scale.rating(one, one)) == 5.0


@pytest.mark.parametrize("function", [harmony, grey_scale.de_f, grey_scale.rating, vision.de00_seen])
def test_a_wrong_last_axis_is_named(function):
    with pytest.raises(ValueError, match=r"on its last axis; got shape \(2,\)"):
        function([50, 0], [50, 0, 0])


def test_leading_axes_are_free():
    one, two = np.full((4, 1, 3), 30.0), np.full((5, 3), 40.0)
    assert harmony(one, two).shape == (4, 5)
    assert grey_scale.rating(one, two).shape == (4, 5)
    assert vision.de00_seen(one, two)["tritan"].shape == (4, 5)
    assert adaptation.de00_under_lights(one, two)["shop"].shape == (4, 5)
    assert vision.simulate(lab_to_linear(one), "protan").shape == (4, 1, 3)
