"""Kept colourways on the page: a pair kept from a photo, found by its bead, marked, laid in the bin."""

from __future__ import annotations

import shutil

import pytest

from analyser.piece import kept


@pytest.fixture
def folder(stock_file):
    yield (there := kept.folder_of(stock_file))
    shutil.rmtree(there, ignore_errors=True)


def test_a_pair_is_kept_as_it_is_shown(page, scarf, folder):
    told = page.post("/api/kept", json={"photo": scarf, "pair": 2, "name": "Quay", "note": "for M"})
    assert told.status_code == 201, told.text
    assert told.json() == {"id": "quay", "file": f"{folder.name}/quay.toml"}
    pair = page.get(f"/api/photos/{scarf}").json()["result"]["pairs"][1]
    one = kept.read(folder / "quay.toml")
    assert {role: bead.id for role, bead in one.beads.items()} == {
        "accent": pair["accent"],
        "body": pair["body"],
    }
    assert one.note == "for M"
    assert page.get("/api/kept/quay/picture").content.startswith(b"\xff\xd8")

    again = page.post("/api/kept", json={"photo": scarf, "name": "quay"})
    assert again.status_code == 422
    assert "kept already" in again.json()["error"]["says"]

    shown = page.get("/api/kept", params={"bead": pair["accent"]}).json()
    assert [c["name"] for c in shown["colourways"]] == ["Quay"]
    assert shown["colourways"][0]["picture"] is True
    assert shown["colourways"][0]["beads"]["accent"]["css"]
    assert page.get("/api/kept", params={"bead": "no-such"}).json()["colourways"] == []

    marked = page.put("/api/kept/quay/state", json={"state": "sold"})
    assert marked.json()["state"] == kept.read(folder / "quay.toml").state == "sold"
    gone = page.delete("/api/kept/quay")
    assert gone.json() == {"moved_to": f"{folder.name}/bin/quay.toml"}
    assert page.get("/api/kept").json()["colourways"] == []


@pytest.mark.parametrize("name", ["nothing", "..%2F..%2Fstock", "%2Fetc%2Fpasswd", "%2E"])
def test_only_what_is_kept_is_reached(page, folder, name):
    assert page.get(f"/api/kept/{name}/picture").status_code in (404, 422)
    assert page.delete(f"/api/kept/{name}").status_code in (404, 405, 422)


def test_a_file_that_cannot_be_read_is_told_without_this_machines_folders(page, folder):
    folder.mkdir()
    (folder / "broken.toml").write_text("schema = 2\n")
    told = page.get("/api/kept").json()
    assert told["faulty"] == ["broken.toml: schema must be 1, got 2"]


def test_the_page_names_the_jobs(page):
    assert 'href="/kept"' in page.get("/").text
    assert "Kept colourways" in page.get("/kept").text
