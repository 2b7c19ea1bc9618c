"""Finished ropes and tray photos over the API, against the truth of the rendered samples."""

from __future__ import annotations

import json
from pathlib import Path

import jsonschema
import pytest

from analyser.report import schemas

SAMPLES = Path(__file__).resolve().parents[2] / "samples"
# samples/truth.json: what was drawn (see samples/README.md).
TRUTH = json.loads((SAMPLES / "truth.json").read_text(encoding="utf-8"))


@pytest.fixture(scope="module")
def rope(page) -> str:
    data = (SAMPLES / "rope-teal-copper-lot-change.jpg").read_bytes()
    photo = page.post("/api/photos?use=rope", content=data, headers={"X-File-Name": "lot.jpg"}).json()["id"]
    told = page.get(f"/api/photos/{photo}").json()
    while told["state"] in ("waiting", "working"):
        told = page.get(f"/api/photos/{photo}?seen={told['version']}").json()
    assert told["state"] == "done", told["says"]
    return photo


def test_the_lot_change_of_a_rope_is_found_and_shown_close_up(page, rope):
    piece = page.get(f"/api/photos/{rope}").json()["result"]["pieces"][0]
    (finding,) = [f for f in piece["findings"] if f["kind"] == "lot-change"]
    assert finding["role"] == "body"  # what the sample's name and truth say
    x, y = finding["pixel"]
    near = page.get(f"/api/photos/{rope}/close-up?x={x}&y={y}&side=300")
    assert near.headers["content-type"] == "image/jpeg"
    assert near.content.startswith(b"\xff\xd8\xff")
    assert page.get(f"/api/photos/{rope}/picture").content.startswith(b"\xff\xd8\xff")


def test_a_length_tells_places_and_beads_are_held_against_what_they_were_to_be(page, rope):
    wishes = {"motif": "chenille", "length": "18cm", "worked_to": "right", "body": "coral-dusk",
              "role": "D=teal-deep"}  # fmt: skip
    page.put(f"/api/photos/{rope}/rope-wishes", json=wishes).raise_for_status()
    told = page.get(f"/api/photos/{rope}").json()
    while told["state"] in ("waiting", "working"):
        told = page.get(f"/api/photos/{rope}?seen={told['version']}").json()
    piece = told["result"]["pieces"][0]
    assert " cm from the " in piece["findings"][0]["says"]
    assert "right" in piece["findings"][0]["says"]  # the end worked last, from which it is unpicked
    (against,) = piece["stock"]
    assert (against["role"], against["bead"]) == ("body", "Coral dusk")
    assert against["de00"] > 30  # a teal rope is no coral one
    assert against["sentence"][0].isupper()
    assert "no D is told apart, so Deep teal is held against nothing" in piece["notes"]
    assert "stock_file" not in json.dumps(told)


def test_another_of_a_rope_stands_for_its_own_roles(page, rope):
    photo = page.post(f"/api/photos/{rope}/another").json()["id"]
    told = page.get(f"/api/photos/{photo}").json()
    while told["state"] in ("waiting", "working"):
        told = page.get(f"/api/photos/{photo}?seen={told['version']}").json()
    assert told["state"] == "done", told["says"]
    assert told["result"]["pairs"]
    assert len({tuple(sorted(pair["stands_for"].items())) for pair in told["result"]["pairs"]}) == 1


def test_ropes_are_compared_and_kept(page, rope):
    answer = page.get(f"/api/ropes/compared?photo={rope}&photo={rope}").json()
    assert {one["role"] for one in answer["between"]} == {"accent", "body"}
    assert all(one["de00"] == 0 for one in answer["between"])
    assert page.get(f"/api/ropes/compared.html?photo={rope}").text.startswith("<!doctype html>")
    assert "lot-change" in page.get(f"/api/photos/{rope}/answer.csv").text
    assert page.get("/api/ropes/compared?photo=none").status_code == 404
    one = page.get(f"/api/ropes/compared?photo={rope}:1&photo={rope}:1").json()
    assert len(one["pieces"]) == 2
    for wrong, says in ((f"{rope}:2", "no rope 2"), (f"{rope}:x", "number")):
        refused = page.get(f"/api/ropes/compared?photo={wrong}")
        assert refused.status_code == 422
        assert says in refused.json()["error"]["says"]


