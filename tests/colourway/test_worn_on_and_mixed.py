"""What goes with a pair: the ground it is worn on, mixes of two beads, companions."""

import numpy as np
import pytest

from analyser.colour.difference import delta_e_2000
from analyser.colour.spaces import hex_to_lab, lab_to_linear, linear_to_lab
from analyser.colourway.companions import companions, thread_on
from analyser.colourway.measures import measure, view_of
from analyser.colourway.mixing import best_mix
from analyser.colourway.pairing import Pair
from analyser.colourway.palette import PaletteColour
from analyser.colourway.worn_on import worn_on
from analyser.motif import parsing
from analyser.phrases import pairs as says
from analyser.stock.bead import Bead

CHENILLE = parsing.load("chenille")
VIEW = view_of(CHENILLE)


def lab(code):
    lightness, a, b = (float(v) for v in hex_to_lab(code))
    return lightness, a, b


def bead(name, value, size="11/0", finish="opaque"):
    return Bead(name, name, size, finish, (finish,), value, shape="large" if size.endswith("mm") else "round")


def pair(accent, body):
    measures = measure([accent.lab], [body.lab], VIEW).one(0)
    stands, fit = {"accent": 1, "body": 0}, {"accent": 0.0, "body": 0.0}
    return Pair(accent, body, {}, stands, fit, measures, None, None, {}, ())


CORAL, TEAL, CREAM = (
    bead("coral", lab("#cb6959")),
    bead("teal", lab("#37575b")),
    bead("cream", lab("#e0d8c6")),
)


def test_a_body_taken_from_the_dress_vanishes_on_it():
    worn = worn_on(pair(CORAL, TEAL).measures, TEAL.lab)
    assert worn.answers
    assert not worn.stands_out
    assert worn.kind == "floats"


def test_a_rope_of_the_grounds_own_colour_blends_in():
    worn = worn_on(pair(TEAL, bead("teal too", lab("#395a5e"))).measures, TEAL.lab)
    assert worn.blends_in
    assert worn.kind == "blends-in"
    assert says.worn(worn).startswith("it blends into what it is worn on")


def test_a_pale_rope_stands_out_on_black():
    worn = worn_on(pair(CORAL, CREAM).measures, (5.0, 0.0, 0.0))
    assert worn.stands_out
    assert worn.kind == "stands-out"


def test_a_mix_is_the_mean_of_the_light():
    # Two beads whose light averages to the wanted colour: the definition of additive mixture (CIE 015:2018).
    dark, pale = bead("dark", (48.5, 0.0, 0.0)), bead("pale", (51.5, 0.0, 0.0))
    light = 0.5 * (lab_to_linear(np.array(dark.lab)) + lab_to_linear(np.array(pale.lab)))
    wanted = linear_to_lab(light)
    mix = best_mix(wanted, (CORAL, dark, TEAL, pale), CHENILLE, (2.1, 1.5))
    assert mix is not None
    assert {mix.one.name, mix.two.name} == {"dark", "pale"}
    assert mix.de00 == pytest.approx(0.0, abs=1e-6)
    assert 0.6 < mix.blends_from_m < 3.0 < mix.blurs_from_m


def test_beads_twice_as_large_blur_from_twice_as_far():
    one, two = bead("one", (49.4, 0.5, 0.0)), bead("two", (50.6, -0.5, 0.0))
    near, far = (best_mix((50.0, 0.0, 0.0), (one, two), CHENILLE, size) for size in ((2.1, 1.5), (4.2, 3.0)))
    assert near is not None
    assert far is not None
    assert far.blends_from_m == pytest.approx(2 * near.blends_from_m, rel=1e-9)
    assert far.blurs_from_m == pytest.approx(2 * near.blurs_from_m, rel=1e-3)


def test_no_mix_where_none_reads_as_the_colour():
    assert best_mix((50.0, 70.0, 60.0), (TEAL, CREAM), CHENILLE, (2.1, 1.5)) is None
    assert best_mix(TEAL.lab, (TEAL,), CHENILLE, (2.1, 1.5)) is None


def test_companions_come_from_the_stock_and_the_photo():
    colours = tuple(PaletteColour(b.lab, 1 / 3, 1.0, 1.0, b.name, (0, 0)) for b in (TEAL, CORAL, CREAM))
    end = bead("coral ball", lab("#cc6f60"), "6mm")
    company = companions(
        pair(CORAL, TEAL), colours, (CORAL, TEAL, CREAM), (bead("jet ball", (10, 0, 0), "6mm"), end)
    )
    assert company.third is CREAM
    assert company.third_for == 2
    assert company.end_bead is end
    # One shade darker than the body, never lighter (common practice, no source).
    assert hex_to_lab(company.thread_hex)[0] < TEAL.lab[0]


@pytest.mark.parametrize(
    ("colour", "kind"),
    [("#37575b", "hides"), ("#ffffff", "lighter"), ("#9c2530", "other-colour")],
)
def test_the_thread_shows_or_hides(colour, kind):
    assert thread_on(hex_to_lab(colour), TEAL.lab, (CORAL, TEAL)).kind == kind


def test_a_thread_shines_through_transparent_beads():
    clear = bead("clear", lab("#cb6959"), finish="transparent")
    shows = thread_on(hex_to_lab("#37575b"), TEAL.lab, (clear, TEAL))
    assert shows.clear == (clear,)
    assert "shines through clear" in says.thread(shows)


def test_far_colour_is_the_light_mixed_by_area():
    # Property of any blur that keeps the mean: beyond reading, accent and body have become one colour.
    measures = pair(CORAL, TEAL).measures
    share = VIEW.seen
    light = share["accent"] * lab_to_linear(np.array(CORAL.lab)) + share["body"] * lab_to_linear(
        np.array(TEAL.lab)
    )
    assert float(delta_e_2000(measures.far_lab, linear_to_lab(light))) < 1e-6
