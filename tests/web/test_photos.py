"""From a photo to pairs, over the API; the answers are those of the verbs."""

from __future__ import annotations

import csv
import io
import json
import re
import time
import zlib
from pathlib import Path

import jsonschema
import pytest
from click.testing import CliRunner

from analyser.cli.main import command
from analyser.report import schemas
from analyser.web.photo_store import DISK_MB, PHOTOS_AT_MOST, FullError, PhotoStore

SAMPLES = Path(__file__).resolve().parents[2] / "samples"


def test_the_answer_is_that_of_the_verb(page, scarf, stock_file):
    made = CliRunner().invoke(
        command,
        ["colourway", str(SAMPLES / "outfit-scarf.jpg"), "--stock", str(stock_file), "--length", "18cm",
         "--json", "-"],
    )  # fmt: skip
    verb = json.loads(made.stdout)
    own = page.get(f"/api/photos/{scarf}/answer.json").json()
    jsonschema.validate(own, schemas.load("colourway"), cls=jsonschema.Draft202012Validator)
    for field in ("calibration", "colours", "background", "matches", "mixes"):
        assert own[field] == verb[field]
    own_pairs = [{k: v for k, v in pair.items() if k != "counted"} for pair in own["pairs"]]
    assert own_pairs == verb["pairs"]


def test_what_is_kept_is_a_page_a_table_and_data(page, scarf):
    html = page.get(f"/api/photos/{scarf}/answer.html")
    assert html.headers["content-disposition"].endswith("scarf-colourway.html")
    assert html.text.startswith("<!doctype html>")
    assert "sandbox" in html.headers["content-security-policy"]
    rows = list(csv.DictReader(io.StringIO(page.get(f"/api/photos/{scarf}/answer.csv").text)))
    answer = page.get(f"/api/photos/{scarf}/answer.json").json()
    assert [row["accent"] for row in rows] == [pair["accent"] for pair in answer["pairs"]]
    assert [float(row["de00"]) for row in rows] == [pair["de00"] for pair in answer["pairs"]]


def change(page, photo, **wishes):
    held = page.get(f"/api/photos/{photo}").json()["wishes"]
    return page.put(f"/api/photos/{photo}/wishes", json={**held, **wishes})


def test_length_motif_and_colours_change_the_answer(page, scarf):
    longer = change(page, scarf, length="45cm").json()["result"]
    shorter = change(page, scarf, length="18cm").json()["result"]
    assert longer["pairs"][0]["needs"]["body"] > 2 * shorter["pairs"][0]["needs"]["body"]
    other = change(page, scarf, motif="herringbone", colours=5).json()["result"]
    assert len(other["colours"]) == 5
    assert other["options"]["motif"] == "herringbone"
    change(page, scarf, motif="chenille", colours=None)


def test_a_bead_or_a_colour_that_stays_is_in_every_pair(page, scarf):
    result = change(page, scarf, keep_bead="teal-deep").json()["result"]
    assert result["pairs"]
    assert all("teal-deep" in (pair["accent"], pair["body"]) for pair in result["pairs"])
    colour = result["colours"][3]
    text = "lab:" + ",".join(str(v) for v in colour["lab"])
    result = change(page, scarf, keep_bead=None, keep_colour=text).json()["result"]
    assert result["pairs"]
    assert all(3 in pair["stands_for"].values() for pair in result["pairs"])
    change(page, scarf, keep_colour=None)


@pytest.mark.parametrize("stays", ["teal-deep", "#c23b4b"])
def test_what_stays_stays_on_the_command_line_too(page, scarf, stock_file, stays):
    made = CliRunner().invoke(
        command,
        ["colourway", str(SAMPLES / "outfit-scarf.jpg"), "--stock", str(stock_file), "--length", "18cm",
         "--stays", stays, "--json", "-"],
    )  # fmt: skip
    verb = json.loads(made.stdout)["pairs"]
    wish = {"keep_colour": stays} if stays.startswith("#") else {"keep_bead": stays}
    own = change(page, scarf, **wish).json()["result"]["pairs"]
    assert [(one["accent"], one["body"]) for one in own] == [(one["accent"], one["body"]) for one in verb]
    assert verb
    change(page, scarf, keep_bead=None, keep_colour=None)


