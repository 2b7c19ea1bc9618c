"""Solids against plain geometry: what follows from the definitions of a sphere, a cylinder and a ring."""

import numpy as np
import pytest

from analyser.drawing import solids


def seen(solid: solids.Solid, axis: tuple[float, float, float], px_per_mm: float = 40.0) -> solids.View:
    turned = np.asarray(axis, float) / np.linalg.norm(axis)
    return solids.views(solid, [solids.rounded_axis(turned)], px_per_mm)[0]


def test_ball_has_the_heights_and_normals_of_a_sphere():
    view = seen(solids.ball(6.0), (1.0, 0.0, 0.0), 20.0)
    across = np.arange(-view.half_px, view.half_px + 1) / 20.0
    x, y = np.meshgrid(across, -across)
    inner = x**2 + y**2 < 2.7**2
    assert view.hit[inner].all()
    height = np.sqrt(9.0 - x[inner] ** 2 - y[inner] ** 2)
    np.testing.assert_allclose(view.z_mm[inner], height, atol=0.03)
    normal = np.stack([x[inner], y[inner], height], axis=-1) / 3.0
    assert np.min(np.sum(view.normal[inner] * normal, axis=-1)) > np.cos(np.radians(3.0))


def test_area_of_a_bead_along_its_hole_is_that_of_a_ring():
    view = seen(solids.round_bead(2.1, 1.5, 0.8), (0.0, 0.0, 1.0))
    assert view.hit.sum() / 40.0**2 == pytest.approx(np.pi * (1.05**2 - 0.4**2), rel=0.02)


def test_area_of_a_bead_from_the_side_is_that_of_a_rectangle_with_round_corners():
    solid = solids.round_bead(2.1, 1.5, 0.8)
    view = seen(solid, (1.0, 0.0, 0.0))
    area = 2.1 * 1.5 - (4.0 - np.pi) * solid.corner_mm**2
    assert view.hit.sum() / 40.0**2 == pytest.approx(area, rel=0.02)


def test_area_of_a_thick_walled_ring_is_exact_at_the_hole_too():
    view = seen(solids.ring(7.0, 1.1), (0.0, 0.0, 1.0))
    assert view.hit.sum() / 40.0**2 == pytest.approx(np.pi * (3.5**2 - 2.4**2), rel=0.02)


def test_an_axis_and_its_reverse_are_one_view():
    rng = np.random.default_rng(3)
    for axis in rng.normal(size=(50, 3)):
        axis /= np.linalg.norm(axis)
        assert solids.rounded_axis(axis) == solids.rounded_axis(-axis)
    assert solids.rounded_axis(np.array([1.0, 0.0, 0.0])) == solids.rounded_axis(np.array([-1.0, 0.0, 0.0]))


def test_core_is_nought_over_the_hole_and_one_at_the_rim():
    view = seen(solids.ball(2.0), (1.0, 0.0, 0.0))
    middle = view.half_px
    assert view.core[middle, middle] == pytest.approx(0.0, abs=0.03)
    assert view.core[middle - 38, middle] == pytest.approx(0.95, abs=0.02)
