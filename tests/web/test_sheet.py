"""The photo sheet over the API: what the command line writes, and a paper that is learnt."""

from __future__ import annotations

import io
from pathlib import Path

import pytest
from click.testing import CliRunner
from PIL import Image

from analyser.cli.main import command


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
