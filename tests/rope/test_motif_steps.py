"""Steps of motifs against those that follow from the definition of each stitch, worked out by hand.

Definitions (which bead sits where) are common practice, no single source; the arithmetic stands beside each.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from analyser.motif import parsing
from analyser.rope.motif_steps import MOST_STEPS, motif_steps


def steps_of(name):
    return rounded(motif_steps(parsing.load(name)))


def rounded(found):
    return [
        (round(float(rounds), 3), round(float(degrees), 2))
        for rounds, degrees in zip(found.rounds, found.degrees, strict=True)
    ]


# Each the nearest steps of its stitch; all other steps are sums of these.
BY_HAND = {
    # Accents of round n lie at 120 k + 60 (n mod 2) degrees: every two rounds straight on, every round half a
    # stitch to either side, every stitch a third of a turn.
    "chenille": {(2, 0), (1, 60), (1, -60), (0, 120)},
    # Nets hang from the middle beads of the round before: half a net of 120 degrees to either side.
    "netting": {(1, 60), (1, -60), (2, 0), (0, 120)},
    # Six equal columns in straight stacks; every fourth round accent.
    "herringbone": {(0, 60), (4, 0), (0, 120), (0, 180)},
    # One accent stitch of three, each round 0.15 of a stitch (120 degrees) on: 18 degrees.
    "herringbone-twisted": {(1, 18), (2, 36), (3, 54)},
    # Six beads a round at 60 degrees, each in the gaps of the round before: 30 on; every third is accent, so
    # a half turn is free, and five rounds on 150 degrees are as good as -30.
    "peyote-even": {(1, 30), (2, 60), (5, -30), (6, 0), (1, -150)},
    # Bead after bead 360 / 5.5 degrees on and 1/11 of a round up, every third accent. So three beads are a
    # step, -163.64 degrees, and six are 32.73; 33, six turns, come straight on.
    "peyote-odd": {(0.273, -163.64), (0.545, 32.73), (3, 0)},
    # A loop a core bead, each a fifth of a turn on.
    "spiral": {(1, 72), (5, 0), (4, -72)},
    # Four like units a round, straight above one another.
    "right-angle": {(1, 0), (0, 90), (1, 90), (0, 180)},
    # Five beads a round of 5.5 beads a turn, one of five accent: five beads are 5/5.5 of a turn.
    "bead-crochet-5": {(1, -32.73), (11, 0)},
    # Six a round, 6.5 a turn, every third accent: three beads are half a round and 3/6.5 of a turn.
    "bead-crochet-6": {(0.5, 166.15), (1, -27.69), (6.5, 0)},
}


@pytest.mark.parametrize("name", BY_HAND)
def test_steps_are_those_the_stitch_defines(name):
    assert BY_HAND[name] <= set(steps_of(name))


def test_no_step_is_one_that_the_stitch_forbids():
    # Of chenille all steps are (n rounds, 60 (n mod 2) + 120 k degrees); of the spiral n rounds and 72 n.
    for rounds, degrees in steps_of("chenille"):
        assert rounds == int(rounds)
        assert (degrees - 60 * (rounds % 2)) % 120 == 0
    for rounds, degrees in steps_of("spiral"):
        assert rounds == int(rounds)
        assert (degrees - 72 * rounds) % 360 == 0


@pytest.mark.parametrize("name", parsing.names())
def test_a_step_lays_every_bead_on_one_of_its_role(name):
    """By another way: each bead of the inner rounds is moved in space and looks for its nearest."""
    worked = parsing.load(name)
    found = motif_steps(worked)
    beads = worked.rope(90, rise=1.0)
    start = sum(row.rise for row in worked.base)
    inner = (beads.part == "pattern") & (beads.round > 25) & (beads.round <= 25 + worked.repeat_rounds)
    pattern = beads.part == "pattern"

    def space(along, turns):
        out = np.broadcast_to(beads.out[inner if len(along) == inner.sum() else pattern], along.shape)
        return np.column_stack([along, out * np.cos(2 * np.pi * turns), out * np.sin(2 * np.pi * turns)])

    whole = space(beads.along_beads[pattern] - start, beads.angle_turns[pattern])
    for rounds, degrees in zip(found.rounds, found.degrees, strict=True):
        along = beads.along_beads[inner] - start + rounds
        moved = space(along, beads.angle_turns[inner] + degrees / 360)
        apart = np.linalg.norm(moved[:, None] - whole[None], axis=-1)
        assert apart.min(axis=1).max() < 1e-5
        assert list(beads.role[pattern][apart.argmin(axis=1)]) == list(beads.role[inner])


@pytest.mark.parametrize("name", parsing.names())
def test_steps_are_few_forwards_in_reach_and_the_nearest_first(name):
    worked = parsing.load(name)
    found = motif_steps(worked)
    assert 1 <= len(found.rounds) <= MOST_STEPS
    assert ((found.rounds > 0) | (found.degrees > 0)).all()
    assert ((found.degrees > -180) & (found.degrees <= 180)).all()
    along, degrees = found.shifts().T
    assert along.max() <= 14
    far = np.hypot(along, np.deg2rad(degrees) * worked.outer_diameters / 2)
    assert (np.diff(far) > -1e-5).all()


def test_what_a_round_adds_is_the_makers():
    chenille = motif_steps(parsing.load("chenille"))
    # The motif's file: 1.2 to 1.45 bead lengths of 1.5 mm; beads 2.1 mm across; 20 % from hand to hand.
    assert chenille.diameters_a_round == pytest.approx(1.37 * 1.5 / 2.1)
    assert chenille.low == pytest.approx(0.8 * chenille.diameters_a_round)
    assert chenille.high == pytest.approx(1.2 * chenille.diameters_a_round)
    at = list(zip(chenille.rounds, chenille.degrees, strict=True)).index((2.0, 0.0))
    assert chenille.shifts(1.1)[at] == pytest.approx((2.2, 0))
    # Beads of 2.1 mm on a tube whose outermost beads lie 2.7 mm from its axis, 3.75 mm with their half.
    assert chenille.bead_of_radius == pytest.approx(2.1 / 3.75, rel=0.01)


def test_a_rope_worked_the_other_way_round_winds_the_other_way():
    spiral = motif_steps(parsing.load("spiral"))
    for (along, degrees), (same, other) in zip(spiral.shifts(), spiral.shifts(mirrored=True), strict=True):
        assert same == along
        assert (degrees + other) % 360 == pytest.approx(0, abs=1e-9)
    straight = motif_steps(parsing.load("herringbone"))
    mirrored = {tuple(step) for step in np.round(straight.shifts(mirrored=True), 6)}
    assert {tuple(step) for step in np.round(straight.shifts(), 6)} == mirrored


def test_a_colour_more_makes_steps_longer():
    chenille = parsing.load("chenille")
    (row,) = chenille.rounds
    third = replace(chenille, rounds=(row, replace(row, beads=("BCB",) * 3)))
    assert {(2, 0), (0, 120), (2, 120)} <= set(rounded(motif_steps(third)))
    assert 1 not in motif_steps(third).rounds
    assert len(motif_steps(parsing.load("herringbone"), reach=2.0).rounds) == 3


@pytest.mark.parametrize("hand", [1, -1])
def test_shifts_seen_are_matched_at_the_rise_and_hand_that_fit(hand):
    # Chenille's steps by hand (see above), a tenth longer than likely; bead middles lie inside the outline.
    steps = motif_steps(parsing.load("chenille"))
    inside = 1 - steps.bead_of_radius / 2
    rise = 1.1 * steps.diameters_a_round * steps.bead_of_radius
    true = np.array([(2 * rise, 0.0), (rise, hand * np.pi / 3 * inside), (rise, -hand * np.pi / 3 * inside)])
    # Half-way round between two steps, farther from each than hand work goes, whatever the rise.
    decoys = np.array([(rounds * rise, np.pi / 6 * inside) for rounds in (1, 2, 3)])
    told = steps.predicts(np.vstack([true, decoys]), np.array([0.9, 0.6, 0.6, 0.4, 0.4, 0.4]))
    assert told.tolist() == [True] * 3 + [False] * 3


def test_shifts_that_no_rise_explains_are_not_steps():
    steps = motif_steps(parsing.load("chenille"))
    assert not steps.predicts(np.array([(0.1, 0.9)]), np.array([0.9])).any()
