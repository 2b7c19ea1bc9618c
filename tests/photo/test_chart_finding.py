"""Charts drawn at known places must be found there, the right way up, and nothing else taken for one."""

from __future__ import annotations

import dataclasses

import cv2
import numpy as np
import pytest

from analyser.colour.spaces import lab_to_linear
from analyser.photo import chart_finding
from analyser.photo.chart_finding import find_chart
from synthetic.charts import TABLE_LINEAR, Scene, photo_of, reference_lab, render

REFERENCE = lab_to_linear(reference_lab("older"))
SMALL = Scene(width=720, height=540, chart_width=300, chart_at=(0.5, 0.5), card_size=(110, 70))


def off_by(scene: Scene) -> float:
    """How far the found patch centres lie from the drawn ones, in sides of a patch; infinite if not found."""
    pixels, surfaces = render(scene)
    found = find_chart(photo_of(pixels), REFERENCE)
    if found is None:
        return float("inf")
    polygons = np.array([surface.polygon for surface in surfaces if surface.in_chart])
    side = cv2.contourArea(polygons[8].astype(np.float32)) ** 0.5
    return float(np.hypot(*(found.centres() - polygons.mean(axis=1)).T).max() / side)


@pytest.mark.parametrize("turn_deg", [0, 30, 90, 135, 180, 222, 270])
def test_a_chart_is_found_at_any_turn(turn_deg):
    assert off_by(dataclasses.replace(SMALL, turn_deg=turn_deg, table="linen")) < 0.1


@pytest.mark.parametrize(("tilt_deg", "towards_deg"), [(25, 0), (40, 70), (50, 200)])
def test_a_chart_is_found_tilted(tilt_deg, towards_deg):
    assert off_by(dataclasses.replace(SMALL, tilt_deg=tilt_deg, tilt_towards_deg=towards_deg)) < 0.2


@pytest.mark.parametrize("table", [*TABLE_LINEAR, "busy"])
def test_a_small_chart_is_found_on_any_table(table):
    assert off_by(dataclasses.replace(SMALL, table=table, chart_width=150, turn_deg=-50)) < 0.15


@pytest.mark.parametrize(
    "harder",
    [
        {"light_linear": (1.0, 0.47, 0.15)},
        {"noise": 0.03, "jpeg": 60},
        {"blur": 2.0},
        {"exposure": 0.2},
        {"contrast": 0.9, "camera": ((0.75, 0.2, 0.05), (0.1, 0.8, 0.1), (0.02, 0.2, 0.78))},
        {"falloff": (1.2, 0.5)},
        {"occluder": True},
        {"mirrored": True},
    ],
    ids=lambda harder: "-".join(harder),
)
def test_a_chart_is_found_in_a_poor_photo(harder):
    assert off_by(dataclasses.replace(SMALL, **harder)) < 0.15


def test_opencvs_detector_steps_in(monkeypatch):
    # published by OpenCV; its corners are good to a tenth or so of a patch
    monkeypatch.setattr(chart_finding, "_lattices", lambda *_, **__: iter(()))
    assert off_by(dataclasses.replace(SMALL, turn_deg=180)) < 0.35


@pytest.mark.parametrize("table", [*TABLE_LINEAR, "busy"])
def test_no_chart_is_found_where_there_is_none(table):
    pixels, _ = render(dataclasses.replace(SMALL, edition=None, table=table, cards=((0.3, 0.5, 0.9),)))
    assert find_chart(photo_of(pixels), REFERENCE) is None


def test_squares_in_other_colours_are_no_chart():
    pixels, surfaces = render(SMALL)
    generator = np.random.default_rng(3)
    colours = generator.permutation(
        [pixels[tuple(s.polygon.mean(axis=0).astype(int)[::-1])] for s in surfaces]
    )
    for surface, colour in zip(surfaces, colours, strict=True):
        cv2.fillPoly(pixels, [surface.polygon.astype(np.int32)], colour.tolist())
    assert find_chart(photo_of(pixels), REFERENCE) is None


def test_overexposed_patches_are_flagged():
    pixels, _ = render(dataclasses.replace(SMALL, exposure=1.25, table="felt"))
    found = find_chart(photo_of(pixels), REFERENCE)
    assert found is not None
    assert found.clipped[18]  # white
    assert not found.clipped[[0, 3, 12, 22, 23]].any()  # dark skin, foliage, blue, dark greys


def test_the_reading_is_the_patch():
    pixels, surfaces = render(dataclasses.replace(SMALL, exposure=1.0, noise=0.002, jpeg=None, table="felt"))
    found = find_chart(photo_of(pixels), REFERENCE)
    assert found is not None
    drawn = lab_to_linear([surface.lab for surface in surfaces])
    inside = drawn.min(axis=1) > 0  # patch 18 lies outside sRGB and was cut off
    np.testing.assert_allclose(found.linear[inside], drawn[inside], rtol=0, atol=0.004)
