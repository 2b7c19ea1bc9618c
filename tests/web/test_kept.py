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


def test_end_beads_are_kept_with_the_pair_where_they_are_proposed(page, scarf, folder):
    end = page.get(f"/api/photos/{scarf}").json()["result"]["pairs"][0]["company"]["end_bead"]
    page.post("/api/kept", json={"photo": scarf, "name": "With ends", "company": ["end"]}).raise_for_status()
    kept_end = kept.read(folder / "with-ends.toml").beads["end"]
    assert (kept_end.id, kept_end.needs) == (end["id"], 2)
    picture = page.get("/api/rope", params={
        "accent": "#aa2222", "body": "#22aa22", "end": "#2222aa", "end_size": end["size"],
    })  # fmt: skip
    assert picture.content != page.get("/api/rope", params={"accent": "#aa2222", "body": "#22aa22"}).content


def test_one_is_counted_and_kept_in_another_length_and_the_first_stays(page, scarf, folder):
    page.post("/api/kept", json={"photo": scarf, "name": "Quay"}).raise_for_status()
    first = kept.read(folder / "quay.toml")
    short, long = (
        page.get("/api/kept/quay/count", params={"length": length}).json() for length in ("18cm", "45cm")
    )
    assert short["with_spare"] == {role: bead.needs for role, bead in first.beads.items()}
    assert long["with_spare"]["body"] > 2 * short["with_spare"]["body"]
    told = page.post("/api/kept/quay/again", json={"name": "Quay necklace", "length": "45cm"})
    assert told.status_code == 201, told.text
    necklace = kept.read(folder / "quay-necklace.toml")
    assert necklace.length_mm == 450.0
    assert {role: bead.needs for role, bead in necklace.beads.items()} == long["with_spare"]
    assert kept.read(folder / "quay.toml") == first
    assert page.get("/api/kept/quay-necklace/picture").content == page.get("/api/kept/quay/picture").content
    taken = page.post("/api/kept/quay/again", json={"name": "quay", "length": "45cm"})
    assert "kept already" in taken.json()["error"]["says"]
    assert str(folder.parent) not in taken.text
    two = page.get("/api/kept/quay/count", params={"length": "18cm", "neck": "40cm"})
    assert (two.status_code, "one length" in two.text) == (422, True)


def test_several_are_one_sheet_without_script_or_network(page, scarf, folder):
    for pair, name in ((1, "One"), (2, "Two <b>")):
        page.post("/api/kept", json={"photo": scarf, "pair": pair, "name": name}).raise_for_status()
    sheet = page.get("/api/kept/sheet", params={"name": ["one", "two-b"]})
    assert sheet.headers["content-type"].startswith("text/html")
    assert sheet.headers["content-disposition"].startswith("inline")
    text = sheet.text
    assert "Two colourways side by side" in text
    assert "Two &lt;b&gt;" in text
    assert "<script" not in text
    assert "http" not in text.replace("http-equiv", "")
    assert "Two &lt;b&gt;" not in page.get("/api/kept/sheet", params={"name": "one"}).text
    assert page.get("/api/kept/sheet", params={"name": "three"}).status_code == 404


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
    assert "Pack kits" in page.get("/pack").text
