"""Chances of beads: limits that can be worked out by hand, and the properties any chance has."""

import sys

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analyser.colour.spaces import hex_to_lab, lab_to_linear, linear_to_lab
from analyser.colourway.chances import chances

BOX = np.array(
    [hex_to_lab(code) for code in ("#cb6959", "#37575b", "#e0d8c6", "#7d3b45", "#98abc1", "#e9bc34")]
)


def test_a_bead_of_the_very_colour_is_the_one():
    near, chance = chances(BOX[:1], BOX)
    assert near[0, 0] == 0
    assert chance[0, 0] > 0.99
    assert chance[0, 1:].max() < 0.01


def test_of_two_beads_as_near_neither_is_likelier():
    both = np.array([[60.0, 20.0, 11.0], [60.0, 20.0, 9.0]])
    _, chance = chances([[60.0, 20.0, 10.0]], both, own_de00=3.0)
    assert chance[0, 0] == pytest.approx(chance[0, 1], abs=0.02)
    assert chance[0].sum() == pytest.approx(1.0, abs=0.1)


def test_a_known_colour_between_accepted_and_rejected_is_a_toss():
    # Paravina et al. (2015): half the observers accept 1.8 side by side. At the neutral point of L* = 50 a
    # step of L* is a step of CIEDE2000 (Sharma et al. 2005, eq. 15: S_L is 1 there).
    _, chance = chances([[50.9, 0.0, 0.0]], [[49.1, 0.0, 0.0]])
    assert chance[0, 0] == pytest.approx(0.5, abs=0.05)
    _, far = chances([[54.0, 0.0, 0.0]], [[46.0, 0.0, 0.0]])
    assert far[0, 0] < 0.01


def test_a_light_too_warm_is_seen_through_by_all_colours_together():
    """Each colour alone is nearest to a wrong bead or doubtful; together they can only be the true ones."""
    true = BOX
    warm = linear_to_lab(lab_to_linear(true) * np.array([1.12, 1.0, 0.8]))
    decoys = warm + np.array([0.0, 1.0, -1.0])
    beads = np.vstack([true, decoys[:2]])
    _, together = chances(warm, beads, shared_de00=9.0, own_de00=1.0)
    near, _ = chances(warm, beads, shared_de00=9.0, own_de00=1.0)
    for row in range(2):
        right = together[row][near[row] == row][0]
        wrong = together[row][near[row] == len(true) + row][0]
        assert right > 0.9 > 0.1 > wrong
    _, alone = chances(warm[:1], beads, shared_de00=9.0, own_de00=1.0)
    near_alone, _ = chances(warm[:1], beads, shared_de00=9.0, own_de00=1.0)
    assert alone[0][near_alone[0] == 0][0] < 0.9


@settings(max_examples=25, deadline=None)
@given(
    st.lists(st.tuples(st.floats(5, 95), st.floats(-40, 40), st.floats(-40, 40)), min_size=1, max_size=4),
    st.lists(st.tuples(st.floats(5, 95), st.floats(-40, 40), st.floats(-40, 40)), min_size=1, max_size=90),
    st.floats(0, 12),
    st.floats(0, 6),
)
def test_chances_are_chances_and_the_same_each_time(labs, beads, shared, own):
    near, chance = chances(labs, beads, shared_de00=shared, own_de00=own)
    assert near.shape == chance.shape == (len(labs), min(64, len(beads)))
    assert np.all(chance >= 0)
    assert np.all(chance.sum(axis=1) <= 1 + 1e-9)
    again = chances(labs, beads, shared_de00=shared, own_de00=own)
    np.testing.assert_array_equal(again[1], chance)


def test_a_dense_list_leaves_no_bead_likely():
    even = np.stack(np.meshgrid(np.arange(40, 61, 1.0), np.arange(-10, 11, 1.0), np.arange(-10, 11, 1.0)), -1)
    _, chance = chances([[50.0, 0.0, 0.0]], even.reshape(-1, 3), own_de00=6.0)
    assert chance.max() < 0.05


@pytest.mark.parametrize(("own", "shared", "doubt"), [(0.5, 0.0, 0.0), (0.0, 3.0, 2.0), (3.0, 6.0, 1.0)])
def test_beads_left_out_as_too_far_change_no_chance(monkeypatch, own, shared, doubt):
    """With nothing left out every bead is weighed under every light."""
    rng = np.random.default_rng(5)
    labs, beads = (np.c_[rng.uniform(10, 90, n), rng.uniform(-45, 45, (n, 2))] for n in (6, 120))
    told = {"own_de00": own, "shared_de00": shared, "bead_de00": rng.uniform(0, doubt, 120)}
    _, chance = chances(labs, beads, **told)
    monkeypatch.setattr(sys.modules["analyser.colourway.chances"], "_NOTHING", 1e-300)
    _, in_full = chances(labs, beads, **told)
    np.testing.assert_allclose(chance, in_full, rtol=0, atol=1e-8)


def test_colours_that_all_meet_beads_show_a_camera_that_errs_less_than_stated():
    """Six colours on their beads to the unit are no chance at a doubt of 8: each is surer for the others."""
    beads = np.vstack([BOX, BOX + np.array([0.0, 4.0, 0.0])])
    _, together = chances(BOX, beads, own_de00=8.0)
    alone = [chances(BOX[k : k + 1], beads, own_de00=8.0)[1].max() for k in range(len(BOX))]
    assert together.max(axis=1).mean() > np.mean(alone) + 0.1
