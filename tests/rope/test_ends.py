"""The base of ropes whose ends are known by how they were drawn; and silence wherever a picture cannot tell.

That chenille starts with a ladder two beads long, that it may close with a band as long, and that the other
stitches drawn have neither, is common practice, no single source.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import cv2
import numpy as np
import pytest

from analyser.errors import OptionError
from analyser.photo.reading import Photo
from analyser.rope.ends import end_on_side, ends_of, side_names
from analyser.rope.locating import locate
from analyser.rope.placing import Beads, Placed, place
from analyser.rope.roles import RoleModel
from analyser.rope.unrolling import Strip, unroll
from synthetic.ropes import Recipe, draw

CHENILLE = Recipe(
    "chenille", "bow", "even", "paper", (32, 25, -8), (76, -20, 8), 50, 8.5, 0.6, 70, 11, gloss=0.05
)
RADIUS, START, LENGTH, STOP = 40, 80, 900, 820
BODY, ACCENT = 0, 1


def painted(*, first="", last="", cut=0.0):
    """A straight rope whose role pictures are painted: ``band``, ``caps`` and the like at its ends."""
    rows = np.arange(-60, 61)
    inside = np.abs(rows) <= RADIUS
    posterior = np.zeros((2, len(rows), LENGTH), np.float32)
    posterior[BODY, inside, START:STOP] = 1
    y, x = np.mgrid[0 : len(rows), 0:LENGTH]
    for number, column in enumerate(range(START + 12, STOP, 22)):
        for row in (60, 36, 84) if number % 2 else (48, 72):
            disc = np.hypot(x - column, y - row) < 8
            posterior[ACCENT][disc], posterior[BODY][disc] = 1, 0
    table = np.ones((len(rows), LENGTH), bool)
    table[inside, START:STOP] = False
    for end, kind in (("first", first), ("last", last)):
        reach = slice(START, START + 33) if end == "first" else slice(STOP - 33, STOP)
        beyond = slice(START - 50, START) if end == "first" else slice(STOP, STOP + 50)
        if "band" in kind:
            posterior[ACCENT, inside, reach], posterior[BODY, inside, reach] = 1, 0
        if "bead" in kind:
            table[np.abs(rows) <= 0.8 * RADIUS, beyond] = False
        if "cap" in kind:
            table[inside, beyond] = False
        if "long" in kind:
            longer = slice(START, START + 70)
            posterior[ACCENT, inside, longer], posterior[BODY, inside, longer] = 1, 0
    line = np.column_stack([np.arange(LENGTH) + 100.0 - cut, np.full(LENGTH, 200.0)])
    strip = Strip(
        np.zeros((len(rows), LENGTH, 3), np.float32),
        np.zeros((len(rows), LENGTH), bool),
        line,
        np.tile([0.0, 1.0], (LENGTH, 1)),
        RADIUS,
        START,
        STOP,
        1.0,
    )
    none = np.zeros(0)
    beads = Beads(none, none, none.astype(int), np.zeros((0, 3)), none.astype(int))
    model = RoleModel(np.zeros((2, 3)), np.tile(np.eye(3), (2, 1, 1)), np.full(2, 0.5), 9.0)
    return Placed(strip, beads, model, strip.linear, posterior, 25.0, np.zeros((LENGTH, 3)), table)


FRAME = (400, 1100)


@pytest.mark.parametrize(
    ("ends", "base"),
    [
        ({"first": "band"}, "first"),
        ({"last": "band"}, "last"),
        ({"first": "band", "last": "bead"}, "first"),
        ({}, None),
        ({"first": "band", "last": "band"}, None),  # base and closing: which is which?
        ({"first": "band", "last": "cap"}, None),  # the cap may hide a closing
        ({"first": "long"}, None),  # a plain stretch, not a base
        ({"first": "band", "cut": 170.0}, None),  # the frame cuts the rope
    ],
)
def test_only_one_band_at_one_end_of_a_whole_rope_is_a_base(ends, base):
    found = ends_of(painted(**ends), FRAME)
    assert found.base == base
    assert found.worked == {"first": "last", "last": "first", None: None}[base]


def test_a_band_that_comes_again_in_the_pattern_is_no_base():
    placed = painted(first="band")
    again = slice(400, 415)
    placed.posterior[ACCENT, 20:101, again], placed.posterior[BODY, 20:101, again] = 1, 0
    assert ends_of(placed, FRAME).base is None


def test_a_band_in_the_tables_colour_tells_nothing():
    placed = painted(first="band")
    placed.posterior[ACCENT][placed.table] = 1
    assert ends_of(placed, FRAME).base is None


@cache
def drawn(recipe):
    rope = draw(recipe)
    return np.clip(rope.linear, 0, 1).astype(np.float32), rope.centreline


def placed_of(linear):
    height, width = linear.shape[:2]
    clipped = (linear >= 0.995).any(axis=2)
    photo = Photo(linear, None, clipped, "drawn.jpg", width, height, "sRGB", 1, "0" * 64)
    return place(unroll(photo, locate(photo)))


ROPES = {
    "bow": CHENILLE,
    "ring on wood, window": replace(CHENILLE, layout="ring", table="wood", light="window", seed=5),
    "light body": replace(CHENILLE, body=(82, 4, 12), accent=(45, 45, 25), layout="straight", seed=7),
}


@pytest.mark.parametrize("turned", ["as drawn", "mirrored"])
@pytest.mark.parametrize("name", ROPES)
def test_the_base_of_drawn_chenille_is_found_where_it_lies(name, turned):
    linear, line = drawn(ROPES[name])
    width = linear.shape[1]
    base = line[0]
    if turned == "mirrored":
        linear, base = linear[:, ::-1].copy(), np.array([width - base[0], base[1]])
    placed = placed_of(linear)
    strip = placed.strip
    ends = strip.pixel(np.array([strip.start, strip.stop]), np.full(2, strip.middle))
    truth = ("first", "last")[int(np.argmin(np.hypot(*(ends - base).T)))]
    assert ends_of(placed, linear.shape[:2]).base == truth


@pytest.mark.parametrize("kind", ["rows", "rings", "spiral"])
def test_of_ropes_without_a_base_nothing_is_said(kind):
    linear, _ = drawn(replace(CHENILLE, kind=kind, rounds=70, seed=1))
    assert ends_of(placed_of(linear), linear.shape[:2]).base is None


def laid(first, last):
    placed = painted()
    line = np.linspace(first, last, STOP - START)
    whole = cv2.copyMakeBorder(line, START, LENGTH - STOP, 0, 0, cv2.BORDER_REPLICATE)
    return replace(placed.strip, centreline=whole)


def test_ends_are_named_as_they_lie():
    assert side_names(laid((10.0, 50.0), (800.0, 300.0))) == ("left", "right")
    assert side_names(laid((10.0, 50.0), (90.0, 700.0))) == ("top", "bottom")
    assert side_names(laid((10.0, 700.0), (90.0, 50.0))) == ("bottom", "top")


def test_the_side_the_maker_says_is_one_of_the_ends():
    strip = laid((10.0, 50.0), (800.0, 500.0))
    sides = ("left", "right", "top", "bottom")
    assert [end_on_side(strip, side) for side in sides] == ["first", "last", "first", "last"]
    rising = laid((10.0, 700.0), (90.0, 50.0))
    assert end_on_side(rising, "top") == "last"
    with pytest.raises(
        OptionError, match="lie one above the other; give --worked-to top or bottom, not left"
    ):
        end_on_side(rising, "left", "rope.jpg")
    with pytest.raises(OptionError, match=r"rope\.jpg: the rope's ends lie side by side"):
        end_on_side(laid((10.0, 50.0), (800.0, 60.0)), "top", "rope.jpg")
