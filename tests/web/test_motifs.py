"""A motif of the maker's own on the page: its fault with the line, its drawing, saved and woven."""

from __future__ import annotations

import shutil

import pytest

from analyser.motif import own_motifs, parsing

TEXT = parsing.shipped_text("chenille").replace('name = "chenille"', 'name = "my-rope"')


@pytest.fixture
def folder(stock_file):
    yield (there := own_motifs.folder_of(stock_file))
    shutil.rmtree(there, ignore_errors=True)


def test_what_is_written_is_drawn_or_its_fault_told_with_the_line(page):
    drawn = page.post("/api/motifs/drawn", json={"text": TEXT}).json()
    assert drawn["fault"] is None
    assert drawn["motif"]["roles"] == ["accent", "body"]
    assert drawn["chart"].startswith("<svg")
    assert drawn["rope"].startswith("data:image/jpeg")
    wrong = TEXT.replace('beads = "BAB"', 'beads = "BAB CAC"')
    line = wrong.splitlines().index(next(one for one in wrong.splitlines() if "BAB CAC" in one)) + 1
    fault = page.post("/api/motifs/drawn", json={"text": wrong}).json()["fault"]
    assert (fault["line"], f"line {line}" in fault["says"]) == (line, True)
    broken = TEXT.replace('name = "my-rope"', 'name = "my-rope')
    line = broken.splitlines().index('name = "my-rope') + 1
    assert page.post("/api/motifs/drawn", json={"text": broken}).json()["fault"]["line"] == line


def test_one_that_is_saved_is_woven_everywhere_and_replaced_only_on_purpose(page, folder):
    assert page.post("/api/motifs", json={"text": TEXT}).json() == {
        "name": "my-rope", "file": f"{folder.name}/my-rope.toml",
    }  # fmt: skip
    assert page.get("/api/motifs").json()["own"] == ["my-rope"]
    assert page.get("/api/motifs/my-rope").json()["text"] == TEXT
    assert 'value="my-rope"' in page.get("/pair").text
    wishes = {"accent": "coral-dusk", "body": "teal-deep", "length": "18cm"}
    mine = page.get("/api/pair", params={**wishes, "motif": "my-rope"}).json()["pair"]
    assert mine["counted"]["beads"] == page.get("/api/pair", params=wishes).json()["pair"]["counted"]["beads"]
    picture = page.get("/api/rope", params={"accent": "#aa2222", "body": "#22aa22", "motif": "my-rope"})
    assert picture.headers["cache-control"] == "no-cache"  # it may be changed

    other = TEXT.replace('beads = "BAB"', 'beads = "ABA"')
    refused = page.post("/api/motifs", json={"text": other})
    assert (refused.status_code, refused.json()["error"]["kind"]) == (409, "there")
    page.post("/api/motifs", json={"text": other, "replace": True}).raise_for_status()
    assert (folder / "bin" / "my-rope.toml").read_text(encoding="utf-8") == TEXT
    changed = page.get("/api/rope", params={"accent": "#aa2222", "body": "#22aa22", "motif": "my-rope"})
    assert changed.content != picture.content


@pytest.mark.parametrize("name", ["nothing", "..%2Fstock", "%2Fetc%2Fpasswd"])
def test_only_motifs_are_reached(page, name):
    assert page.get(f"/api/motifs/{name}").status_code == 404
