"""A chart is many-hued under any lamp; two colours side by side, or a plain table, are not."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from analyser.photo.many_hued import hues
from synthetic.charts import Scene, photo_of, render

CHART = Scene(
    width=720, height=540, chart_width=300, chart_at=(0.5, 0.5), card_size=(1, 1), noise=0.0, jpeg=None
)


def of(scene: Scene) -> float:
    return hues(photo_of(render(scene)[0]).linear).most


def test_two_colours_side_by_side_scatter_along_one_line():
    picture = np.empty((200, 300, 3), np.float32)
    picture[:, :150], picture[:, 150:] = (0.8, 0.05, 0.1), (0.05, 0.1, 0.7)
    assert hues(picture).most < 0.02


def test_it_is_the_least_scatter_of_the_window_by_numpys_covariance():
    # One window: no smaller one fits, no larger one does; NumPy's eigenvalues are the source.
    light = np.random.default_rng(3).uniform(0.2, 1.0, (8, 8, 3)).astype(np.float32)
    logs = np.log(light + 0.01 * np.percentile(light[::2, ::2], 99.5))
    ratios = np.stack([logs[..., 0] - logs[..., 1], logs[..., 2] - logs[..., 1]]).reshape(2, -1)
    least = float(np.linalg.eigvalsh(np.cov(ratios, bias=True))[0])
    # the other window, of eleven, sees mirrored rims and may show more; never less is reported
    assert hues(light).most >= least**0.5 - 1e-4


@pytest.mark.parametrize("light_linear", [(1.0, 1.0, 1.0), (1.0, 0.47, 0.15), (0.6, 0.8, 1.0)])
@pytest.mark.parametrize("chart_width", [60, 300, 600])
def test_a_chart_is_many_hued_under_any_lamp(chart_width, light_linear):
    assert of(dataclasses.replace(CHART, chart_width=chart_width, light_linear=light_linear)) > 0.8


def test_a_table_without_a_chart_is_not():
    assert of(dataclasses.replace(CHART, edition=None, table="linen")) < 0.1


def test_a_picture_smaller_than_the_windows_has_no_hues():
    assert hues(np.ones((4, 4, 3), np.float32)).most == 0.0
