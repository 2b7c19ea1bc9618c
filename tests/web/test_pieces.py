"""Two beads and the piece of them on the page: what the command line counts and judges, the page does too."""

from __future__ import annotations

import io
import shutil

import numpy as np
import pytest
from PIL import Image

from analyser.colour import spaces
from analyser.motif import own_motifs, parsing
from analyser.piece import counting
from analyser.piece.gauge import Gauge, keep
from analyser.stock.kinds import kind_of
from analyser.stock.list import stock_list

PAIR = {"accent": "coral-dusk", "body": "teal-deep"}


def counted(page, **wishes):
    told = page.get("/api/pair", params={**PAIR, **wishes})
    assert told.status_code == 200, told.text
    return told.json()["pair"]


def test_every_wish_of_a_count_is_the_count_s(page, stock_file):
    held = stock_list.read(stock_file)
    end = next(bead for bead in held.beads if bead.size == "6mm")
    wishes = {"wrist": "16cm", "gauge": "26 rounds in 5cm", "spare": 0.25, "clasp": "none", "end": end.id}
    pair = counted(page, **wishes)
    made = counting.count(
        parsing.load("chenille"), body_mm=160.0, gauge=Gauge.parse("26 rounds in 5cm"), spare=0.25,
        clasp_mm=0.0,
        stock={"accent": held.lots("coral-dusk"), "body": held.lots("teal-deep"), "end": held.lots(end.id)},
    )  # fmt: skip
    assert pair["counted"]["with_spare"] == made.with_spare
    assert pair["counted"]["length_mm"] == made.lengths.finished_mm
    assert pair["counted"]["stock"]["end"]["id"] == end.id
    assert pair["beads"]["end"]["name"] == end.name
    assert counted(page, rounds=50)["counted"]["rounds"] == 50
    assert counted(page, length="18cm", reinforced=True)["counted"]["thread_m"] > made.thread.total_m


def test_what_it_is_worn_on_and_its_thread_are_told(page):
    pair = counted(page, worn_on="#8fa1b6", thread="#ffffff")
    plain = counted(page)
    assert pair["worn_on"]["says"]
    assert len(pair["sentences"]) == len(plain["sentences"]) + 2
    assert "thread" in pair["sentences"][-1]
    assert plain["worn_on"] is None


@pytest.mark.parametrize(
    ("wishes", "says"),
    [
        ({"length": "18cm", "wrist": "16cm"}, "say one of length, wrist"),
        ({"length": "18cm", "gauge": "many"}, "many"),
        ({"end": "nobody"}, "nobody"),
        ({"motif": "../../etc/passwd"}, "no motif"),
    ],
)
def test_wishes_that_do_not_fit_are_told(page, wishes, says):
    told = page.get("/api/pair", params={**PAIR, **wishes})
    assert (told.status_code, says in told.json()["error"]["says"]) == (422, True)


def test_a_colourway_takes_the_wishes_of_the_command_line(page, scarf):
    before = page.get(f"/api/photos/{scarf}").json()["wishes"]
    told = page.put(
        f"/api/photos/{scarf}/wishes",
        json={
            **before,
            "length": None,
            "neck": "40cm",
            "spare": 0.3,
            "collection": 2,
            "gauge": "26 rounds in 5cm",
        },
    ).json()
    result = told["result"]
    assert len(result["pairs"]) == 2
    count = result["pairs"][0]["counted"]
    assert (count["spare"], count["gauge"]) == (0.3, "26 rounds in 50mm")
    assert count["length_mm"] > 400.0
    assert count["with_spare"] == result["pairs"][0]["needs"]
    page.put(f"/api/photos/{scarf}/wishes", json=before).raise_for_status()


def test_a_role_of_another_size_and_two_colours_are_counted_as_on_the_command_line(page):
    given = {
        "accent": "#cb6959",
        "body": "#2d4a54",
        "length": "18cm",
        "bead": "accent=4mm, body=8/0 cylinder",
    }
    told = page.get("/api/pair", params=given).json()["pair"]["counted"]
    made = counting.count(
        parsing.load("chenille"), length_mm=180.0, size="11/0",
        kinds={"accent": kind_of("4mm", "round"), "body": kind_of("8/0", "cylinder")},
    )  # fmt: skip
    assert told["with_spare"] == made.with_spare
    plain = page.get("/api/pair", params={**given, "bead": None}).json()["pair"]["counted"]
    assert (
        told["with_spare"]["accent"] < plain["with_spare"]["accent"]
    )  # fewer of larger ones fill the length
    refused = page.get("/api/pair", params={**given, "bead": "accent"})
    assert (refused.status_code, "accent=4mm" in refused.json()["error"]["says"]) == (422, True)


