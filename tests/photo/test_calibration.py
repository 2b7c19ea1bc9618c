"""Calibration as a whole: what is taken, how right the colours come out, and what is said about it."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from analyser.colour.difference import delta_e_2000
from analyser.colour.spaces import linear_to_lab
from analyser.errors import CalibrationError
from analyser.photo.calibration import Card, calibrate
from analyser.photo.reading import Photo
from synthetic.charts import Scene, inner_mean, photo_of, render

WARM = (1.0, 0.48, 0.16)
PHONE = ((0.86, 0.11, 0.03), (0.06, 0.88, 0.06), (0.02, 0.14, 0.84))
SWATCHES = (
    (35.0, 45.0, 20.0),
    (60.0, -40.0, 30.0),
    (30.0, 10.0, -40.0),
    (75.0, 10.0, 60.0),
    (20.0, 0.0, 2.0),
)
SMALL = Scene(
    width=900, height=600, chart_width=330, chart_at=(0.35, 0.6), card_size=(150, 95), swatch_lab=SWATCHES
)
CHARTLESS = dataclasses.replace(SMALL, edition=None)
CARDS = ((0.75, 0.4, 0.9), (0.75, 0.75, 0.18))


def errors(scene: Scene, method: str = "auto", card: Card | None = None, names: str = ""):
    """The calibration, and CIEDE2000 of the surfaces so named after it."""
    pixels, surfaces = render(scene)
    photo = photo_of(pixels)
    calibration = calibrate(photo, method, card)
    corrected = calibration.corrected(photo)
    assert corrected.linear.dtype == np.float32
    assert corrected.linear.shape == photo.linear.shape
    off = [
        float(delta_e_2000(linear_to_lab(inner_mean(corrected.linear, surface.polygon)), surface.lab))
        for surface in surfaces
        if surface.name.startswith(names)
    ]
    return calibration, np.array(off)


@pytest.mark.parametrize("edition", ["first", "older", "newer"])
@pytest.mark.parametrize("light", [(1.0, 1.0, 1.0), WARM])
def test_a_chart_brings_all_colours_home(edition, light):
    scene = dataclasses.replace(SMALL, edition=edition, light_linear=light, falloff=(0.3, 0.1), turn_deg=190)
    calibration, off = errors(scene)
    assert calibration.method == "chart"
    assert off.mean() < 1.0
    assert np.percentile(off, 95) < 2.5
    assert any(f"its {edition} printing" in note for note in calibration.notes)


def test_a_chart_helps_a_phones_photo():
    scene = dataclasses.replace(
        SMALL, camera=PHONE, contrast=0.6, jpeg=80, noise=0.008, light_linear=(1, 0.9, 0.8)
    )
    calibration, off = errors(scene, names="swatch")
    _, before = errors(scene, "none", names="swatch")
    assert off.mean() < 2.0
    assert off.mean() < 0.3 * before.mean()
    assert calibration.uncertainty_de00 < 2.5


@pytest.mark.parametrize("table", ["grey", "linen", "wood", "felt"])
def test_two_cards_undo_a_warm_lamp_at_one_end(table):
    scene = dataclasses.replace(CHARTLESS, cards=CARDS, light_linear=WARM, falloff=(0.5, 0.2), table=table)
    calibration, off = errors(scene, names="swatch")
    assert calibration.method == "white-card"
    assert off.max() < 2.0
    assert any("uneven light" in note for note in calibration.notes)


def test_two_cards_straighten_a_camera_curve():
    scene = dataclasses.replace(CHARTLESS, cards=CARDS, table="grey", contrast=0.6, exposure=0.6)
    calibration, off = errors(scene, names="swatch")
    _, one_card = errors(scene, card=Card.parse("73%,37%,4%,6%"), names="swatch")
    assert any("tone curve was straightened" in note for note in calibration.notes)
    assert off.mean() < 0.4 * one_card.mean()


@pytest.mark.parametrize(("reflectance", "method"), [(0.9, "white-card"), (0.18, "grey-card")])
def test_a_card_pointed_out_is_used(reflectance, method):
    cards = ((0.75, 0.5, reflectance),)
    scene = dataclasses.replace(CHARTLESS, cards=cards, light_linear=WARM, table="linen")
    calibration, off = errors(scene, card=Card.parse("72%,46%,6%,8%"), names="swatch")
    assert calibration.method == method
    assert off.max() < 2.0


def test_a_card_pointed_out_comes_before_the_chart():
    scene = dataclasses.replace(SMALL, cards=((0.8, 0.5, 0.9),))
    assert errors(scene, card=Card.parse("77%,46%,6%,8%"))[0].method == "white-card"
    assert errors(scene, "chart", card=Card.parse("77%,46%,6%,8%"))[0].method == "chart"


def test_white_paper_is_the_last_resort_and_says_so():
    scene = dataclasses.replace(CHARTLESS, light_linear=(1.0, 0.97, 0.93), exposure=0.8)
    calibration, off = errors(scene, names="swatch")
    assert calibration.method == "paper"
    assert off.max() < 2.5  # 0.88 was drawn, 0.86 is assumed
    assert any("tint is unknown" in note for note in calibration.notes)
    assert calibration.uncertainty_de00 > 3.0  # 68 % of 354 colours on drawn paper: benchmarks/uncertainty.py


def test_paper_under_a_warm_lamp_may_be_cream_and_is_asked_about():
    photo = photo_of(render(dataclasses.replace(CHARTLESS, light_linear=WARM, exposure=0.8))[0])
    calibration = calibrate(photo)
    assert calibration.method == "none"
    assert calibration.reference is not None
    assert (calibration.reference.kind, calibration.reference.applied) == ("paper", False)
    assert calibration.reference.sure < 0.9
    assert calibrate(photo, "paper").method == "paper"


def test_nothing_is_applied_where_there_is_nothing():
    scene = dataclasses.replace(CHARTLESS, table="busy", width=450, height=300, light_linear=WARM)
    photo = photo_of(render(scene)[0])
    calibration = calibrate(photo)
    assert calibration.method == "none"
    np.testing.assert_array_equal(calibration.corrected(photo).linear, photo.linear)
    assert any(note.startswith("hint, not applied") and "warm" in note for note in calibration.notes)
    in_daylight = calibrate(photo_of(render(dataclasses.replace(scene, light_linear=(1, 1, 1)))[0]))
    assert 6 <= in_daylight.uncertainty_de00 < calibration.uncertainty_de00


def test_none_leaves_every_pixel_as_the_camera_gave_it():
    photo = photo_of(render(dataclasses.replace(CHARTLESS, table="felt", falloff=(0.6, 0.2)))[0])
    calibration = calibrate(photo, "none")
    np.testing.assert_array_equal(calibration.corrected(photo).linear, photo.linear)
    assert any("uneven light" in note for note in calibration.notes)
    assert any("the light was left as it is" in note for note in calibration.notes)


def test_what_no_lamp_does_is_not_evened():
    # sixty times the light at one side is a sky at dusk, not a lamp over a table
    photo = photo_of(render(dataclasses.replace(CHARTLESS, table="grey", falloff=(4.0, 0.0)))[0])
    assert calibrate(photo).field is None


@pytest.mark.parametrize(
    ("method", "says"),
    [
        ("chart", "drawn.jpg: no 24-patch chart was found"),
        ("card", "drawn.jpg: no grey or white card was found; say where it lies with --card"),
        ("paper", "drawn.jpg: no plain white paper was found"),
        ("magic", "--calibration is auto, chart, sheet, card, paper or none; got 'magic'"),
    ],
)
def test_what_is_not_there_is_refused_in_one_line(method, says):
    photo = photo_of(render(dataclasses.replace(CHARTLESS, table="busy", width=450, height=300))[0])
    with pytest.raises(CalibrationError, match=says.replace("(", r"\(")) as caught:
        calibrate(photo, method)
    assert "\n" not in str(caught.value)


def test_a_burnt_out_chart_is_refused_in_one_line():
    photo = photo_of(render(dataclasses.replace(SMALL, exposure=6.0, table="felt"))[0])
    with pytest.raises(CalibrationError, match="chart"):
        calibrate(photo, "chart")


def test_the_stated_uncertainty_follows_colour_and_means():
    chart, _ = errors(dataclasses.replace(SMALL, contrast=0.6, camera=PHONE))
    card, _ = errors(dataclasses.replace(CHARTLESS, cards=CARDS[:1], table="grey"))
    none, _ = errors(dataclasses.replace(CHARTLESS, table="busy", width=450, height=300))
    assert chart.uncertainty_de00 < card.uncertainty_de00 < none.uncertainty_de00
    lab = np.array([[[50.0, 0, 0], [8.0, 0, 0]], [[50.0, 20, 0], [95.0, 0, 0]]])
    for calibration in (chart, card, none):
        stated = calibration.uncertainty_of(lab)
        assert stated.shape == (2, 2)
        assert (stated > 0).all()
        assert np.isfinite(stated).all()
        assert stated[0, 1] > stated[0, 0]  # near-black is less sure than grey
        assert 0 < calibration.light_uncertainty_de00 < calibration.uncertainty_de00
    # without a reference nearly all of the doubt is the light's; behind one about half
    assert none.light_uncertainty_de00 > 0.7 * none.uncertainty_de00
    assert card.light_uncertainty_de00 < 0.6 * card.uncertainty_de00
    far = chart.uncertainty_of([50.0, -110.0, 90.0])
    assert far > 2 * chart.uncertainty_de00  # no patch is near


def test_the_answer_does_not_depend_on_the_reading_size():
    pixels, surfaces = render(dataclasses.replace(SMALL, light_linear=(1, 0.8, 0.6)))
    photo = photo_of(pixels)
    halves = photo.linear.reshape(300, 2, 450, 2, 3).mean(axis=(1, 3))
    small = dataclasses.replace(photo, linear=halves, clipped=photo.clipped[::2, ::2])
    large_corrected, small_corrected = (calibrate(p).corrected(p).linear for p in (photo, small))
    for surface in surfaces:
        large_lab = linear_to_lab(inner_mean(large_corrected, surface.polygon))
        small_lab = linear_to_lab(inner_mean(small_corrected, surface.polygon / 2))
        assert delta_e_2000(large_lab, small_lab) < 0.6


def test_the_same_photo_gives_the_same_answer():
    photo = photo_of(render(SMALL)[0])
    once, twice = (calibrate(photo).corrected(photo).linear for _ in range(2))
    np.testing.assert_array_equal(once, twice)


@pytest.mark.parametrize("shape", [(1, 1), (5, 7), (3, 900), (33, 60)])
@pytest.mark.parametrize("fill", ["black", "white", "noise", "beyond sRGB"])
def test_pictures_that_show_nothing_are_borne(shape, fill):
    generator = np.random.default_rng(4)
    linear = {
        "black": np.zeros((*shape, 3)),
        "white": np.ones((*shape, 3)),
        "noise": generator.uniform(0, 1, (*shape, 3)),
        "beyond sRGB": generator.uniform(-0.3, 1.5, (*shape, 3)),
    }[fill].astype(np.float32)
    clipped = (linear >= 1).any(axis=2)
    photo = Photo(linear, None, clipped, "small.jpg", shape[1], shape[0], "sRGB", 1, "")
    calibration = calibrate(photo)
    assert calibration.method == "none"
    assert np.isfinite(calibration.corrected(photo).linear).all()
    assert np.isfinite(calibration.uncertainty_of([[0, 0, 0], [100, 0, 0], [50, 120, -120]])).all()
    for method in ("chart", "card", "paper"):
        with pytest.raises(CalibrationError, match="no "):
            calibrate(photo, method)


def test_a_burnt_out_chart_is_not_replaced_by_its_own_greys():
    scene = dataclasses.replace(SMALL, exposure=3.0, table="felt", swatch_lab=())
    calibration, _ = errors(scene)
    assert calibration.method == "none"
    assert any("the chart is overexposed" in note for note in calibration.notes)


def test_an_overexposed_chart_still_serves():
    scene = dataclasses.replace(SMALL, cards=((0.85, 0.5, 0.18),), exposure=1.6, table="felt", swatch_lab=())
    calibration, off = errors(scene, names="card")
    assert calibration.method == "chart"
    assert off.max() < 1
    assert any("overexposed patches of the chart were left out" in note for note in calibration.notes)


def test_behind_two_cards_the_doubt_goes_with_what_they_show_of_the_camera():
    cards = ((0.75, 0.4, 0.9), (0.75, 0.75, 0.18))
    labs = ((60, 35, 20), (45, -30, 10), (35, 15, -40), (75, 0, 50), (30, 5, 0), (85, -5, 5))
    off, stated = [], []
    for contrast in (0.0, 0.6):
        scene = Scene(width=720, height=480, edition=None, table="grey", cards=cards, card_size=(102, 66),
                      swatch_lab=labs, exposure=0.7, contrast=contrast)  # fmt: skip
        pixels, surfaces = render(scene)
        photo = photo_of(pixels)
        calibration = calibrate(photo)
        corrected = calibration.corrected(photo).linear
        chips = [surface for surface in surfaces if surface.name.startswith("swatch")]
        seen = np.array([linear_to_lab(inner_mean(corrected, chip.polygon)) for chip in chips])
        off.append(np.median(delta_e_2000(seen, np.array(labs, float))))
        stated.append(np.median(calibration.uncertainty_of(seen)))
    assert off[0] < stated[0] < 1.5  # the drawn truth
    assert off[1] > 1.5 * off[0]
    assert stated[1] > 1.5 * stated[0]