def test_one_rope_in_two_photos_is_judged_by_both(page, rope):
    told = page.get(f"/api/ropes/compared?photo={rope}&photo={rope}&same_piece=true")
    assert told.status_code == 422  # the same photo twice is no second look
    assert "two photos of one rope" in told.json()["error"]["says"]
    data = (SAMPLES / "rope-teal-copper-lot-change.jpg").read_bytes() + b"\0"  # another file, the same rope
    again = page.post("/api/photos?use=rope", content=data, headers={"X-File-Name": "turned.jpg"}).json()[
        "id"
    ]
    seen = page.get(f"/api/photos/{again}").json()
    while seen["state"] in ("waiting", "working"):
        seen = page.get(f"/api/photos/{again}?seen={seen['version']}").json()
    (alone,) = [f for f in seen["result"]["pieces"][0]["findings"] if f["kind"] == "lot-change"]
    told = page.get(f"/api/ropes/compared?photo={rope}&photo={again}&same_piece=true").json()
    for piece in told["pieces"]:
        (both,) = [one for one in piece["findings"] if one["kind"] == "lot-change"]
        assert both["confidence"] >= alone["confidence"]  # two witnesses are surer than one


def test_a_tray_becomes_rows_that_can_be_undone(page, add, stock_file, whole_list):
    told = add((SAMPLES / "tray-of-beads.jpg").read_bytes(), "tray.jpg", "tray")
    assert told["state"] == "done", told["says"]
    answer = page.get(f"/api/photos/{told['id']}/answer.json").json()
    jsonschema.validate(answer, schemas.load("stock add"), cls=jsonschema.Draft202012Validator)
    named = {"size": "11/0", "piles": [{"number": 2, "id": "=cmd()", "name": "Sand <b>", "lot": "9"}]}
    made = page.post(f"/api/photos/{told['id']}/piles", json=named)
    assert made.json()["added"] == ["=cmd()"]
    (row,) = page.get("/api/stock?search=sand <b>").json()["rows"]
    assert row["name"] == "Sand <b>"
    assert row["id"] == "=cmd()"
    assert b"'=cmd()" in stock_file.read_bytes()  # harmless in a spreadsheet
    again = page.post(f"/api/photos/{told['id']}/piles", json=named)
    assert again.status_code == 422
    assert "is in" in again.json()["error"]["says"]
    page.post("/api/stock/undo")
    assert stock_file.read_bytes() == whole_list


def test_a_photo_without_a_rope_says_so(add):
    told = add((SAMPLES / "outfit-scarf.jpg").read_bytes(), "scarf.jpg", "tray")
    assert told["state"] in ("failed", "done")
    if told["state"] == "failed":
        assert told["says"].startswith("scarf.jpg")


def test_from_where_a_change_of_lot_counts_is_the_makers_to_say(page, rope):
    def judged(**wishes):
        page.put(f"/api/photos/{rope}/rope-wishes", json=wishes).raise_for_status()
        told = page.get(f"/api/photos/{rope}").json()
        while told["state"] in ("waiting", "working"):
            told = page.get(f"/api/photos/{rope}?seen={told['version']}").json()
        piece = told["result"]["pieces"][0]
        return piece["verdict"], [one for one in piece["findings"] if one["kind"] == "lot-change"]

    verdict, (change,) = judged(lot_tolerance=None, uneven_from=None)
    assert verdict == "uneven"
    # Above the very difference that was found it is small, or nothing to report.
    assert judged(uneven_from=change["de00"] + 0.5)[0] == "check"
    assert judged(lot_tolerance=change["de00"] + 0.5)[1] == []
    judged(lot_tolerance=None, uneven_from=None)


def test_without_a_sheet_there_is_no_gauge_to_keep(page, rope, stock_file):
    told = page.post(f"/api/ropes/{rope}/gauge", json={"rope": 1, "size": "11/0"})
    assert told.status_code == 422
    assert "lay the rope on a photo sheet" in told.json()["error"]["says"]
    assert not stock_file.with_name("analyser.toml").exists()


def test_the_gauge_of_a_rope_on_the_sheet_is_kept_beside_the_list(page, rope, stock_file):
    entry = page.app.state.shared.photos.get(rope)
    before, piece = entry.wishes, entry.result["answer"]["pieces"][0]
    # How well a sheet tells it, tests/journeys/test_sheet.py measures.
    piece["gauge"] = {"rounds": 36.96, "in_mm": 50.0, "uncertainty": 0.5}
    entry.wishes = {**before, "motif": "chenille"}
    try:
        told = page.post(f"/api/ropes/{rope}/gauge", json={"rope": 1, "size": "8/0"}).json()
        assert told == {"file": "analyser.toml", "key": "chenille 8/0 round", "gauge": "37 rounds in 50mm"}
        kept = stock_file.with_name("analyser.toml").read_text(encoding="utf-8")
        assert '"chenille 8/0 round" = "37 rounds in 50mm"' in kept
    finally:
        entry.wishes, piece["gauge"] = before, None
        stock_file.with_name("analyser.toml").unlink(missing_ok=True)
