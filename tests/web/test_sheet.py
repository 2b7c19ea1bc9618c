"""The photo sheet over the API: what the command line writes, and a paper that is learnt."""

from __future__ import annotations

import io
from pathlib import Path

import pytest
from click.testing import CliRunner
from fastapi.testclient import TestClient
from PIL import Image

from analyser.cli.main import command
from analyser.web.app import make_app
from synthetic.sheets import Scene, draw

SAMPLES_PLAIN = Path(__file__).resolve().parents[2] / "samples" / "outfit-scarf.jpg"


@pytest.mark.parametrize("kind", ["pdf", "png"])
def test_the_sheet_is_the_one_that_the_command_line_writes(page, tmp_path: Path, kind: str):
    path = tmp_path / f"sheet.{kind}"
    chosen = ["--layout", "heaps", "--paper", "letter", "--name", "fern"]
    assert CliRunner().invoke(command, ["sheet", *chosen, "--out", str(path), "--quiet"]).exit_code == 0
    got = page.get(f"/api/sheet/photo-sheet.{kind}?layout=heaps&paper=letter&name=fern")
    assert got.headers["content-disposition"].endswith(f"photo-sheet-heaps.{kind}")
    assert got.content == path.read_bytes()


def test_a_sheet_of_no_such_name_is_refused_and_a_photo_without_a_sheet_teaches_nothing(page):
    assert page.get("/api/sheet/photo-sheet.pdf?name=nobody").status_code == 422
    plain = io.BytesIO()
    Image.new("RGB", (600, 400), (90, 120, 110)).save(plain, "PNG")
    kept = len(page.get("/api/photos").json()["photos"])
    told = page.post("/api/sheet/paper", content=plain.getvalue(), headers={"X-File-Name": "table.png"})
    assert told.status_code == 422
    assert told.json()["error"]["says"].startswith("table.png")
    assert len(page.get("/api/photos").json()["photos"]) == kept  # nothing stays of it


def test_a_paper_is_learnt_and_photos_on_it_are_answered_anew(tmp_path: Path, monkeypatch, stock_file, keys):
    """What the drawn paper reflects is known; before it is learnt a photo on it knows its light less well."""
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path))  # where a learnt paper is kept
    chips = ((35.0, 40.0, 20.0), (60.0, -30.0, 5.0), (45.0, 5.0, -40.0))

    def photo(**scene) -> bytes:
        drawn = draw(Scene(width=900, height=1200, **scene))
        coded = io.BytesIO()
        Image.fromarray(drawn.pixels).save(coded, "JPEG", quality=92)
        return coded.getvalue()

    def rested(photo: str) -> dict:
        told = page.get(f"/api/photos/{photo}").json()
        while told["state"] in ("waiting", "working"):
            told = page.get(f"/api/photos/{photo}?seen={told['version']}").json()
        assert told["state"] == "done", told["says"]
        return told["result"]["calibration"]

    app = make_app(stock_file, keys=keys)
    with TestClient(app, base_url="http://127.0.0.1", headers={"X-Page-Token": keys.page}) as page:
        ids = [
            page.post("/api/photos", content=data, headers={"X-File-Name": name}).json()["id"]
            for name, data in (("chips.jpg", photo(chips=chips)), ("plain.jpg", SAMPLES_PLAIN.read_bytes()))
        ]
        before = [rested(one) for one in ids]
        assert before[0]["sheet"]["name"] == "fern"
        learnt = page.post(
            "/api/sheet/paper", content=photo(white_card=0.9), headers={"X-File-Name": "card.jpg"}
        ).json()
        assert learnt["learnt"]["name"] == "fern"
        assert learnt["learnt"]["white_linear"] == pytest.approx(list(Scene().paper_linear), abs=0.02)
        assert learnt["answered_anew"] == ["chips.jpg"]
        after = [rested(one) for one in ids]
    assert after[0]["uncertainty_de00"] < before[0]["uncertainty_de00"]
    assert after[1] == before[1]
