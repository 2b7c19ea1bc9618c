"""The illumination field told from a plain background, against the field that was drawn."""

from __future__ import annotations

import numpy as np
import pytest

from analyser.photo.illumination import illumination_field
from synthetic.charts import TABLE_LINEAR, Scene, illumination, photo_of, render

SMALL = Scene(width=600, height=400, edition=None, card_size=(90, 60), exposure=0.7)


def logs(field: np.ndarray) -> np.ndarray:
    light = np.log(np.asarray(field, float))
    return light - light.mean(axis=(0, 1))


@pytest.mark.parametrize("table", TABLE_LINEAR)
@pytest.mark.parametrize("falloff", [(0.6, 0.1), (-0.3, 0.4)])
def test_uneven_light_is_told(table, falloff):
    scene = Scene(**{**vars(SMALL), "table": table, "falloff": falloff, "cards": ((0.7, 0.5, 0.18),)})
    field = illumination_field(photo_of(render(scene)[0]))
    assert field is not None
    truth = logs(illumination(scene, 40, 60))
    # two hundredths of light are half an L*; smooth tables do far better
    assert (logs(field.at(40, 60)) - truth).std() < (0.004 if table in ("white-paper", "grey") else 0.02)
    assert field.ratio == pytest.approx(np.exp(np.ptp(truth[..., 1])), rel=0.12)
    assert field.cast_ratio == 1


@pytest.mark.parametrize("table", TABLE_LINEAR)
def test_mixed_light_is_told_by_channel(table):
    scene = Scene(**{**vars(SMALL), "table": table, "mixed": 0.8})
    field = illumination_field(photo_of(render(scene)[0]))
    assert field is not None
    assert field.cast_ratio == pytest.approx(np.exp(0.8), rel=0.06)
    left = logs(field.at(40, 60)) - logs(illumination(scene, 40, 60))
    assert (left[..., 0] - left[..., 2]).std() < 0.01


@pytest.mark.parametrize("table", TABLE_LINEAR)
def test_even_light_stays_as_it_is(table):
    field = illumination_field(photo_of(render(Scene(**{**vars(SMALL), "table": table}))[0]))
    assert field is not None
    assert field.ratio < 1.06
    assert field.cast_ratio == 1
    # the table's colour under this exposure; a mottle that is even in logs has a mean above its middle
    mean, mottle = TABLE_LINEAR[table]
    np.testing.assert_allclose(
        field.background_linear, 0.7 * np.array(mean) * np.exp(mottle**2 / 2), rtol=0.04
    )


def test_a_busy_picture_has_no_field():
    assert illumination_field(photo_of(render(Scene(**{**vars(SMALL), "table": "busy"}))[0])) is None


def test_a_subject_that_fills_the_frame_is_not_evened_out():
    # three stripes of cloth, each smooth: no one surface is round the others
    pixels = np.zeros((300, 450, 3), np.uint8)
    for number, colour in enumerate(((60, 70, 120), (150, 60, 50), (200, 190, 170))):
        pixels[:, 150 * number : 150 * (number + 1)] = colour
    assert illumination_field(photo_of(pixels)) is None


def test_burnt_out_paper_does_not_hide_the_field():
    scene = Scene(**{**vars(SMALL), "falloff": (0.9, 0.0), "exposure": 1.0})
    pixels, _ = render(scene)
    assert (pixels == 255).all(axis=2).mean() > 0.05
    field = illumination_field(photo_of(pixels))
    assert field is not None
    clear = np.s_[:, :40]
    left = np.log(field.at(40, 60)[clear]) - np.log(illumination(scene, 40, 60)[clear])
    assert left.std() < 0.01


def test_the_anchor_is_one_and_sizes_agree():
    scene = Scene(**{**vars(SMALL), "falloff": (0.8, -0.2)})
    field = illumination_field(photo_of(render(scene)[0]))
    assert field is not None
    anchored = field.anchored(0.2, 0.7)
    np.testing.assert_allclose(anchored.at_points([0.2, 0.7]), 1, rtol=1e-12)
    large = anchored.at(400, 600)
    assert large.dtype == np.float32
    y, x = 123, 456
    np.testing.assert_allclose(large[y, x], anchored.at_points([(x + 0.5) / 600, (y + 0.5) / 400]), rtol=2e-3)
    np.testing.assert_allclose(large[0, 0], anchored.at_points([0.5 / 600, 0.5 / 400]), rtol=2e-3)
    small = large.reshape(40, 10, 60, 10, 3).mean(axis=(1, 3))
    np.testing.assert_allclose(small, anchored.at(40, 60), rtol=3e-3)
    # what is divided out at the anchor is nothing
    seen = field.background_linear * field.at_points([0.2, 0.7])
    np.testing.assert_allclose(anchored.background_linear, seen, rtol=1e-9)
