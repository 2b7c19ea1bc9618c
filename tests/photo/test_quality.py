"""What makes a photo's colours doubtful is told, and only then."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from analyser.photo import quality
from analyser.photo.illumination import illumination_field
from synthetic.charts import Scene, photo_of, render

BEADS = tuple((float(lightness), 30.0, -20.0) for lightness in (30, 45, 60, 75))
GOOD = Scene(width=600, height=400, edition=None, table="grey", swatch_lab=BEADS, exposure=0.9)


def said_of(scene: Scene) -> str:
    photo = photo_of(render(scene)[0])
    return " | ".join(quality.remarks(photo, illumination_field(photo)))


def test_a_good_photo_gets_no_remark():
    assert said_of(GOOD) == ""


@pytest.mark.parametrize(
    ("poor", "says"),
    [
        ({"exposure": 4.0}, "of the picture is overexposed; colours there are lost"),
        ({"exposure": 0.1}, "the picture is very dark"),
        ({"blur": 6.0}, "the picture is blurred"),
        ({"mixed": 0.8}, "mixed light: its tint changes across the picture"),
        ({"falloff": (0.7, 0.0)}, "uneven light: the brightest part gets 2.0 times the light of the darkest"),
    ],
    ids=["overexposed", "dark", "blurred", "mixed", "uneven"],
)
def test_a_poor_photo_is_told(poor, says):
    said = said_of(dataclasses.replace(GOOD, **poor))
    assert says in said
    assert said.count("|") <= (1 if "exposure" in poor else 0)


@pytest.mark.parametrize(
    ("light", "word"),
    [
        ((1, 0.8, 0.5), "warm"),
        ((0.6, 0.8, 1), "cool"),
        ((0.8, 1, 0.75), "greenish"),
        ((1, 0.75, 0.95), "pinkish"),
    ],
)
def test_a_tint_has_a_plain_name(light, word):
    assert quality.tint_words(np.array(light, float)) == word