def test_a_gauge_that_is_kept_beside_the_list_counts_where_none_is_told(page, stock_file):
    keep(stock_file.with_name("analyser.toml"), "chenille 11/0 round", Gauge.parse("26 rounds in 5cm"))
    try:
        kept = counted(page, length="18cm")["counted"]["rounds"]
        assert kept == counted(page, length="18cm", gauge="26 rounds in 5cm")["counted"]["rounds"]
        assert kept != counted(page, length="18cm", gauge="37 rounds in 5cm")["counted"]["rounds"]
    finally:
        stock_file.with_name("analyser.toml").unlink()


@pytest.fixture
def four(page, stock_file):
    """A motif of four letters of the maker's own."""
    text = parsing.shipped_text("chenille")
    for was, becomes in (('"chenille"', '"four"'), ('"BAB" ', '"BAB BCB BDB" '), ("repeats_after", "# ")):
        text = text.replace(was, becomes)
    assert page.post("/api/motifs", json={"text": text}).status_code == 201
    yield {"motif": "four", "third": "fog", "role": "D=honey-jar"}
    shutil.rmtree(own_motifs.folder_of(stock_file), ignore_errors=True)


def test_the_fourth_letter_counts_in_the_figures_and_in_what_a_piece_takes(page, stock_file, four):
    pair = counted(page, length="18cm", **four)
    assert list(pair["beads"]) == ["accent", "body", "third", "D"]
    held = stock_list.read(stock_file)
    motif = own_motifs.load("four", own_motifs.folder_of(stock_file))
    named = {"accent": "coral-dusk", "body": "teal-deep", "third": "fog", "D": "honey-jar"}
    made = counting.count(motif, length_mm=180.0, stock={role: held.lots(one) for role, one in named.items()})
    assert pair["counted"]["with_spare"] == made.with_spare
    assert set(pair["counted"]["stock"]) == set(named)
    # Light mixes in linear RGB by area: afar, letters in the accent's and the body's own beads are as if
    # these had that much more of the rope.
    afar = {}
    for third, letter in (("teal-deep", "teal-deep"), ("coral-dusk", "coral-dusk")):
        told = counted(page, motif="four", third=third, role=f"D={letter}")
        afar[letter] = spaces.lab_to_linear(told["far_lab"])
    both = counted(page, motif="four", third="coral-dusk", role="D=teal-deep")
    other = counted(page, motif="four", third="teal-deep", role="D=coral-dusk")
    mixed = [spaces.lab_to_linear(told["far_lab"]) for told in (both, other)]
    np.testing.assert_allclose(np.sum(mixed, axis=0), np.sum(list(afar.values()), axis=0), atol=1e-6)
    assert np.abs(mixed[0] - afar["teal-deep"]).max() > 0.005


def test_a_letter_without_a_bead_is_told(page, four):
    assert "D: no bead was named" in " ".join(counted(page, motif="four", third="fog")["sentences"])
    assert "no bead was named" not in " ".join(counted(page, **four)["sentences"])


def test_the_fourth_letter_is_drawn_in_its_bead(page, four):
    colours = {"accent": "#aa3322", "body": "#224466", "third": "#888888", "motif": "four"}

    def drawn(**more):
        told = page.get("/api/rope", params={**colours, **more})
        assert told.status_code == 200, told.text
        return np.asarray(Image.open(io.BytesIO(told.content)), dtype=float)

    blank, gold = drawn(), drawn(letters=["D=#ffcc00;matte;round"])
    changed = np.abs(gold - blank).max(axis=2) > 40
    assert changed.mean() > 0.02  # one bead in nine of a rope that fills two thirds of the picture
    red, green, blue = gold[changed].mean(axis=0)
    assert min(red, green) > blue + 40
    assert page.get("/api/rope", params={**colours, "letters": "D"}).status_code == 422
