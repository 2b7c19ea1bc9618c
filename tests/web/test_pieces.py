"""Two beads and the piece of them on the page: what the command line counts and judges, the page does too."""

from __future__ import annotations

import pytest

from analyser.motif import parsing
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
