"""The photo sheet found, its millimetres and its white; on drawn photos, which are the exact truth."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from analyser.colour.difference import delta_e_2000
from analyser.colour.spaces import linear_to_lab
from analyser.colourway.photo_palette import palette_of
from analyser.errors import CalibrationError, PhotoError
from analyser.photo import papers
from analyser.photo.calibration import calibrate, paper_white
from analyser.photo.reading import Photo
from analyser.photo.sheet import find_sheet
from analyser.photo.sheet_layout import KINDS, NAMES, PAPERS, first_number, sheet_of
from analyser.photo.sheet_light import sheet_light
from synthetic.charts import photo_of
from synthetic.sheets import Drawn, Scene, draw, light_over

CHIPS = ((62, 38, 22), (45, -32, 12), (32, 18, -48), (75, 2, 68), (50, 0, 0))
SMALL = Scene(width=750, height=1000, chips=CHIPS)
HARD = replace(
    SMALL, width=900, height=1200, tilt=25, towards=20, turn=8, fills=0.85, light_linear=(1.0, 0.7, 0.42),
    falloff=(0.6, -0.3), mixed=0.3, contrast=0.5, sharpened=0.8, jpeg=60, noise=0.01,
)  # fmt: skip


@pytest.fixture(autouse=True)
def config(tmp_path, monkeypatch):
    """No papers of whoever runs the tests."""
    file = tmp_path / "config" / "papers.toml"
    monkeypatch.setattr(papers, "file", lambda: file)
    return file


@cache
def drawn(scene: Scene) -> Drawn:
    return draw(scene)


def found(scene: Scene):
    sheet, says = find_sheet(drawn(scene).photo())
    assert sheet is not None, says
    return sheet


def lengths_off(scene: Scene) -> np.ndarray:
    """Shares by which lengths of 60 mm and more between places in sight are off."""
    truth = drawn(scene).page_mm
    rng = np.random.default_rng(0)
    rows, columns = np.nonzero(np.isfinite(truth).all(axis=-1))
    pick = rng.integers(len(rows), size=(300, 2))
    pixels = np.stack([columns[pick], rows[pick]], axis=-1) + 0.5
    true = np.linalg.norm(np.diff(truth[rows[pick], columns[pick]], axis=1)[:, 0], axis=-1)
    seen = found(scene).to_mm(pixels.reshape(-1, 2)).reshape(pixels.shape)
    far = true > 60
    return np.abs(np.linalg.norm(np.diff(seen, axis=1)[far, 0], axis=-1) / true[far] - 1)


def chips_off(scene: Scene) -> np.ndarray:
    """CIEDE2000 of the chips as calibrated."""
    picture = drawn(scene)
    photo = picture.photo()
    linear = calibrate(photo).corrected(photo).linear
    seen = [linear[picture.chip_pixels(n)].mean(axis=0, dtype=float) for n in range(len(scene.chips))]
    return delta_e_2000(linear_to_lab(np.array(seen)), np.array(scene.chips, float))


def test_a_mark_tells_its_sheet():
    for name in NAMES:
        for paper in PAPERS:
            for kind in KINDS:
                first = first_number(kind, paper, name)
                assert {sheet_of(number) for number in range(first, first + 10)} == {(kind, paper, name)}
    assert sheet_of(586) is None
    assert sheet_of(-1) is None


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("kind", KINDS)
def test_it_is_found_with_its_name(kind, paper):
    sheet = found(replace(HARD, kind=kind, paper=paper, name="iris"))
    assert (sheet.layout.kind, sheet.layout.paper, sheet.layout.name) == (kind, paper, "iris")
    assert sheet.is_ground


@pytest.mark.parametrize("side", ["left", "right", "top", "bottom"])
def test_a_third_may_be_covered(side):
    scene = replace(HARD, covered=side)
    sheet = found(scene)
    covered = {"left": "left", "right": "right", "top": "top", "bottom": "bottom"}[side]
    assert any(covered in place for place in sheet.missing)
    assert np.median(lengths_off(scene)) < 0.01


@pytest.mark.parametrize(
    "scene",
    [SMALL, HARD, replace(SMALL, curl=5, tilt=15), replace(SMALL, crumple=0.7, turn=180, jpeg=60)],
    ids=["plain", "hard", "curled", "crumpled"],
)
def test_lengths_are_right_within_one_per_cent(scene):
    off = lengths_off(scene)
    assert np.median(off) < 0.005
    assert np.percentile(off, 95) < 0.015
    assert (off < 0.01).mean() > 0.8


def test_the_camera_s_height_follows_from_the_lens():
    scene = replace(SMALL, tilt=12, focal_35mm=35)
    focal_px = 35 / np.hypot(36, 24) * np.hypot(scene.width, scene.height)
    away = focal_px * max(210 / scene.width, 297 / scene.height) / scene.fills
    sheet = found(scene)
    assert sheet.camera_height_mm == pytest.approx(away * np.cos(np.radians(12)), rel=0.01)
    assert sheet.nearer(4.0) == pytest.approx(1 - 4.0 / sheet.camera_height_mm)


def blotted(scene: Scene, kept: tuple[int, ...]) -> Photo:
    """The photo with all marks but some painted over."""
    sheet, photo = found(scene), drawn(scene).photo()
    linear = photo.linear.copy()
    for place, (_, mark) in enumerate(sorted(sheet.layout.marks.items())):
        if place not in kept:
            (left, top), (right, bottom) = (f(sheet.to_px(mark.corners), axis=0) for f in (np.min, np.max))
            linear[int(top) : int(bottom) + 1, int(left) : int(right) + 1] = 0.4
    return replace(photo, linear=linear)


def test_three_marks_are_enough():
    sheet, _ = find_sheet(blotted(SMALL, (0, 4, 7)))
    assert sheet is not None
    assert len(sheet.seen) == 3
    corners = found(SMALL).to_px(sheet.layout.page.corners)
    assert np.abs(sheet.to_px(sheet.layout.page.corners) - corners).max() < 0.01 * SMALL.height


def test_with_two_it_says_which_are_missing():
    sheet, says = find_sheet(blotted(SMALL, (0, 9)))
    assert sheet is None
    assert says == (
        "a photo sheet is in sight, but only 2 of its marks can be read, and 3 are needed; missing: "
        "top middle, top right, upper left, upper right, lower left, lower right, bottom left, bottom middle"
    )
    assert says in calibrate(blotted(SMALL, (0, 9))).notes


def test_a_sheet_in_the_background_is_not_the_ground():
    scene = replace(SMALL, width=1600, height=1200, fills=0.42, shift=(0.36, -0.2))
    assert not found(scene).is_ground
    calibration = calibrate(drawn(scene).photo())
    assert calibration.ground is None
    assert "a photo sheet lies in the background; it was not used" in calibration.notes


def beside(left: Drawn, right: Drawn) -> Photo:
    """Two drawn photos in one frame."""
    return photo_of(np.concatenate([left.pixels, right.pixels], axis=1))


@pytest.mark.parametrize("name", ["fern", "birch"])
def test_of_two_sheets_it_is_told_that_only_one_counts(name):
    one, other = (
        replace(SMALL, kind="rope", chips=()),
        replace(SMALL, kind="rope", chips=(), name=name, seed=2),
    )
    both = beside(drawn(one), drawn(other))
    assert "two photo sheets" in " ".join(calibrate(both).notes)
    assert "two photo sheets" not in " ".join(calibrate(drawn(one).photo()).notes)


@pytest.mark.parametrize("size", [(20, 20), (300, 400)])
def test_noise_is_no_sheet(size):
    linear = np.random.default_rng(1).random((*size, 3), dtype=np.float32)
    clipped = np.zeros(size, bool)
    assert find_sheet(Photo(linear, None, clipped, "noise.png", *size[::-1], "sRGB", 1, "")) == (None, "")


def test_the_light_is_told_by_the_paper_whatever_lies_on_it():
    scene = replace(SMALL, falloff=(0.7, -0.3), mixed=0.4, white_card=0.9, grey_card=0.18)
    light = sheet_light(drawn(scene).photo(), found(scene))
    assert light is not None
    truth = light_over(scene) * np.array(scene.paper_linear)
    seen = light.field.at(scene.height, scene.width) * light.field.background_linear
    on_page = np.isfinite(drawn(scene).page_mm).all(axis=-1)
    assert np.abs(np.log(seen / truth)[on_page]).max() < 0.03


def test_cards_on_their_frames_are_used_without_a_guess():
    scene = replace(SMALL, white_card=0.9, grey_card=0.18)
    calibration = calibrate(drawn(scene).photo())
    assert calibration.method == "sheet"
    says = "white card (reflectance 0.9) and grey card (reflectance 0.18)"
    assert any(says in note for note in calibration.notes)
    assert chips_off(scene).max() < 1.0


@pytest.mark.parametrize("reflectance", [0.55, 0.03])
def test_what_is_no_card_is_not_used(reflectance):
    scene = replace(SMALL, white_card=reflectance)
    calibration = calibrate(drawn(scene).photo())
    assert (
        "what lies on a card frame of the sheet is no even white or grey card; not used" in calibration.notes
    )


def test_a_learnt_paper_is_as_good_as_a_white_card(config):
    scene = replace(HARD, contrast=0.0)
    # a code of eight bits is 1 % of light here, and JPEG's rounding of chroma is one or two
    name, white = paper_white(drawn(replace(SMALL, white_card=0.9, tilt=4, jpeg=None)).photo())
    assert name == "fern"
    np.testing.assert_allclose(white, scene.paper_linear, atol=0.01)
    papers.learn(name, tuple(white.tolist()), "card.jpg")
    learnt, card = chips_off(scene), chips_off(replace(scene, white_card=0.9))
    assert learnt.mean() < card.mean() + 0.3
    assert learnt.max() < 3.0
    assert any("paper fern, learnt" in note for note in calibrate(drawn(scene).photo()).notes)


def test_a_paper_not_learnt_is_told_to_be_so():
    calibration = calibrate(drawn(SMALL).photo())
    assert calibration.method == "sheet"
    assert any("the tint of paper fern is not learnt" in note for note in calibration.notes)
    # Known no better than what a white card tells.
    card = calibrate(drawn(replace(SMALL, white_card=0.9)).photo())
    assert calibration.uncertainty_de00 > card.uncertainty_de00


def test_a_burnt_out_paper_tells_millimetres_only():
    calibration = calibrate(drawn(replace(SMALL, exposure=2.2)).photo())
    assert calibration.method != "sheet"
    assert calibration.ground is not None
    assert any("tells millimetres, but its paper is overexposed" in note for note in calibration.notes)


def test_learning_needs_the_card():
    with pytest.raises(CalibrationError, match="no white card lies on the sheet's frame; lay one there"):
        paper_white(drawn(SMALL).photo())


def test_sheet_insisted_on_and_absent():
    linear = np.full((300, 400, 3), 0.5, np.float32)
    photo = Photo(linear, None, np.zeros((300, 400), bool), "plain.png", 400, 300, "sRGB", 1, "")
    with pytest.raises(CalibrationError, match=r"plain\.png: no photo sheet was found under"):
        calibrate(photo, "sheet")


def test_nothing_printed_is_a_colour_of_the_photo():
    photo = drawn(SMALL).photo()
    calibration = calibrate(photo)
    palette = palette_of(calibration.corrected(photo), calibration, colours=5)
    seen = np.array([colour.lab for colour in palette.colours])
    nearest = [delta_e_2000(lab, np.array(CHIPS, float)) for lab in seen]
    assert {int(off.argmin()) for off in nearest} == set(range(5))
    assert max(off.min() for off in nearest) < 4.5
    assert palette.background is not None
    assert palette.background.lab[0] > 85


def test_an_empty_sheet_has_no_colours():
    photo = drawn(replace(SMALL, chips=())).photo()
    calibration = calibrate(photo)
    with pytest.raises(PhotoError, match="nothing lies on the photo sheet"):
        palette_of(calibration.corrected(photo), calibration)


def test_papers_are_kept_by_name(config):
    assert papers.known() == {}
    papers.learn("fern", (0.84, 0.86, 0.9), 'a "quoted"\n name.jpg')
    papers.learn("aster", (0.8, 0.8, 0.7), "b.jpg")
    papers.learn("fern", (0.85, 0.86, 0.9), "c.jpg")
    kept = papers.known()
    assert list(kept) == ["aster", "fern"]
    assert kept["fern"].white_linear == (0.85, 0.86, 0.9)
    assert [file.name for file in config.parent.iterdir()] == ["papers.toml"], "nothing half written is left"


def test_a_page_that_the_printer_scaled_is_told_once(config):
    # drawn at actual size; a ruler that gives 14.1 cm for the scale says that all is 6 % smaller
    photo = drawn(SMALL).photo()
    as_meant, _ = find_sheet(photo)
    papers.learn("fern", (0.84, 0.86, 0.9), "card.jpg", printed=0.94)
    scaled, _ = find_sheet(photo)
    assert scaled.layout.name == "fern"
    assert scaled.mm_per_px == pytest.approx(0.94 * as_meant.mm_per_px)
    assert scaled.camera_height_mm == pytest.approx(0.94 * as_meant.camera_height_mm)
    with pytest.raises(CalibrationError, match=r"its scale of 15 cm cannot measure 30\.0 cm"):
        papers.learn("fern", (0.84, 0.86, 0.9), "card.jpg", printed=2.0)


@pytest.mark.parametrize(
    "text",
    [
        "fern = 1",
        "[fern]\nwhite_linear = [1, 2]",
        "[fern]\nwhite_linear = [0.8, 0.8, 7]",
        "[fern]\nwhite_linear = [0.8, 0.8, 0.8]\nprinted = 3",
        "[[",
    ],
)
def test_a_spoilt_file_of_papers_is_told(config, text):
    config.parent.mkdir()
    config.write_text(text)
    with pytest.raises(CalibrationError, match=r"papers\.toml"):
        papers.known()


def test_no_paper_is_that_dark():
    with pytest.raises(CalibrationError, match="is no paper's white"):
        papers.learn("fern", (0.2, 0.2, 0.2), "a.jpg")
