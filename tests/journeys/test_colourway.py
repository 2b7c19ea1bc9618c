"""The main job as a maker runs it: from a photo and a stock to pairs and a page."""

from __future__ import annotations

import io
import json
import re

import numpy as np
import pytest
from PIL import Image, ImageCms

from analyser.colour.difference import delta_e_2000


def test_the_main_job_leaves_a_page_to_open(analyser, samples, demo_stock, tmp_path):
    ended = analyser(
        "colourway",
        samples / "outfit-scarf.jpg",
        "--stock",
        demo_stock,
        "--length",
        "18cm",
        "--out",
        tmp_path,
    )
    assert ended.code == 0, ended.err
    assert " on " in ended.out
    page = tmp_path / "outfit-scarf-colourway.html"
    assert str(page) in ended.out
    text = page.read_text(encoding="utf-8")
    # Works from disk: nothing is fetched.
    assert not re.search(r"""(?:src|href)=["']https?:""", text)


@pytest.mark.parametrize("photo", ["outfit-scarf.jpg", "outfit-scarf-with-cards.jpg"])
def test_the_answer_comes_first_and_is_short(analyser, samples, demo_stock, photo):
    """Three pairs, one line of doubt, one of what else there is: 60 words beside names and figures."""
    arguments = ("colourway", samples / photo, "--stock", demo_stock, "--length", "18cm")
    ended = analyser(*arguments)
    told = analyser(*arguments, "--json", "-").answer("colourway")
    lines = ended.out.strip().splitlines()
    assert len(lines) == 5
    text = ended.out + ended.err
    for bead in (bead for pair in told["pairs"] for bead in pair["beads"].values()):
        text = text.replace(bead["name"], " ")
    for number, (line, pair) in enumerate(zip(lines[:3], told["pairs"], strict=False), start=1):
        accent, body = (pair["beads"][role]["name"] for role in ("accent", "body"))
        assert line == f"{number}. {accent} on {body}: {pair['says']}"
    assert len(re.findall(r"[A-Za-z][A-Za-z'-]*", text)) <= 60
    whole = analyser(*arguments, "--verbose")
    for pair in told["pairs"]:
        for reason in pair["reasons"]:
            assert reason in whole.out


def test_the_answer_keeps_the_schema(analyser, samples, demo_stock):
    told = analyser(
        "colourway",
        samples / "outfit-scarf.jpg",
        "--stock",
        demo_stock,
        "--length",
        "18cm",
        "--colours",
        "8",
        "--worn-on",
        "#8fa1b6",
        "--thread",
        "#222222",
        "--json",
        "-",
    ).answer("colourway")
    assert len(told["colours"]) == 8
    assert len(told["matches"]) == 8
    background = told["background"]["share"] if told["background"] else 0.0
    assert sum(colour["share"] for colour in told["colours"]) + background == pytest.approx(1.0, abs=1e-6)
    assert 1 <= len(told["pairs"]) <= 5
    for pair in told["pairs"]:
        accent, body = (np.array(pair[f"{role}_lab"]) for role in ("accent", "body"))
        # JSON carries ten digits: what is worked out again from them agrees to about 1e-8.
        assert pair["de00"] == pytest.approx(float(delta_e_2000(accent, body)), abs=1e-7)
        assert pair["delta_l"] == pytest.approx(accent[0] - body[0])
        # Hand count, common practice, no source: chenille takes two body beads for each accent, more or less.
        assert 1.4 < pair["needs"]["body"] / pair["needs"]["accent"] < 2.1
        assert pair["reasons"]


def test_the_crimson_buttons_are_found(analyser, samples):
    """Half a percent of the picture, and what the maker wants; truth in samples/truth.json."""
    truth = json.loads((samples / "truth.json").read_text())["photos"]["outfit-scarf.jpg"]
    buttons = next(material for material in truth["materials"] if material["name"] == "accent")
    told = analyser("palette", samples / "outfit-scarf.jpg", "--colours", "8", "--json", "-").answer(
        "palette"
    )
    off = [float(delta_e_2000(colour["lab"], buttons["seen_lab"])) for colour in told["colours"]]
    assert min(off) < 6


def test_a_class_of_colourways_is_makeable_together(analyser, samples, demo_stock):
    told = analyser(
        "colourway",
        samples / "harbour-tiles.heic",
        "--stock",
        demo_stock,
        "--length",
        "18cm",
        "--collection",
        "4",
        "--json",
        "-",
    ).answer("colourway")
    assert 2 <= len(told["pairs"]) <= 4
    assert told["together"] in told["notes"]
    assert "colourways" in told["together"]