def test_wishes_that_do_not_fit_are_told_and_change_nothing(page, scarf):
    before = page.get(f"/api/photos/{scarf}").json()
    for wish, says in (
        ({"length": "long"}, "long"),
        ({"motif": "/etc/passwd"}, "there is no motif"),
        ({"size": "huge"}, "huge"),
        ({"keep_bead": "nobody"}, "nobody"),
        ({"worn_on": "=1+1"}, "=1+1"),
        ({"focus": "1,2,3"}, "a box is"),
    ):
        told = change(page, scarf, **wish)
        assert told.status_code == 422, wish
        assert says in told.json()["error"]["says"]
        assert "\n" not in told.json()["error"]["says"]
    after = page.get(f"/api/photos/{scarf}").json()
    assert after["wishes"] == before["wishes"]
    assert after["result"] == before["result"]


def test_a_touched_spot_is_the_colour_there(page, scarf):
    colours = page.get(f"/api/photos/{scarf}").json()["result"]["colours"]
    x, y = colours[0]["pixel"]  # in the middle of a patch of it
    spot = page.get(f"/api/photos/{scarf}/colour?x={x}&y={y}").json()
    off = sum((a - b) ** 2 for a, b in zip(spot["colour"]["lab"], colours[0]["lab"], strict=True)) ** 0.5
    assert off < 6  # of one patch, not of its neighbours, which are 20 and more away
    assert len(spot["beads"]) == 3
    assert page.get(f"/api/photos/{scarf}/colour?x=-900&y=5").status_code == 422


