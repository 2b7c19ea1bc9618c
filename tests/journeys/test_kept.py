"""A colourway kept, found by its bead, marked, deleted; as a maker does it."""

from __future__ import annotations

import io
from pathlib import Path

import pytest
from PIL import Image

from analyser.motif import parsing


@pytest.fixture
def stock(demo_stock, tmp_path):
    path = tmp_path / "beads.csv"
    path.write_bytes(demo_stock.read_bytes())
    return path


def photo_with_a_place(samples: Path, tmp_path: Path) -> Path:
    """The scarf, with the EXIF a telephone writes: a maker's name and where it was taken."""
    picture = Image.open(samples / "outfit-scarf.jpg")
    exif = Image.Exif()
    exif[0x010F] = "SecretCamera"
    exif.get_ifd(0x8825).update({1: "N", 2: (48.0, 51.0, 29.0), 3: "E", 4: (2.0, 17.0, 40.0)})
    path = tmp_path / "scarf.jpg"
    picture.save(path, exif=exif, icc_profile=picture.info["icc_profile"])
    assert b"SecretCamera" in path.read_bytes()
    return path


def test_from_keeping_to_the_bin(analyser, samples, stock, tmp_path):
    photo = photo_with_a_place(samples, tmp_path)
    keep = ("colourway", photo, "--stock", stock, "--length", "18cm", "--keep", "Quay bracelet")
    told = analyser(*keep, "--note", "for the shop", "--json", "-").answer("colourway")
    file = Path(told["kept"])
    assert file == tmp_path / "beads-kept" / "quay-bracelet.toml"
    picture = file.with_suffix(".jpg").read_bytes()
    assert b"Exif" not in picture
    assert b"SecretCamera" not in picture
    assert max(Image.open(io.BytesIO(picture)).size) == 640

    best = told["pairs"][0]
    shown = analyser("kept", "show", "quay bracelet", "--stock", stock, "--json", "-").answer("kept show")
    one = shown["colourway"]
    assert {role: bead["id"] for role, bead in one["beads"].items()} == {
        role: best[role] for role in ("accent", "body")
    }
    assert {role: bead["needs"] for role, bead in one["beads"].items()} == best["needs"]
    assert [c["lab"] for c in one["colours"]] == [c["lab"] for c in told["colours"]]
    assert one["note"] == "for the shop"
    assert one["photo"]["sha256"] == told["photo"]["sha256"]

    again = analyser(*keep)
    assert again.code == 2
    assert "kept already" in again.err
    assert len(again.err.splitlines()) == 1

    def listed(*more):
        return analyser("kept", "list", "--stock", stock, *more, "--json", "-").answer("kept list")

    assert [c["name"] for c in listed("--with", best["accent"])["colourways"]] == ["Quay bracelet"]
    assert listed("--with", "no-such-bead")["colourways"] == []
    assert "Quay bracelet" in analyser("kept", "list", "--stock", stock).out
    again = analyser(
        "kept", "again", "Quay bracelet", "--length", "45cm", "--keep", "Quay necklace", "--stock", stock,
        "--json", "-",
    ).answer("kept again")  # fmt: skip
    assert Path(again["kept"]).is_file()
    assert {c["name"] for c in listed()["colourways"]} == {"Quay bracelet", "Quay necklace"}
    both = (
        "Quay bracelet",
        "Quay necklace",
        "--stock",
        stock,
        "--out",
        tmp_path / "both.html",
        "--json",
        "-",
    )
    told = analyser("kept", "show", *both).answer("kept show")
    assert [c["length_mm"] for c in told["colourways"]] == [180.0, 450.0]
    assert "Two colourways side by side" in Path(told["page"]).read_text(encoding="utf-8")
    analyser("kept", "delete", "Quay necklace", "--stock", stock)
    marked = analyser("kept", "mark", "Quay bracelet", "woven", "--stock", stock, "--json", "-")
    assert marked.answer("kept mark")["colourway"]["state"] == "woven"
    gone = analyser("kept", "delete", "Quay bracelet", "--stock", stock, "--json", "-").answer("kept delete")
    assert Path(gone["moved_to"]).is_file()
    assert listed()["colourways"] == []


def test_another_than_the_first_pair_is_kept(analyser, samples, stock):
    photo = samples / "outfit-scarf.jpg"
    keep = ("colourway", photo, "--stock", stock, "--top", "2", "--keep", "Second", "--json", "-")
    told = analyser(*keep, "--keep-pair", "2").answer("colourway")
    shown = analyser("kept", "show", "Second", "--stock", stock, "--json", "-").answer("kept show")
    assert shown["colourway"]["beads"]["accent"]["id"] == told["pairs"][1]["accent"]
    ended = analyser(
        "colourway", photo, "--stock", stock, "--top", "2", "--keep", "Third", "--keep-pair", "3"
    )
    assert ended.code == 2
    assert "there is no pair 3" in ended.err


def test_a_motif_of_ones_own_is_kept_with_it(analyser, samples, stock, tmp_path):
    mine = tmp_path / "mine.toml"
    text = parsing.shipped_text("chenille").replace('name = "chenille"', 'name = "my-rope"')
    mine.write_text(text, encoding="utf-8")
    photo = samples / "outfit-scarf.jpg"
    kept = analyser(
        "colourway", photo, "--stock", stock, "--motif", mine, "--length", "18cm", "--keep", "Mine"
    )
    assert kept.code == 0, kept.err
    mine.unlink()
    again = analyser("kept", "again", "Mine", "--length", "45cm", "--stock", stock, "--json", "-")
    assert again.answer("kept again")["motif"] == "my-rope"


def test_one_that_is_not_there_is_told_with_those_that_are(analyser, stock):
    ended = analyser("kept", "show", "nothing", "--stock", stock)
    assert ended.code == 2
    assert "no colourway 'nothing' is kept" in ended.err


def test_kits_of_kept_colourways_are_counted_carded_and_booked_out(analyser, samples, stock, tmp_path):
    keep = ("colourway", samples / "outfit-scarf.jpg", "--stock", stock, "--top", "2", "--length", "18cm")
    analyser(*keep, "--keep", "Quay")
    analyser("kept", "again", "Quay", "--length", "45cm", "--keep", "Quay necklace", "--stock", stock)
    kits = ("--kept", "quay x2", "--kept", "Quay necklace")
    cards, order = tmp_path / "cards.html", tmp_path / "order.csv"
    told = analyser(
        "count", *kits, "--stock", stock, "--cards", cards, "--order", order, "--json", "-"
    ).answer("count")  # fmt: skip
    assert [(way["name"], way["kits"], way["length_mm"]) for way in told["colourways"]] == [
        ("Quay", 2, 180.0), ("Quay necklace", 1, 450.0)
    ]  # fmt: skip
    assert cards.read_text(encoding="utf-8").count('<article class="card"') == 3
    assert "clasp" in order.read_text(encoding="utf-8")
    before = stock.read_bytes()
    used = analyser("stock", "use", stock, *kits, "--json", "-").answer("stock use")
    booked = {(line["id"], line["lot"]): line["beads"] for line in used["taken"]}
    asked = {}
    for card in told["cards"]:
        for portion in card["portions"]:
            asked[portion["id"], portion["lot"]] = (
                asked.get((portion["id"], portion["lot"]), 0) + portion["beads"]
            )
    assert booked == asked
    assert analyser("stock", "undo", stock).code == 0
    assert stock.read_bytes() == before
    both = analyser("count", *kits, "--stock", stock, "--kits", "3")
    assert (both.code, "leave the others out" in both.err) == (2, True)
