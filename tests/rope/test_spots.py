"""Roles and lots of few beads, on drawn spirals whose truth is exact, and what must not be taken for one."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from analyser.audit.evenness import audit
from analyser.imaging.logs import light_of, log_features
from analyser.photo.calibration import calibrate
from analyser.rope.locating import locate
from analyser.rope.placing import place
from analyser.rope.roles import RoleModel
from analyser.rope.spots import Spots, add_spots
from analyser.rope.unrolling import unroll
from synthetic.ropes import Recipe, draw, photo_of

SPIRAL = Recipe(
    "spiral",
    "s",
    "falloff",
    "wood",
    (59, -10, -26),
    (30, -15, -3),
    98,
    8.0,
    0.3,
    200,
    42,
    every=3,
    climb=0.5,
    gloss=0.0,
    fault="lot-change",
    fault_role="accent",
    size=5.0,
    at=0.22,
)
ONE_COLOUR = replace(SPIRAL, accent=SPIRAL.body, fault="none", light="window", table="paper", seed=43)


@cache
def rope(recipe):
    return draw(recipe)


@cache
def placed_of(recipe):
    photo = photo_of(rope(recipe).linear)
    return place(unroll(photo, locate(photo)))


def test_a_lot_of_few_accents_at_one_end_is_found_in_its_role():
    photo = photo_of(rope(SPIRAL).linear)
    piece = audit(photo, calibrate(photo, "none"))
    assert [(f.kind, f.role) for f in piece.findings] == [("lot-change", "accent")]
    assert piece.findings[0].at == pytest.approx(0.22, abs=0.03)


def test_no_bead_is_measured_on_the_table():
    for recipe in (SPIRAL, ONE_COLOUR):
        placed = placed_of(recipe)
        x, y = placed.strip.pixel(placed.beads.column, placed.beads.row).round().astype(int).T
        assert (rope(recipe).ids[y, x] >= 0).mean() > 0.97


def test_light_of_features_is_the_light_they_were_made_of():
    light = np.array([0.31, 0.004, 0.09])
    np.testing.assert_allclose(light_of(log_features(light)), light, rtol=1e-12)


def strip():
    return placed_of(SPIRAL).strip


def model(count):
    means = np.array([[-2.0, 0.5, 0.3], [-2.0, -0.6, -0.4]])[:count]
    return RoleModel(means, np.stack([np.diag([0.3, 0.05, 0.05]) ** 2] * count), np.full(count, 0.4), 20.0)


def spots(at, colour, *, across=0.0, scatter=0.02):
    """Spots at shares of the length, of one colour with noise."""
    rng = np.random.default_rng(5)
    at = np.asarray(at)
    rope_strip = strip()
    pixels = np.asarray(colour) + rng.normal(0, scatter, (len(at), 60, 3))
    column = rope_strip.start + at * (rope_strip.stop - rope_strip.start)
    row = rope_strip.middle + across * rope_strip.radius * np.where(np.arange(len(at)) % 2, 1.0, -1.0)
    return Spots(column, row, np.median(pixels, axis=1), pixels.reshape(-1, 3))


def seen(count, *, missing_before=0.0):
    shape = (count, strip().linear.shape[1])
    amount = np.full(shape, 5.0)
    amount[-1, : round(strip().start + missing_before * (strip().stop - strip().start))] = 0
    return amount


GREEN = (-1.8, -0.2, 1.2)
EVERYWHERE = np.linspace(0.05, 0.95, 10)


def test_spots_all_along_are_a_role():
    told = add_spots(model(1), spots(EVERYWHERE, GREEN), strip(), seen(1))
    assert len(told.means) == 2
    np.testing.assert_allclose(told.means[1], GREEN, atol=0.02)
    assert len(add_spots(model(2), spots(EVERYWHERE, GREEN), strip(), seen(2)).means) == 3


def test_spots_where_a_role_is_missing_are_its_other_lot():
    near = (-1.9, -0.45, -0.1)  # nearer to the second role
    told = add_spots(model(2), spots([0.03, 0.1, 0.17, 0.25], near), strip(), seen(2, missing_before=0.3))
    assert len(told.means) == 2
    np.testing.assert_array_equal(told.means[0], model(2).means[0])
    assert told.shares[1] > 0.4
    between = (told.means[1] - model(2).means[1]) / (np.array(near) - model(2).means[1])
    assert ((between > 0) & (between < 0.5)).all()


@pytest.mark.parametrize(
    "strange",
    [
        pytest.param(lambda: spots([0.1, 0.5, 0.8], GREEN), id="few"),
        pytest.param(lambda: spots(EVERYWHERE, GREEN, across=0.6), id="at the sides alone"),
        pytest.param(lambda: spots(EVERYWHERE, GREEN, scatter=3.0), id="of many colours"),
        pytest.param(lambda: spots([0.4, 0.45, 0.5, 0.55, 0.6], GREEN), id="in one stretch, no role missing"),
        pytest.param(lambda: spots(EVERYWHERE, (-3.2, 0.5, 0.3)), id="shade of the first role"),
        pytest.param(lambda: spots(EVERYWHERE, (-2.0, 0.05, 0.0)), id="edges between the roles"),
    ],
)
def test_other_spots_change_nothing(strange):
    before = model(2)
    assert add_spots(before, strange(), strip(), seen(2)) is before
