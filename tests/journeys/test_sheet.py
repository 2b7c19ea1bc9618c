"""The photo sheet from the printer to the stock list: written, learnt, photographed on."""

from __future__ import annotations

from pathlib import Path

import cv2
import numpy as np
import pytest

from analyser.colour.difference import delta_e_2000
from synthetic import ropes, trays
from synthetic.sheets import Scene, Thing, draw

HEAPS = {2: (45, -30, 10), 5: (62, 40, 20), 11: (30, 16, -42)}
"""Lab of heaps by their place on the sheet."""

PHONE = Scene(kind="heaps", width=1500, height=2000, fills=0.94, light_linear=(1.0, 0.8, 0.55), jpeg=90)
RISE_MM = 2.05
"""Of a round of the drawn chenille, ``synthetic.rope_beads.CHENILLE_RISE``."""


def save(path: Path, drawn) -> Path:
    cv2.imwrite(str(path), drawn.pixels[..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, 92])
    return path


def heaps_on(sheet_places, scene: Scene):
    """A photo of heaps at their places."""
    things = []
    for place, lab in HEAPS.items():
        heap = trays.draw([trays.Heap(lab, 0.5, 0.5, radius=0.36)], table=(0.9, 0.9, 0.9), size=(240, 240),
                          cards=(), bead=0.075, seed=place)  # fmt: skip
        light = (heap.picture / 255.0) ** 2.2
        x, y = sheet_places[place - 1].centre
        things.append(Thing(light, heap.masks[0].astype(np.float32), 8.0, (x - 15, y - 15)))
    return draw(scene, things)


@pytest.fixture(scope="module")
def places():
    from analyser.photo.sheet_layout import layout

    return layout("heaps").places


def test_it_is_written_as_one_types(analyser, tmp_path):
    told = analyser("sheet", "--json", "-").answer("sheet")
    assert told["written"] == {
        "file": "photo-sheet-rope.pdf", "layout": "rope", "paper": "a4", "name": "aster",
        "width_mm": 210.0, "height_mm": 297.0,
    }  # fmt: skip
    assert (tmp_path / "photo-sheet-rope.pdf").read_bytes().startswith(b"%PDF-")
    ended = analyser("sheet", "--layout", "flat", "--paper", "letter", "--name", "fern", "--out", "my.png")
    assert ended.code == 0, ended.err
    assert "The sheet: my.png" in ended.out
    assert "actual size (100 %)" in ended.out
    assert (tmp_path / "my.png").read_bytes().startswith(b"\x89PNG")


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (("--out", "my.doc"), "my.doc: the sheet is a .pdf or a .png; name one of these"),
        (("--name", "oak"), "--name is one of aster, birch"),
        (("--learn", "none.jpg"), "none.jpg: there is no such file"),
        (("--learn", "none.jpg", "--paper", "a4"), "--learn reads a photo: leave out --layout"),
        (("--out", "no/such/folder.pdf"), "cannot be written"),
        (("--scale-is", "14.6cm"), "--scale-is goes with --learn PHOTO"),
    ],
)
def test_what_cannot_be_is_said_in_one_line(analyser, tmp_path, arguments, says):
    ended = analyser("sheet", *arguments)
    assert ended.code == 2
    assert says in ended.err
    assert ended.err.count("\n") == 1
    assert not list(tmp_path.glob("*.pdf"))


