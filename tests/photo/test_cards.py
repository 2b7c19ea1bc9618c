"""Cards of known reflectance under known lights, pointed out by the maker."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from analyser.errors import CalibrationError, OptionError
from analyser.photo.cards import Card, card_in_box
from synthetic.charts import Scene, photo_of, render

WARM = (1.0, 0.48, 0.16)
BOTH = ((0.3, 0.4, 0.9), (0.3, 0.75, 0.18))
SMALL = Scene(width=720, height=480, edition=None, card_size=(130, 84), cards=BOTH, exposure=0.85)


def test_the_box_may_hold_the_cards_rim():
    pixels, surfaces = render(dataclasses.replace(SMALL, light_linear=WARM, table="felt"))
    photo = photo_of(pixels)
    (x0, y0), (x1, y1) = surfaces[0].polygon.min(axis=0), surfaces[0].polygon.max(axis=0)
    card = card_in_box(photo, Card.parse(f"{x0},{y0},{x1 - x0},{y1 - y0}"))
    assert card.kind == "white"
    np.testing.assert_allclose(card.linear, 0.9 * 0.85 * np.array(WARM), rtol=0.02)


@pytest.mark.parametrize(("reflectance", "exposure"), [(0.9, 0.4), (0.9, 1.05), (0.18, 0.7), (0.18, 1.5)])
def test_white_or_grey_is_told_by_brightness(reflectance, exposure):
    scene = dataclasses.replace(
        SMALL, cards=((0.5, 0.5, reflectance),), exposure=exposure, table="white-paper", noise=0.002
    )
    pixels, _ = render(scene)
    card = card_in_box(photo_of(pixels), Card.parse("45%,45%,10%,10%"))
    assert card.reflectance == reflectance


def test_a_doubtful_card_says_how_to_name_it():
    scene = dataclasses.replace(SMALL, cards=((0.5, 0.5, 0.5),), table="felt", exposure=0.6)
    card = card_in_box(photo_of(render(scene)[0]), Card.parse("45%,45%,10%,10%"))
    other = {"white": "grey", "grey": "white"}[card.kind]
    assert any(f"--card BOX:{other}" in note for note in card.notes)


def test_what_the_maker_says_counts():
    photo = photo_of(render(SMALL)[0])
    assert card_in_box(photo, Card.parse("28%,36%,4%,8%:grey")).reflectance == 0.18
    assert card_in_box(photo, Card.parse("28%,36%,4%,8%:0.87")).reflectance == 0.87


@pytest.mark.parametrize(
    ("fill", "says"),
    [(0, "is black in a channel"), (255, "is overexposed; photograph it a little darker")],
)
def test_a_card_that_cannot_be_used_is_refused(fill, says):
    photo = photo_of(np.full((100, 150, 3), fill, np.uint8))
    with pytest.raises(CalibrationError, match=says):
        card_in_box(photo, Card.parse("10,10,50,50"))


def test_a_box_on_a_pattern_is_refused():
    generator = np.random.default_rng(1)
    photo = photo_of(generator.integers(20, 255, (100, 150, 3)).astype(np.uint8))
    with pytest.raises(CalibrationError, match="holds no even surface"):
        card_in_box(photo, Card.parse("10,10,50,50"))


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("10,10,50,50:black", "above 0, at most 1; got 'black'"),
        ("10,10,50,50:1.2", "above 0, at most 1; got '1.2'"),
        ("10,10,50,50:0", "above 0, at most 1"),
        ("10,10,50:white", "a box is x,y,width,height"),
    ],
)
def test_a_misspelt_card_is_refused(text, says):
    with pytest.raises(OptionError, match=says):
        Card.parse(text)


def test_a_box_outside_the_photo_is_refused():
    with pytest.raises(OptionError, match="outside the photo"):
        card_in_box(photo_of(render(SMALL)[0]), Card.parse("9000,10,50,50"))