def test_each_colourway_of_a_class_is_named(analyser, samples, demo_stock):
    photo = samples / "outfit-scarf-with-cards.jpg"
    wish = ("colourway", photo, "--stock", demo_stock, "--length", "18cm", "--collection", "4")
    lines = analyser(*wish).out.strip().splitlines()
    assert [line[:3] for line in lines[:4]] == ["1. ", "2. ", "3. ", "4. "]
    assert lines[4].startswith("4 of 4 colourways, ")


def test_display_p3_and_srgb_of_one_picture_give_one_palette(analyser, samples, tmp_path):
    """The same picture saved in both spaces (Pillow and LittleCMS convert it) reads within 1 CIEDE2000."""
    with Image.open(samples / "outfit-scarf.jpg") as picture:
        small = picture.resize((800, 600))
        assert "P3" in ImageCms.getProfileDescription(ImageCms.ImageCmsProfile(_profile(picture)))
        small.save(tmp_path / "p3.png", icc_profile=picture.info["icc_profile"])
        srgb = ImageCms.createProfile("sRGB")
        converted = ImageCms.profileToProfile(small, ImageCms.ImageCmsProfile(_profile(picture)), srgb)
        assert converted is not None
        converted.save(tmp_path / "srgb.png", icc_profile=ImageCms.ImageCmsProfile(srgb).tobytes())
    answers = [
        analyser("palette", tmp_path / f"{name}.png", "--colours", "8", "--json", "-").answer("palette")
        for name in ("p3", "srgb")
    ]
    assert answers[0]["photo"]["profile"] == "Display P3"
    labs = [np.array([colour["lab"] for colour in told["colours"]]) for told in answers]
    nearest = delta_e_2000(labs[0][:, None], labs[1][None]).min(axis=1)
    assert nearest.max() < 1.0


def _profile(picture):
    return io.BytesIO(picture.info["icc_profile"])


def test_a_turned_photo_gives_the_same_palette_upright(analyser, samples, tmp_path):
    """EXIF orientation 6: stored turned, to be shown upright (Exif 2.32, tag 0x0112)."""
    with Image.open(samples / "outfit-scarf.jpg") as picture:
        small = picture.resize((800, 600))
        profile = picture.info["icc_profile"]
    small.save(tmp_path / "plain.png", icc_profile=profile)
    exif = Image.Exif()
    exif[0x0112] = 6
    small.transpose(Image.Transpose.ROTATE_90).save(tmp_path / "turned.png", icc_profile=profile, exif=exif)
    plain, turned = (
        analyser("palette", tmp_path / f"{name}.png", "--colours", "6", "--json", "-").answer("palette")
        for name in ("plain", "turned")
    )
    assert turned["photo"]["orientation"] == 6
    assert (turned["photo"]["width"], turned["photo"]["height"]) == (800, 600)
    one, two = (np.array([colour["lab"] for colour in told["colours"]]) for told in (plain, turned))
    np.testing.assert_allclose(one, two, atol=0.1)


def test_a_list_is_used_without_the_rows_that_cannot_be_unless_it_is_to_be_refused(
    analyser, samples, tmp_path
):
    stock = tmp_path / "box.csv"
    stock.write_text(
        "id,name,size,hex,quantity,unit\n"
        "T1,teal,11/0,#37575b,40,grams\n"
        "C1,coral,11/0,#cb6959,40,grams\n"
        "C1,coral,11/0,#cb6959,12,grams\n"  # a second row of one lot
        ",,11/0,#cb6959,12,grams\n",
        encoding="utf-8",
    )
    photo = samples / "outfit-scarf.jpg"
    ended = analyser("colourway", photo, "--stock", stock, "--refuse-faulty")
    assert ended.code == 2
    assert ended.out == ""
    assert len(ended.err.splitlines()) == 1
    first = analyser("colourway", photo, "--stock", stock).out.splitlines()[0]
    assert first.startswith("box.csv: 3 rows used, 1 of them in part, 1 left out; see: analyser stock check")
    told = analyser("colourway", photo, "--stock", stock, "--json", "-").answer("colourway")
    (note,) = (note for note in told["notes"] if "left out" in note)
    assert "3 rows used" in note
    assert "1 x id stands in row 3 already: taken as a lot of its own" in note
    assert "1 left out (1 x id is no id)" in note


def test_a_bead_with_a_hostile_name_stays_text(analyser, samples, tmp_path):
    stock = tmp_path / "box.csv"
    stock.write_text(
        "id,name,size,hex\n"
        "T1,<script>alert(1)</script>,11/0,#37575b\n"
        "C1,[bold]coral[/bold],11/0,#cb6959\n"
        "S1,sky,11/0,#9aadc3\n",
        encoding="utf-8",
    )
    ended = analyser("colourway", samples / "outfit-scarf.jpg", "--stock", stock, "--out", tmp_path)
    assert ended.code == 0, ended.err
    assert "[bold]coral[/bold]" in ended.out
    assert "<script>alert" not in (tmp_path / "outfit-scarf-colourway.html").read_text(encoding="utf-8")
