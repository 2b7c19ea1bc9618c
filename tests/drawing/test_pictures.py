"""Piles, the flat chart, and the rope from further away."""

from xml.etree import ElementTree

import numpy as np
import pytest

from analyser.colour.difference import delta_e_2000
from analyser.colour.spaces import lab_to_linear, linear_to_lab, srgb_to_linear
from analyser.drawing import chips, distances, motif_chart, rope_view
from analyser.drawing.rope_view import BeadLook
from analyser.drawing.scene import SUPERSAMPLING
from analyser.motif import parsing


@pytest.mark.parametrize("finish", ["opaque", "matte", "galvanised", "transparent"])
@pytest.mark.parametrize("lab", [(24.0, 6.0, -28.0), (90.0, 0.0, 12.0), (50.0, 45.0, 30.0)])
def test_mean_of_a_pile_is_the_colour_given(lab, finish):
    pile = chips.pile(BeadLook(lab, finish))
    light = srgb_to_linear(pile[..., :3] / 255.0) * (pile[..., 3:] / 255.0)  # its shadow is black
    pixels = len(chips._heap(132, 108).at) / SUPERSAMPLING**2
    assert delta_e_2000(linear_to_lab(light.sum(axis=(0, 1)) / pixels), lab) < 0.5


def test_a_pile_leaves_the_ground_bare_at_its_edges():
    alpha = chips.pile(BeadLook((50.0, 0.0, 0.0)))[..., 3]
    edge = np.concatenate([alpha[0], alpha[-1], alpha[:, 0], alpha[:, -1]])
    assert edge.max() == 0
    assert alpha.max() == 255


@pytest.mark.parametrize("name", ["chenille", "peyote-even", "netting"])
def test_chart_holds_every_bead_of_its_repeats(name):
    shown = parsing.load(name)
    fill = {"accent": "fill:#aa0000", "body": "fill:#0000aa"}
    svg = ElementTree.fromstring(motif_chart.sideways(shown, fill, label="<b> & 'such'", rounds=4))
    assert svg.get("aria-label") == "<b> & 'such'"
    _, _, width, height = map(float, svg.get("viewBox").split())
    assert width > 0 < height
    tile = shown.flat()
    repeats = -(-4 // shown.repeat_rounds)
    inside = [
        (g.get("transform"), g[0].get("style"))
        for g in svg
        if 0.0 <= float(g.get("transform").split()[1].rstrip(")")) < tile.width_mm - 1e-3
    ]
    for role, style in fill.items():
        wanted = repeats * int(np.count_nonzero(tile.role == role))
        assert sum(found == style for _, found in inside) == wanted


def test_chart_leaves_a_letter_without_a_bead_empty():
    svg = ElementTree.fromstring(
        motif_chart.sideways(parsing.load("chenille"), {"body": "fill:#00a"}, label="")
    )
    fills = {g[0].get("style").split(";")[0] for g in svg}
    assert fills == {"fill:#00a", "fill:none"}


def test_chart_marks_letters_otherwise_than_by_colour():
    svg = motif_chart.sideways(parsing.load("chenille"), {}, label="chart")
    assert "<circle" in svg
    assert "<text" not in svg
    text = parsing.shipped_text("chenille").replace('"BAB" ', '"BAB BCB BDB" ').replace("repeats_after", "# ")
    of_four = ElementTree.fromstring(motif_chart.sideways(parsing.parse(text, "four"), {}, label="chart"))
    assert {one.text for one in of_four.iter() if one.tag.endswith("text")} == {"D"}


@pytest.fixture(scope="module")
def stretch():
    return rope_view.straight(
        parsing.load("chenille").rope(20), width_px=160, height_px=100, px_per_mm=10.0, start_mm=-8.0
    )


CLOTH = (60.0, 0.0, 0.0)


def test_in_the_hand_the_picture_is_unchanged(stretch):
    picture = rope_view.paint_linear(stretch, {"body": BeadLook((40.0, 0.0, 0.0))}, CLOTH)
    assert distances.from_distance(picture, lab_to_linear(CLOTH), 10.0, 0.35) is picture


def test_less_is_left_the_further_away(stretch):
    looks = {"accent": BeadLook((90.0, 0.0, 5.0)), "body": BeadLook((20.0, 5.0, -25.0))}
    picture = rope_view.paint_linear(stretch, looks, CLOTH)
    left = [
        float(distances.from_distance(picture, lab_to_linear(CLOTH), 10.0, metres)[45:55].std())
        for metres in (0.35, 0.6, 1.5, 4.0)
    ]
    assert left == sorted(left, reverse=True)
    assert left[-1] < 0.05 * left[0]


def test_a_plain_picture_stays_as_it_is():
    plain = np.full((60, 90, 3), lab_to_linear(CLOTH), np.float32)
    np.testing.assert_allclose(
        distances.from_distance(plain, lab_to_linear(CLOTH), 10.0, 2.0), plain, atol=1e-4
    )


def test_nearer_than_the_hand_is_refused():
    with pytest.raises(ValueError, match=r"0\.35 or more; got 0\.2"):
        distances.from_distance(np.zeros((8, 8, 3), np.float32), np.zeros(3), 10.0, 0.2)
