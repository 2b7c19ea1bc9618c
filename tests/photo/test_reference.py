"""Cards and paper found by themselves: what is used, what is only asked, and what is left alone."""

from __future__ import annotations

import dataclasses

import cv2
import numpy as np
import pytest

from analyser.photo.calibration import Card, calibrate
from analyser.photo.illumination import illumination_field
from analyser.photo.light_evidence import light_evidence, log_tint
from analyser.photo.reference import SURE, WORTH_ASKING, find_cards
from synthetic.charts import TABLE_LINEAR, Scene, photo_of, render
from synthetic.flatlays import NO_CARDS, draw

WARM = (1.0, 0.48, 0.16)
BOTH = ((0.3, 0.4, 0.9), (0.3, 0.75, 0.18))
SMALL = Scene(width=720, height=480, edition=None, card_size=(130, 84), cards=BOTH, exposure=0.85)


def found_in(scene: Scene):
    photo = photo_of(render(scene)[0])
    return find_cards(photo, light_evidence(photo.linear, ~photo.clipped), illumination_field(photo))


@pytest.mark.parametrize("light", [(1.0, 1.0, 1.0), WARM, (0.6, 0.8, 1.0)])
@pytest.mark.parametrize("table", TABLE_LINEAR)
def test_two_cards_are_found_in_any_light(table, light):
    if table == "white-paper":
        table = "grey"  # drawn without its shadow, a white card on white paper has no rim
    (white, grey), sure = found_in(dataclasses.replace(SMALL, table=table, light_linear=light))
    assert (white.kind, grey.kind) == ("white", "grey")
    assert sure > WORTH_ASKING
    truth = 0.85 * np.array(light) / max(light)
    np.testing.assert_allclose(white.linear / 0.9, truth, rtol=0.02)
    np.testing.assert_allclose(grey.linear / 0.18, truth, rtol=0.03)
    middle = white.corners.mean(axis=0)
    # a weave may nibble at an edge of the 130 x 84 pixels; the inner part is what is measured
    np.testing.assert_allclose(middle, [0.3 * 720, 0.4 * 480], atol=5)


@pytest.mark.parametrize("reflectance", [0.9, 0.18])
def test_one_card_is_found_in_daylight(reflectance):
    (card,), sure = found_in(dataclasses.replace(SMALL, cards=((0.6, 0.5, reflectance),), table="linen"))
    assert sure > WORTH_ASKING
    assert card.reflectance == reflectance
    np.testing.assert_allclose(card.linear, 0.85 * reflectance, rtol=0.02)


def test_a_grey_card_on_white_paper_is_found():
    warm = (1.0, 0.97, 0.93)  # a photo without any colour tells nothing of its light
    (card,), sure = found_in(dataclasses.replace(SMALL, cards=((0.6, 0.5, 0.18),), light_linear=warm))
    assert card.kind == "grey"
    assert sure > WORTH_ASKING


@pytest.mark.parametrize("table", [*TABLE_LINEAR, "busy"])
def test_nothing_is_used_where_there_is_no_card(table):
    beads = ((40.0, 50.0, 30.0), (55.0, 0.0, 0.0), (90.0, 0.0, 3.0), (30.0, 10.0, -40.0))
    scene = dataclasses.replace(SMALL, cards=(), table=table, swatch_lab=beads, light_linear=(1.0, 0.8, 0.6))
    _, sure = found_in(scene)
    assert sure < SURE


def test_a_coloured_note_is_no_card():
    pixels, surfaces = render(dataclasses.replace(SMALL, cards=((0.6, 0.5, 0.5),), table="linen"))
    polygon = surfaces[0].polygon.astype(np.int32)
    cv2.fillPoly(pixels, [polygon], (120, 200, 140))
    photo = photo_of(pixels)
    _, sure = find_cards(photo, light_evidence(photo.linear, ~photo.clipped), illumination_field(photo))
    assert sure < SURE


def test_nothing_in_a_black_and_white_photo_is_a_card():
    cards, sure = found_in(SMALL)  # drawn neutral in neutral light: all three channels are alike
    assert cards == ()
    assert sure == 0.0


@pytest.mark.parametrize("case", NO_CARDS)
def test_what_only_looks_like_a_card_is_not_used(case):
    scene = draw(7, case, "textured")
    calibration = calibrate(photo_of(scene.pixels))
    assert calibration.method in ("none", "paper")
    assert calibration.reference is None or not calibration.reference.applied


def test_what_the_maker_says_of_a_card_counts():
    photo = photo_of(render(dataclasses.replace(SMALL, cards=((0.5, 0.5, 0.9),), table="linen"))[0])
    told = calibrate(photo, card=Card.parse("48%,46%,4%,8%:white"))
    assert told.reference is not None
    assert (told.reference.kind, told.reference.sure, told.reference.applied) == ("white-card", 1.0, True)
    # all of the card is left out of the palette, not the small box in its middle: 130 x 84 were drawn
    assert told.reference_mask(photo.linear.shape).sum() == pytest.approx(130 * 84, rel=0.15)
    refused = calibrate(photo, no_card=True)
    assert refused.method == "none"
    assert refused.reference is None


def test_the_box_to_answer_with_lies_on_the_card():
    photo = photo_of(render(SMALL)[0])
    reference = calibrate(photo).reference
    assert reference is not None
    x, y, width, height = reference.box()
    inside = [cv2.pointPolygonTest(reference.outline.astype(np.float32), corner, False) for corner in
              ((x, y), (x + width, y), (x, y + height), (x + width, y + height))]  # fmt: skip
    assert min(inside) > 0


def test_none_leaves_every_pixel_as_the_camera_gave_it():
    scene = dataclasses.replace(SMALL, falloff=(0.6, 0.2), light_linear=WARM)
    photo = photo_of(render(scene)[0])
    np.testing.assert_array_equal(calibrate(photo, "none").corrected(photo).linear, photo.linear)


def test_light_is_evened_only_over_a_ground_that_is_vouched_for():
    scene = dataclasses.replace(SMALL, cards=(), table="felt", falloff=(0.6, 0.2))
    photo = photo_of(render(scene)[0])
    assert calibrate(photo).field is None
    assert any("--even-light" in note for note in calibrate(photo).notes)
    assert calibrate(photo, even_light=True).field is not None
    pair = calibrate(photo_of(render(dataclasses.replace(scene, cards=BOTH))[0]))
    assert pair.reference is not None
    assert pair.reference.kind == "cards"
    assert pair.field is not None


def test_the_estimators_agree_on_a_cast_of_a_grey_scene():
    grey = np.random.default_rng(5).uniform(0.1, 0.6, (120, 160, 1))
    linear = (grey * np.array([0.9, 0.6, 0.3])).astype(np.float32)
    evidence = light_evidence(linear, np.ones((120, 160), bool))
    # All three are exact where every surface is grey [their sources, in the module].
    np.testing.assert_allclose(evidence.tints, np.tile(log_tint([0.9, 0.6, 0.3]), (3, 1)), atol=1e-3)
    assert evidence.apart < 1e-3
