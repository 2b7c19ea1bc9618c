"""The page to print: its size by the standards, its marks as OpenCV's own detector reads them."""

from __future__ import annotations

import io
import itertools
import re

import cv2
import numpy as np
import pytest
from PIL import Image

from analyser.drawing import sheet as drawing
from analyser.drawing.sheet_pens import width_of
from analyser.photo.sheet_layout import INSIDE_MM, KINDS, NAMES, PAPERS, QUIET_MM, Rect, layout

LAYOUTS = list(itertools.product(KINDS, PAPERS))
DPI = 200
POINTS = {"a4": (595.276, 841.890), "letter": (612.0, 792.0)}
"""ISO 216: 210 x 297 mm; ANSI/ASME Y14.1: 8.5 x 11 inches; of 72 points an inch."""


@pytest.mark.parametrize(("kind", "paper"), LAYOUTS)
def test_every_mark_is_read_where_it_should_be(kind, paper):
    on = layout(kind, paper, "heather")
    page = drawing.picture(on, DPI)
    family = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_APRILTAG_36h11)
    settings = cv2.aruco.DetectorParameters()
    settings.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_SUBPIX
    corners, numbers, _ = cv2.aruco.ArucoDetector(family, settings).detectMarkers(page)
    assert sorted(numbers.ravel().tolist()) == sorted(on.marks)
    for number, corner in zip(numbers.ravel().tolist(), corners, strict=True):
        off = (corner[0] + 0.5) * 25.4 / DPI - on.marks[number].corners
        assert np.abs(off).max() < 0.127, "a pixel"


@pytest.mark.parametrize("paper", PAPERS)
def test_the_pdf_has_one_page_of_the_standard_size(paper):
    data = drawing.pdf(layout("rope", paper))
    boxes = re.findall(rb"/MediaBox \[ 0 0 ([\d.]+) ([\d.]+) \]", data)
    assert len(boxes) == 1
    assert [float(side) for side in boxes[0]] == pytest.approx(POINTS[paper], abs=0.01)
    assert b"/PrintScaling /None" in data, "print dialogs start at actual size"


def test_the_same_sheet_is_the_same_file():
    assert drawing.pdf(layout("flat")) == drawing.pdf(layout("flat"))
    assert drawing.png(layout("flat")) == drawing.png(layout("flat"))


def test_the_png_prints_at_its_size():
    image = Image.open(io.BytesIO(drawing.png(layout("heaps"))))
    assert image.info["dpi"] == pytest.approx((300, 300), abs=0.1)
    assert np.array(image.size) * 25.4 / 300 == pytest.approx([210, 297], abs=0.05)


class Recorder:
    """A pen that notes where text goes, as boxes from the cap height to the descenders."""

    def __init__(self) -> None:
        self.texts: list[tuple[str, Rect]] = []

    def line(self, *_: object) -> None: ...
    def boxes(self, *_: object) -> None: ...
    def disc(self, *_: object) -> None: ...

    def text(self, x, y, words, size, grey, anchor="left"):
        wide = width_of(words, size)
        left = x - {"left": 0.0, "middle": 0.5, "right": 1.0}[anchor] * wide
        self.texts.append((words, Rect(left, y - 0.72 * size, wide, 0.92 * size)))


@pytest.mark.parametrize(("kind", "paper"), LAYOUTS)
def test_words_run_into_nothing(kind, paper):
    on, pen = layout(kind, paper, "heather"), Recorder()
    drawing.draw(on, pen)
    for (a, one), (b, two) in itertools.combinations(pen.texts, 2):
        assert not overlap(one, two), (a, b)
    for words, box in pen.texts:
        assert min(box.left, box.top, on.width - box.right, on.height - box.bottom) >= 6, words
        for other in (*(mark.grown(QUIET_MM) for mark in on.marks.values()), *on.frames):
            assert not overlap(box, other), words


@pytest.mark.parametrize(("kind", "paper"), LAYOUTS)
def test_marks_keep_their_white_and_nothing_overlaps(kind, paper):
    on = layout(kind, paper)
    quiet = [mark.grown(QUIET_MM) for mark in on.marks.values()]
    boxes = [*on.words, *on.head, *on.frames, on.scale]
    assert not any(overlap(a, b) for a, b in itertools.combinations([*quiet, *boxes], 2))
    for box in [*quiet, *boxes]:  # most printers leave 6 mm blank (common practice, no source)
        assert min(box.left, box.top, on.width - box.right, on.height - box.bottom) >= 6
    for polygon in on.free:
        assert polygon.min() >= INSIDE_MM - 0.01
        assert not any(inside(polygon, box) for box in [*quiet, *boxes])


def overlap(a: Rect, b: Rect) -> bool:
    return a.left < b.right and b.left < a.right and a.top < b.bottom and b.top < a.bottom


def inside(polygon: np.ndarray, box: Rect) -> bool:
    outline = polygon.astype(np.float32)
    return any(cv2.pointPolygonTest(outline, tuple(map(float, corner)), False) > 0 for corner in box.corners)


@pytest.mark.parametrize("paper", PAPERS)
def test_thirty_centimetres_of_rope_lie_in_the_channel(paper):
    line = layout("rope", paper).channel
    assert np.hypot(*np.diff(line, axis=0).T).sum() > 300
    along = np.gradient(line, axis=0)
    turn = np.unwrap(np.arctan2(along[:, 1], along[:, 0]))
    assert np.abs(np.gradient(turn)).max() < 1 / 50, "no tighter than a radius of 50 mm: a bracelet's"


def test_twelve_places_in_reading_order():
    middles = np.array([place.centre for place in layout("heaps").places])
    assert len(middles) == 12
    assert np.lexsort((middles[:, 0], middles[:, 1])).tolist() == list(range(12))


def test_grey_ink_only():
    ink = drawing.pdf(layout("rope"))
    assert b"/DeviceRGB" not in ink
    assert b"/DeviceCMYK" not in ink


def test_each_sheet_has_its_own_marks():
    numbers = [n for kind, paper in LAYOUTS for name in NAMES for n in layout(kind, paper, name).marks]
    assert len(set(numbers)) == len(numbers)
    # Olson (2011), table I: the family 36h11 has 587 marks.
    assert max(numbers) < 587
