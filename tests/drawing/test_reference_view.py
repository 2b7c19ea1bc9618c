"""What a photo was calibrated by is outlined where it lies: on a drawn sheet, whose places are known."""

import numpy as np
import pytest

from analyser.drawing.reference_view import photo_view
from analyser.imaging.encoding import picture_u8
from analyser.photo import papers
from analyser.photo.calibration import calibrate
from synthetic.sheets import Scene, draw


@pytest.fixture(autouse=True)
def no_papers(tmp_path, monkeypatch):
    """None of whoever runs the tests."""
    monkeypatch.setattr(papers, "file", lambda: tmp_path / "papers.toml")


def test_sheet_and_both_cards_are_outlined_where_they_lie():
    drawn = draw(Scene(width=600, height=800, white_card=0.9, grey_card=0.18, tilt=8))
    photo = drawn.photo()
    plain = picture_u8(photo.linear, 800)
    changed = (photo_view(photo, calibrate(photo), 800) != plain).any(axis=2)
    page = drawn.layout.page
    # on the page's left rim, in the middle of each card, and where nothing lies
    for at, outlined in (
        ((page.left, page.centre[1]), True),
        *(
            ((frame.left + frame.width / 2, frame.top + frame.height / 2), True)
            for frame in drawn.layout.frames
        ),
        ((page.left + 30, page.top + page.height / 2), False),
    ):
        away = np.hypot(*np.moveaxis(drawn.page_mm - np.array(at), -1, 0))
        near = np.nan_to_num(away, nan=np.inf) < (24 if outlined else 6)
        assert near.any()
        assert changed[near].any() == outlined, at
