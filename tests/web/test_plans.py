"""A rope from colour to colour on the page: counted, drawn, charted; and the beads between two.

Common practice, no source: what a plan means is our own format; sums follow from its definition.
"""

from __future__ import annotations

import io
from typing import Any

import pytest
from fastapi.testclient import TestClient
from PIL import Image, ImageStat

from analyser.piece import plan_file

FADE = (
    '[[stretch]]\nshare = 0.1\nbody = "teal-deep"\n[[stretch]]\nfade = true\n'
    '[[stretch]]\nshare = 0.1\nbody = "driftwood"\n'
)
ASKED = {"plan": FADE, "accent": "coral-dusk", "length": "18cm"}


def told(page: TestClient, **asked: str) -> dict[str, Any]:
    answer = page.get("/api/plan", params={**ASKED, **asked})
    assert answer.status_code == 200, answer.text
    found: dict[str, Any] = answer.json()
    return found


def test_a_plan_is_counted_bead_by_bead(page: TestClient) -> None:
    answer = told(page)
    beads = {(one["role"], one["bead"]): one for one in answer["beads"]}
    assert set(beads) == {("accent", None), ("body", "teal-deep"), ("body", "driftwood")}
    assert beads["accent", None]["id"] == "coral-dusk"
    # Common practice, no source: a round of chenille has three accents and six body beads.
    assert (
        sum(beads["body", name]["beads"] for name in ("teal-deep", "driftwood")) == 6 * answer["rounds"] + 6
    )
    assert [(span["from"], span["to"]) for span in answer["spans"]][-1][1] == answer["rounds"]
    assert plan_file.parse(answer["plan"], "").stretches[1].fade
    assert 0 < answer["drawn"]["from"] < answer["drawn"]["to"] < 1
    assert answer["colours"]["body:teal-deep"]["css"]
    assert told(page, gauge="60 rounds in 10cm")["rounds"] != answer["rounds"]


@pytest.mark.parametrize("part", ["whole", "close"])
def test_the_rope_is_drawn(page: TestClient, part: str) -> None:
    answer = page.get(f"/api/plan/{part}", params=ASKED)
    assert answer.headers["content-type"] == "image/jpeg"
    with Image.open(io.BytesIO(answer.content)) as picture:
        assert picture.width == 1080


def test_the_borders_lie_where_the_picture_has_them(page: TestClient) -> None:
    """Black beads up to the middle, white ones from there: the picture turns where the answer says."""
    halves = '[[stretch]]\nshare = 0.5\nbody = "#101010"\n[[stretch]]\nbody = "#f0f0f0"\n'
    asked = {"plan": halves, "accent": "#808080", "length": "18cm"}
    drawn = told(page, **asked)["drawn"]
    with Image.open(io.BytesIO(page.get("/api/plan/whole", params=asked).content)) as picture:
        grey = picture.convert("L")
        middle = 0.5 * (drawn["from"] + drawn["to"]) * grey.width
        band = (grey.height * 2 // 5, grey.height * 3 // 5)
        before, after = (
            ImageStat.Stat(grey.crop((left, band[0], left + 40, band[1]))).mean[0]
            for left in (round(middle) - 52, round(middle) + 12)
        )
    assert after > 1.5 * before


def test_chart_and_file_are_taken_away(page: TestClient) -> None:
    chart = page.get("/api/plan/chart.html", params=ASKED)
    assert "to weave by" in chart.text
    assert "attachment" in chart.headers["content-disposition"]
    file = page.get("/api/plan/plan.toml", params=ASKED)
    assert plan_file.parse(file.text, "plan.toml").texts("body") == ("teal-deep", "driftwood")


def test_the_beads_between_two_are_chosen(page: TestClient) -> None:
    answer = page.get(
        "/api/plan/series", params={"first": "teal-deep", "last": "driftwood", "count": 4}
    ).json()
    ids = [bead["id"] for bead in answer["beads"]]
    assert (ids[0], ids[-1], len(ids)) == ("teal-deep", "driftwood", 4)
    assert len(answer["steps_de00"]) == 3
    # Of no lot are there beads enough for half a kilometre.
    far = page.get("/api/plan/series", params={"first": "teal-deep", "last": "driftwood", "length": "500m"})
    assert far.status_code == 422


def test_what_is_no_plan_is_told_in_a_line(page: TestClient) -> None:
    for asked, says in (
        ({"plan": "bodi = 1"}, "'bodi' is unknown"),
        ({"plan": '[[stretch]]\nbody = "nowhere"\n'}, "no bead 'nowhere'"),
        ({"plan": '[[stretch]]\nthird = "teal-deep"\n'}, "the plan names the third"),
        ({"length": "30m"}, ""),
    ):
        answer = page.get("/api/plan/whole", params={**ASKED, **asked})
        assert answer.status_code == 422
        line = answer.json()["error"]["says"]
        assert says in line
        assert "\n" not in line
