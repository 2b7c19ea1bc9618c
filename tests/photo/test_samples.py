"""The sample photos are what samples/truth.json says they are."""

from __future__ import annotations

import json
from pathlib import Path

import cv2
import numpy as np
import pytest
from skimage.color import xyz2lab

from analyser.photo.reading import read

SAMPLES = Path(__file__).parents[2] / "samples"
TRUTH = json.loads((SAMPLES / "truth.json").read_text("utf-8"))["photos"]
# IEC 61966-2-1:1999, linear sRGB to XYZ.
TO_XYZ = np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]])


def mean_lab(linear: np.ndarray, corners: list[list[float]]) -> np.ndarray:
    """Lab of the mean light inside a polygon, drawn in by a tenth from its edge."""
    polygon = np.array(corners)
    polygon = polygon.mean(axis=0) + 0.9 * (polygon - polygon.mean(axis=0))
    mask = np.zeros(linear.shape[:2], np.uint8)
    cv2.fillPoly(mask, [np.round(polygon).astype(np.int32)], 1)
    return xyz2lab(linear[mask > 0].mean(axis=0) @ TO_XYZ.T)


@pytest.mark.parametrize("name", TRUTH)
def test_samples_read_as_their_truth_says(name):
    photo, truth = read(SAMPLES / name), TRUTH[name]
    assert (photo.width, photo.height) == (truth["width"], truth["height"])
    assert photo.profile == truth["profile"]
    assert photo.notes == ()


def test_every_sample_has_its_truth_and_all_are_small():
    pictures = {path.name for path in SAMPLES.iterdir() if path.suffix in (".jpg", ".heic")}
    assert pictures == set(TRUTH)
    assert sum(path.stat().st_size for path in SAMPLES.iterdir()) < 3_000_000


def test_the_card_looks_as_the_truth_says():
    truth = TRUTH["outfit-dark-with-card.jpg"]
    seen = mean_lab(read(SAMPLES / "outfit-dark-with-card.jpg").linear, truth["card"]["corners"])
    card = next(m for m in truth["materials"] if m["name"] == "card")
    np.testing.assert_allclose(seen, card["seen_lab"], rtol=0, atol=0.7)  # its edge is in the truth's mean


def test_buttons_lie_where_the_truth_says():
    photo, truth = read(SAMPLES / "outfit-scarf.jpg"), TRUTH["outfit-scarf.jpg"]
    x, y, w, h = (round(v) for v in truth["boxes"]["accent"])
    part = photo.linear[y : y + h, x : x + w]
    lab = xyz2lab(np.clip(part, 0, None) @ TO_XYZ.T)
    red = lab[lab[..., 1] > 30].mean(axis=0)
    buttons = next(m for m in truth["materials"] if m["name"] == "accent")
    # Only the vivid part of the buttons is in the mean here, so it is the more vivid.
    assert np.linalg.norm(red - buttons["seen_lab"]) < 12
    share = (lab[..., 1] > 30).sum() / (photo.width * photo.height)
    assert share == pytest.approx(buttons["share"], rel=0.2)
