"""Odd beads put into drawn ropes where they are easily missed or told twice."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from types import SimpleNamespace

import numpy as np
import pytest

from analyser.audit.evenness import audit
from analyser.audit.odd_beads import each_once
from analyser.audit.strays import Stray, plain_rounds
from analyser.colour.spaces import lab_to_linear
from analyser.photo.calibration import calibrate
from synthetic.ropes import Recipe, draw, photo_of

EVEN = Recipe(
    "chenille", "straight", "even", "paper", (32, 25, -8), (76, -20, 8), 64, 8.5, 0.4, 70, 11, gloss=0.05
)


@cache
def rope():
    return draw(EVEN)


@cache
def accents():
    """Of each accent in full sight near the middle of the tube: id, place along, x and y."""
    ids, light = rope().ids, rope().linear.mean(axis=-1)
    line = rope().centreline
    gone = np.concatenate([[0], np.cumsum(np.hypot(*np.diff(line, axis=0).T))])
    found = []
    for bead in range(int(ids.max()) + 1):
        y, x = np.nonzero(ids == bead)
        if len(x) < 0.6 * np.pi / 4 * rope().bead_px ** 2 or np.median(light[y, x]) < 0.25:
            continue
        gap = np.hypot(*(line - (x.mean(), y.mean())).T)
        if gap.min() < rope().bead_px:
            found.append((bead, float(gone[gap.argmin()] / gone[-1]), float(x.mean()), float(y.mean())))
    return found


def with_odd(beads):
    """What is found where these accents are of the body's colour."""
    return found_on(rope(), beads, lab_to_linear(EVEN.body) / lab_to_linear(EVEN.accent))


def found_on(drawn, beads, dyed):
    """What is found on a rope where the light of some beads is times ``dyed``."""
    light = drawn.linear.copy()
    light[np.isin(drawn.ids, beads)] *= dyed
    photo = photo_of(light.astype(np.float32))
    return [one for one in audit(photo, calibrate(photo, "none")).findings if one.kind != "slack"]


def across(x, y):
    """How far from the middle of the tube a place lies, in bead diameters."""
    return np.hypot(*(rope().centreline - (x, y)).T).min() / rope().bead_px


@pytest.mark.parametrize(("low", "high"), [(0.035, 0.055), (0.945, 0.965)])
def test_an_odd_bead_in_the_outer_twentieth_is_told(low, high):
    bead, at, x, y = min(
        (one for one in accents() if low < one[1] < high), key=lambda one: abs(one[1] - (low + high) / 2)
    )
    (finding,) = with_odd([bead])
    assert (finding.kind, finding.role) == ("stray-bead", "accent")
    assert finding.at == pytest.approx(at, abs=0.02)
    assert np.hypot(finding.pixel[0] - x, finding.pixel[1] - y) < 1.2 * rope().bead_px


def test_each_bead_of_a_group_is_told_once():
    middle = sorted(accents(), key=lambda one: abs(one[1] - 0.5))
    first = middle[0]
    near = sorted(middle[1:], key=lambda one: np.hypot(one[2] - first[2], one[3] - first[3]))[:2]
    group = [first, *near]
    found = with_odd([one[0] for one in group])
    assert len(found) == len(group)
    for _, _, x, y in group:
        gaps = [np.hypot(one.pixel[0] - x, one.pixel[1] - y) for one in found]
        assert min(gaps) < 1.2 * rope().bead_px
    assert all(one.kind == "stray-bead" for one in found)


def test_odd_beads_at_the_side_of_the_tube_are_told():
    ids, light = rope().ids, rope().linear.mean(axis=-1)
    disc = np.pi / 4 * rope().bead_px ** 2
    side = []
    for bead in range(int(ids.max()) + 1):
        y, x = np.nonzero(ids == bead)
        # Accents, which are light, half in sight, as far out as a maker still sees them.
        if 0.5 < len(x) / disc < 0.7 and np.median(light[y, x]) > 0.2 and across(x.mean(), y.mean()) > 1.1:
            side.append((bead, x.mean(), y.mean()))
    assert len(side) > 20
    for bead, x, y in side[10:40:10]:
        (finding,) = with_odd([bead])
        assert (finding.kind, finding.role) == ("stray-bead", "accent")
        assert np.hypot(finding.pixel[0] - x, finding.pixel[1] - y) < 0.6 * rope().bead_px


ONE_COLOUR = replace(EVEN, accent=EVEN.body, seed=12)


def test_an_odd_bead_in_a_rope_of_one_colour_is_told():
    drawn = draw(ONE_COLOUR)
    bead = int(drawn.ids[tuple((drawn.centreline[200, ::-1]).astype(int))])
    y, x = np.nonzero(drawn.ids == bead)
    (finding,) = found_on(drawn, [bead], [2.5, 1.0, 0.5])
    assert (finding.kind, finding.about.becomes) == ("stray-bead", None)
    assert np.hypot(finding.pixel[0] - x.mean(), finding.pixel[1] - y.mean()) < 0.6 * drawn.bead_px


@pytest.mark.parametrize("seed", [12, 13, 14])
def test_an_even_rope_of_one_colour_has_no_odd_bead(seed):
    assert found_on(draw(replace(ONE_COLOUR, seed=seed)), [], 1.0) == []


def test_two_odd_spots_within_one_bead_are_told_once():
    spot = Stray(100.0, 40.0, 1, 0, 0.8, 0.9, 0.9, 0.0, 1.0, 3.0)
    twin = replace(spot, column=106.0, row=46.0)
    neighbour = replace(spot, column=120.0)
    assert each_once([spot, twin, neighbour], within=14.0) == [spot, neighbour]


def test_what_else_is_odd_of_a_plain_round_is_no_finding_of_its_own():
    spot = Stray(100.0, 40.0, 1, 0, 0.8, 0.9, 0.9, 0.0, 1.0, 3.0)
    beside = replace(spot, row=70.0)
    faint = replace(spot, column=104.0, row=95.0, area=0.15, peak=0.3)
    elsewhere = replace(faint, column=200.0)
    shape = (12, 40)
    expected = SimpleNamespace(
        expected=np.stack([np.zeros(shape), np.ones(shape)]),
        seen=np.stack([np.ones(shape), -np.ones(shape)]),
        votes=np.full(shape, 6.0),
        columns=np.linspace(0, 300, 40),
    )
    rounds, others = plain_rounds(
        SimpleNamespace(bead=20.0), expected, [spot, beside, faint, elsewhere], accent=1, body=0
    )
    assert [round(one.column) for one in rounds] == [100]
    assert others == [elsewhere]
