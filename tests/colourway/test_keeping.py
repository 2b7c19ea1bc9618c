"""What stays: every pair holds it, and what was good before is not worse for it."""

from __future__ import annotations

from pathlib import Path
from types import SimpleNamespace

import pytest

from analyser.colour.difference import delta_e_2000
from analyser.colourway import design, keeping, remarks
from analyser.colourway.palette import Palette, PaletteColour
from analyser.motif import parsing
from analyser.stock.list import stock_list
from analyser.stock.stock import Stock

DEMO = Path(__file__).resolve().parents[2] / "palettes" / "demo-stock.csv"


@pytest.fixture(scope="module")
def held():
    return stock_list.read(DEMO)


@pytest.fixture(scope="module")
def palette(held) -> Palette:
    """Three colours that are beads of the stock, so that each has a bead of its own."""
    photo = SimpleNamespace(width=600, height=400)
    beads = [held.find(text) for text in ("coral-dusk", "teal-deep", "driftwood")]
    shares = (0.1, 0.5, 0.4)
    colours = [
        PaletteColour(bead.lab, share, 1.0, 1.0, bead.name, (1, 1))
        for bead, share in zip(beads, shares, strict=True)
    ]
    how = SimpleNamespace(light_uncertainty_de00=0.4)
    return Palette(photo, how, tuple(colours))  # type: ignore[arg-type]  # nothing else of them is looked at


@pytest.fixture(scope="module")
def wishes() -> design.Wishes:
    return design.Wishes(parsing.load("chenille"))


def test_every_pair_holds_the_bead_that_stays(palette, held, wishes):
    bead = held.find("honey-jar")
    result = keeping.design_beside(palette, held, wishes, bead=bead)
    assert result.pairs
    for pair in result.pairs:
        assert bead.id in (pair.accent.id, pair.body.id)
        role = "accent" if pair.accent.id == bead.id else "body"
        assert pair.fit_de00[role] == 0  # it stands for its own colour
    assert result.remarks[0] == remarks.Stays("Honey jar", True, True)


def test_every_pair_stands_for_the_colour_that_stays(palette, held, wishes):
    result = keeping.design_beside(palette, held, wishes, colour=0)
    assert result.pairs
    assert all(0 in pair.stands_for.values() for pair in result.pairs)
    everything = design.design(palette, held, wishes)
    best = next(pair for pair in everything.pairs if 0 in pair.stands_for.values())
    assert (result.pairs[0].accent.id, result.pairs[0].body.id) == (best.accent.id, best.body.id)


def test_a_picked_colour_is_added_once_without_share(palette):
    lab = (55.0, 10.0, -30.0)
    wider, index = keeping.with_colour(palette, lab, 2.0, (7, 8))
    assert index == 3
    assert wider.colours[3].lab == lab
    assert wider.colours[3].share == 0
    assert wider.colours[3].pixel == (7, 8)
    assert keeping.with_colour(wider, lab, 2.0) == (wider, 3)
    assert min(delta_e_2000(lab, colour.lab) for colour in palette.colours) > 1


def test_what_leaves_no_pair_is_said(palette, held, wishes):
    lonely = Stock(held.path, (held.find("honey-jar"),))
    result = keeping.design_beside(palette, lonely, wishes, bead=held.find("honey-jar"))
    assert result.pairs == ()
    assert result.remarks[0] == remarks.Stays("Honey jar", True, False)
