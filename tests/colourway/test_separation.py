"""How many colours a palette has: drawn pictures whose number of colours is known."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from analyser.colour.difference import delta_e_2000
from analyser.colour.spaces import lab_to_linear
from analyser.colourway import separation
from analyser.colourway.palette import reduce_colours

NAVY, CREAM, CORAL = (22.0, 1.0, -12.0), (88.0, 1.0, 12.0), (60.0, 45.0, 32.0)


def stripes(labs, side: int = 120, blur: float = 2.0, noise: float = 0.0) -> np.ndarray:
    """Upright stripes of equal width, their edges blurred as a lens blurs."""
    picture = np.repeat(lab_to_linear(np.array(labs)), side, axis=0)[None].repeat(3 * side, axis=0)
    picture = cv2.GaussianBlur(picture, (0, 0), blur) if blur else picture
    drawn = picture * (1.0 + noise * np.random.default_rng(4).standard_normal(picture.shape))
    return np.clip(drawn, 0.0, 1.0).astype(np.float32)


@pytest.mark.parametrize("labs", [(NAVY, CREAM), (NAVY, CREAM, CORAL), (CORAL, NAVY)])
def test_as_many_colours_as_were_painted_and_no_edge(labs):
    found = reduce_colours(stripes(labs, noise=0.03))
    assert len(found.lab) == len(labs)
    for lab in labs:
        assert delta_e_2000(found.lab, lab).min() < 3


def test_shades_of_one_surface_are_one_colour():
    shades = [(L, 10.0, 18.0) for L in np.linspace(58, 62, 6)]
    assert len(reduce_colours(stripes(shades, side=60)).lab) == 1


def test_a_small_vivid_thing_stays_among_many_shades():
    picture = stripes([(L, 2.0, 10.0) for L in np.linspace(55, 75, 4)], noise=0.04)
    height, width = picture.shape[:2]
    side = round(np.sqrt(0.001 * height * width))
    picture[100 : 100 + side, 200 : 200 + side] = lab_to_linear(np.array([40.0, 60.0, 35.0]))
    found = reduce_colours(picture)
    assert delta_e_2000(found.lab, (40.0, 60.0, 35.0)).min() < 3


def test_colours_told_apart_are_so_in_lightness_counted_less():
    rng = np.random.default_rng(8)
    lab = np.column_stack([rng.uniform(20, 90, 12), rng.uniform(-30, 40, 12), rng.uniform(-30, 40, 12)])
    share = rng.dirichlet(np.ones(12))
    kept = separation.told_apart(lab, share, np.ones(12), np.zeros(12, dtype=bool))
    off = delta_e_2000(kept[:, None], kept[None]) + 99 * np.eye(len(kept))
    assert off.min() >= separation.APART_DE00
    # Every colour that is no noise has one near it.
    far = delta_e_2000(lab[:, None], kept[None]).min(axis=1)[share > 0.01]
    assert far.max() < 2 * separation.APART_DE00
