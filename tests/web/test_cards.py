"""What may be a card is asked about on the page, and the answer is redone with what the maker says."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from synthetic.charts import Scene, render


@pytest.fixture(scope="module")
def doubtful() -> bytes:
    """A grey card in plain sight, underexposed on wood in warm light: likely one, not surely."""
    scene = Scene(
        width=720, height=480, edition=None, card_size=(130, 84), cards=((0.5, 0.5, 0.18),), table="wood",
        light_linear=(1.0, 0.6, 0.3), exposure=0.6,
    )  # fmt: skip
    _, data = cv2.imencode(".png", np.ascontiguousarray(render(scene)[0][..., ::-1]))
    return data.tobytes()


def test_a_doubtful_card_is_asked_about_and_the_answer_redone(page, add, doubtful):
    told = add(doubtful, "card.png")
    calibration = told["result"]["calibration"]
    assert calibration["method"] == "none"
    assert "grey card" in calibration["reference"]["says"]
    said = page.put(f"/api/photos/{told['id']}/card", json={"says": "grey"}).json()
    assert said["result"]["calibration"]["method"] == "grey-card"
    assert said["result"]["calibration"]["reference"]["sure"] == 1
    refused = page.put(f"/api/photos/{told['id']}/card", json={"says": "no"}).json()
    assert refused["result"]["calibration"]["reference"] is None
    assert page.put(f"/api/photos/{told['id']}/card", json={"says": "white"}).status_code == 404
    again = page.put(f"/api/photos/{told['id']}/card", json={"says": "again"}).json()
    assert again["result"]["calibration"]["reference"]["applied"] is False
    assert page.put(f"/api/photos/{told['id']}/card", json={"says": "perhaps"}).status_code == 422
