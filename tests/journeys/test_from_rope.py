"""Another of a finished rope: its roles become the colours to match."""

import json

import pytest

from analyser.colour.difference import delta_e_2000
from analyser.stock.list import stock_list
from analyser.stock.lots import largest


def test_the_roles_of_a_finished_rope_are_matched(analyser, samples, demo_stock):
    """Rendered rope, truth in samples/truth.json: each role within 5 of its look under an even sky."""
    name = "rope-rose-white-even.jpg"
    truth = json.loads((samples / "truth.json").read_text())["photos"][name]["colours"]
    told = analyser(
        "colourway", "--from-rope", samples / name, "--stock", demo_stock, "--length", "18cm", "--json", "-"
    ).answer("colourway")
    beads = stock_list.read(demo_stock)
    for role in ("accent", "body"):
        first, of_role = told["pairs"][0], told["pairs"][0]["stands_for"][role]
        kind = [bead for bead in beads.owned if bead.size == "11/0" and bead.shape == "round"]
        offered = [largest([lot for lot in kind if lot.id == bead.id]) for bead in kind]
        nearest = min(float(delta_e_2000(told["colours"][of_role]["lab"], bead.lab)) for bead in offered)
        assert first["fit_de00"][role] == pytest.approx(nearest, abs=1e-6)
        seen = told["colours"][told["pairs"][0]["stands_for"][role]]
        assert float(delta_e_2000(seen["lab"], truth[role]["seen_under_white_sky_lab"])) < 5
    assert {tuple(pair["stands_for"].items()) for pair in told["pairs"]} == {(("accent", 1), ("body", 0))}


@pytest.mark.parametrize("arguments", [(), ("outfit-scarf.jpg", "--from-rope", "rope-rose-white-even.jpg")])
def test_one_photo_is_wanted(analyser, samples, demo_stock, arguments):
    paths = [samples / a if a.endswith(".jpg") else a for a in arguments]
    ended = analyser("colourway", *paths, "--stock", demo_stock)
    assert ended.code == 2
    assert "give one photo" in ended.err


@pytest.mark.parametrize("name", ["harbour-tiles.heic", "outfit-dark-with-card.jpg"])
def test_a_photo_without_a_beaded_rope_is_said(analyser, samples, demo_stock, name):
    ended = analyser("colourway", "--from-rope", samples / name, "--stock", demo_stock)
    assert ended.code == 2
    assert len(ended.err.splitlines()) == 1