def png_of_one_bit(side: int) -> bytes:
    def chunk(kind: bytes, data: bytes) -> bytes:
        return len(data).to_bytes(4, "big") + kind + data + zlib.crc32(kind + data).to_bytes(4, "big")

    head = side.to_bytes(4, "big") * 2 + bytes([1, 0, 0, 0, 0])
    pixels = zlib.compress(bytes((side + 7) // 8 + 1) * side)
    sign = b"\x89PNG\r\n\x1a\n"
    return sign + chunk(b"IHDR", head) + chunk(b"IDAT", pixels) + chunk(b"IEND", b"")


def heic_half() -> bytes:
    data = (SAMPLES / "harbour-tiles.heic").read_bytes()
    return data[: len(data) // 2]


@pytest.mark.parametrize(
    ("data", "name", "says"),
    [
        (png_of_one_bit(10_000), "bomb.png", "10000 x 10000 pixels"),
        (heic_half(), "half.heic", "cut short or damaged"),
        (b"\xff\xd8\xff" + bytes(400), "noise.jpg", "noise.jpg"),
    ],
    ids=["bomb", "half a HEIC", "no JPEG"],
)
@pytest.mark.parametrize("use", ["colourway", "rope", "tray"])
def test_photos_that_cannot_be_used_are_told_in_a_line(add, data, name, says, use):
    began = time.monotonic()
    told = add(data, name, use)
    assert told["state"] == "failed"
    assert told["says"].startswith(name)  # the file, not the folder it lies in
    assert says in told["says"]
    assert "\n" not in told["says"]
    assert time.monotonic() - began < 20


@pytest.mark.parametrize("data", [b"GIF89a" + bytes(50), b"<html>", b"%PDF-1.7", b"MZ" + bytes(90)])
def test_another_kind_of_file_is_refused_whatever_it_is_called(page, data):
    told = page.post("/api/photos", content=data, headers={"X-File-Name": "photo.jpg"})
    assert told.status_code == 415
    assert told.json()["error"]["says"].startswith("photo.jpg: is ")


def test_an_empty_file_is_refused(page):
    assert "is empty" in page.post("/api/photos", content=b"").json()["error"]["says"]


def test_a_photo_can_be_stopped_begun_again_and_forgotten(page):
    data = (SAMPLES / "rope-plum-mint-stray-beads.jpg").read_bytes()
    photo = page.post("/api/photos?use=rope", content=data, headers={"X-File-Name": "r.jpg"}).json()["id"]
    page.post(f"/api/photos/{photo}/stop")
    told = page.get(f"/api/photos/{photo}").json()
    while told["state"] in ("waiting", "working"):
        told = page.get(f"/api/photos/{photo}?seen={told['version']}").json()
    assert told["state"] == "cancelled"
    assert page.post(f"/api/photos/{photo}/again").json()["state"] in ("waiting", "working")
    assert page.delete(f"/api/photos/{photo}").json() == {"forgotten": 1}
    assert page.get(f"/api/photos/{photo}").status_code == 404
    assert photo not in [one["id"] for one in page.get("/api/photos").json()["photos"]]


def test_files_on_their_way_count_as_photos_do(tmp_path):
    store = PhotoStore(None, tmp_path / "stock.csv")
    try:
        paths = [store.place("photo.jpg") for _ in range(PHOTOS_AT_MOST)]
        with pytest.raises(FullError, match="forget some"):
            store.place("photo.jpg")
        store.drop(paths[0])
        again = store.place("photo.jpg")
        with pytest.raises(FullError, match="forget some"):
            store.grew(again, (DISK_MB + 1) * 2**20)
    finally:
        store.close()


def test_a_mask_says_which_part_is_meant_as_on_the_command_line(page, scarf, stock_file, tmp_path):
    from PIL import Image

    with Image.open(SAMPLES / "outfit-scarf.jpg") as photo:
        mask = Image.new("L", photo.size)
        mask.paste(255, (0, 0, photo.width // 2, photo.height))
    path = tmp_path / "left half.png"
    mask.save(path)
    told = page.put(f"/api/photos/{scarf}/mask", content=path.read_bytes()).json()
    made = CliRunner().invoke(
        command,
        ["colourway", str(SAMPLES / "outfit-scarf.jpg"), "--stock", str(stock_file), "--length", "18cm",
         "--mask", str(path), "--json", "-"],
    )  # fmt: skip
    own = page.get(f"/api/photos/{scarf}/answer.json").json()
    assert own["colours"] == json.loads(made.stdout)["colours"]
    assert re.fullmatch("[0-9a-f]{16}", told["wishes"]["mask"])
    small = io.BytesIO()
    Image.new("L", (10, 40), 255).save(small, "PNG")
    refused = page.put(f"/api/photos/{scarf}/mask", content=small.getvalue())
    assert refused.status_code == 422
    assert "10 x 40" in refused.json()["error"]["says"]
    assert page.put(f"/api/photos/{scarf}/mask", content=b"no picture").status_code == 415
    assert page.get(f"/api/photos/{scarf}").json()["wishes"]["mask"] == told["wishes"]["mask"]
    whole = change(page, scarf, mask=None).json()["result"]
    assert whole["colours"] != told["result"]["colours"]


def test_the_corrected_photo_is_what_the_command_line_saves(page, scarf, stock_file, tmp_path):
    out = tmp_path / "shop.jpg"
    CliRunner().invoke(
        command, ["palette", str(SAMPLES / "outfit-scarf.jpg"), "--corrected", str(out), "--quiet"]
    )
    got = page.get(f"/api/photos/{scarf}/corrected.jpg")
    assert got.headers["content-disposition"].endswith("scarf-corrected.jpg")
    assert got.content == out.read_bytes()


def test_a_fade_of_so_many_beads_between_two_colours_of_the_photo(page, scarf):
    told = change(page, scarf, plan="fade", plan_steps=3, plan_between="1-2").json()["result"]
    assert told["planned"] is None or len(told["planned"]["series"]) == 3
    assert change(page, scarf, plan_between="2-2").status_code == 422
    assert change(page, scarf, plan_between="1-24").status_code == 422
    change(page, scarf, plan=None, plan_steps=None, plan_between=None)