def test_learnt_once_it_needs_no_card_and_names_tubes_by_number(analyser, tmp_path, places):
    with_card = save(tmp_path / "card.jpg", draw(Scene(kind="flat", white_card=0.9, width=900, height=1200)))
    learnt = analyser("sheet", "--learn", with_card, "--json", "-").answer("sheet")["learnt"]
    assert learnt["name"] == "fern"
    assert Path(learnt["file"]) == tmp_path / "config" / "analyser" / "papers.toml"
    np.testing.assert_allclose(learnt["white_linear"], Scene().paper_linear, atol=0.02)

    photo = save(tmp_path / "heaps.jpg", heaps_on(places, PHONE))
    names = [f"bead-{place}" if place in HEAPS else "-" for place in range(1, 13)]
    (tmp_path / "names.txt").write_text("\n".join(names))
    told = analyser("stock", "add", photo, "--into", "stock.csv", "--names", "names.txt", "--json", "-")
    answer = told.answer("stock add")
    assert answer["calibration"]["method"] == "sheet"
    assert answer["calibration"]["reference"]["kind"] == "sheet"
    assert answer["calibration"]["sheet"]["missing"] == []
    assert [pile["number"] for pile in answer["piles"]] == list(HEAPS)
    assert answer["stock"]["added"] == [f"bead-{place}" for place in HEAPS]
    assert (tmp_path / "stock.csv").read_text().count("bead-11") >= 1
    hues = np.array([pile["lab"] for pile in answer["piles"]])
    nearest = [int(delta_e_2000(lab, np.array(list(HEAPS.values()), float)).argmin()) for lab in hues]
    assert nearest == [0, 1, 2]

    (tmp_path / "short.txt").write_text("a\nb\nc\n")
    short = analyser("stock", "add", photo, "--into", "stock.csv", "--names", "short.txt")
    assert short.code == 2
    assert "names 3 places, but a pile lies at place 11 of the sheet" in short.err


def test_a_rope_on_the_sheet_is_measured_and_its_gauge_kept(analyser, tmp_path):
    recipe = ropes.Recipe(
        "chenille", "straight", "even", "grey", (30, -18, -14), (70, 20, 42), 52, 9.0, 0.4, 80, 5
    )
    rope = ropes.draw(recipe)
    cover = cv2.morphologyEx((rope.ids >= 0).astype(np.uint8), cv2.MORPH_CLOSE, np.ones((13, 13), np.uint8))
    scene = Scene(kind="flat", width=1800, height=2400, fills=0.92, tilt=6, jpeg=92, focal_35mm=28)
    # the rope is drawn lying and put along the sheet's long side
    turned = np.rot90(rope.linear, -1), np.rot90(cover, -1).astype(np.float32)
    long, wide = (side / recipe.px_per_mm for side in turned[0].shape[:2])
    thing = Thing(*turned, recipe.px_per_mm, (105 - wide / 2, 112 - long / 2), height_mm=3.75)
    photo = save(tmp_path / "rope.jpg", draw(scene, [thing]))
    told = analyser("audit", photo, "--motif", "chenille", "--keep-gauge", "--json", "-").answer("audit")
    (piece,) = told["pieces"]
    assert piece["calibration"]["mm_per_px"] == pytest.approx(297 / (0.92 * 2400), rel=0.02)
    length_mm = np.hypot(*np.diff(rope.centreline, axis=0).T).sum() / recipe.px_per_mm
    assert piece["length_mm"] == pytest.approx(length_mm, rel=0.03)  # its ends are round
    assert piece["thickness_mm"] == pytest.approx(7.5, rel=0.06)
    gauge = piece["gauge"]
    assert gauge["in_mm"] == 50
    assert gauge["rounds"] == pytest.approx(50 / RISE_MM, rel=0.02)
    assert 0 < gauge["uncertainty"] < 0.04 * gauge["rounds"]
    kept = (tmp_path / "analyser.toml").read_text()
    assert f'"chenille 11/0 round" = "{round(gauge["rounds"], 1):g} rounds in 50mm"' in kept
    said = analyser("audit", photo, "--motif", "chenille")
    assert "On the sheet:" in said.out
    assert "rounds in 5 cm" in said.out


def test_without_a_sheet_there_is_no_gauge_to_keep(analyser, samples):
    photo = samples / "rope-rose-white-even.jpg"
    ended = analyser("audit", photo, "--motif", "chenille", "--keep-gauge")
    assert ended.code == 2
    assert "tells no gauge to keep; lay the rope on a photo sheet" in ended.err
    assert analyser("audit", photo, "--keep-gauge").code == 2
