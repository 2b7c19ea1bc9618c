"""Metallic, iridescent and plain beads told apart on drawn ropes, and the optics of the drawing itself.

The optics are checked against closed formulas of textbooks; the drawn ropes are the exact truth for the rest.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from analyser.rope.locating import locate
from analyser.rope.placing import place
from analyser.rope.sheen import sheens
from analyser.rope.unrolling import unroll
from synthetic.rope_beads import ACCENT, BODY, places
from synthetic.rope_finish import FILM, GLASS, film_reflectance, mirrored
from synthetic.ropes import Recipe, draw, photo_of

GLOSSY = Recipe(
    "chenille", "bow", "even", "grey", (42, -28, -10), (60, 24, 38), 24, 8.5, 0.6, 70, 21, gloss=0.06
)
GOLD = replace(GLOSSY, accent=(68, 8, 50), finish_accent="metallic")
FILMED = replace(GLOSSY, body=(20, 2, -4), finish_body="iridescent", film_nm=290.0)
ROLES = {"body": BODY, "accent": ACCENT}


@cache
def rope(recipe):
    return draw(recipe)


@cache
def placed_of(recipe, exposure=1.0):
    photo = photo_of(np.clip(exposure * rope(recipe).linear, 0, 1))
    return place(unroll(photo, locate(photo)))


def told(recipe, placed=None):
    """The sheens of a drawn rope by the role that is there in truth; of two parts of a role the larger's."""
    placed = placed or placed_of(recipe)
    drawn, wanted = rope(recipe), places(recipe.kind, recipe.rounds).role
    x, y = placed_of(recipe).strip.pixel(placed.beads.column, placed.beads.row).astype(int).T
    under = drawn.ids[y, x]
    counts = [
        np.bincount(wanted[under[(placed.beads.role == index) & (under >= 0)]], minlength=2)
        for index in range(len(placed.posterior))
    ]
    found = sheens(placed)
    assert set(found) == set(range(len(placed.posterior)))
    return {name: found[int(np.argmax([count[role] for count in counts]))] for name, role in ROLES.items()}


def test_plain_gloss_is_plain():
    assert {role: sheen.kind for role, sheen in told(GLOSSY).items()} == {"body": "plain", "accent": "plain"}


@pytest.mark.parametrize("light", ["even", "window", "falloff"])
def test_a_metallic_role_is_told_and_its_glossy_neighbour_stays_plain(light):
    found = told(replace(GOLD, light=light))
    assert found["accent"].kind == "metallic"
    assert found["accent"].sure > 0.5
    assert found["accent"].lead >= found["accent"].contrast - found["body"].contrast - 1e-12
    assert found["body"].kind == "plain"


def test_a_filmed_role_is_told_and_its_glossy_neighbour_stays_plain():
    found = told(FILMED)
    assert found["body"].kind == "iridescent"
    assert found["body"].hues > 2 * found["accent"].hues
    assert found["accent"].kind == "plain"


@pytest.mark.parametrize("body", [(8.0, 0.0, 0.0), (16.0, 12.0, -28.0), (88.0, 0.0, 4.0)])
def test_glossy_black_navy_and_white_beads_are_plain(body):
    found = told(replace(GLOSSY, body=body, gloss=0.1))
    assert {sheen.kind for sheen in found.values()} == {"plain"}


@pytest.mark.parametrize("light", ["warm", "mixed"])
def test_coloured_and_mixed_light_make_nothing_iridescent(light):
    assert {sheen.kind for sheen in told(replace(GLOSSY, light=light)).values()} == {"plain"}


@pytest.mark.parametrize("recipe", [GLOSSY, GOLD, FILMED], ids=["glossy", "gold", "filmed"])
@pytest.mark.parametrize("change", ["half the light", "along", "across"])
def test_exposure_and_mirroring_keep_the_kinds(recipe, change):
    placed = placed_of(recipe)
    strip, beads = placed.strip, placed.beads
    height, width = strip.clipped.shape
    if change == "half the light":
        other = replace(placed, strip=replace(strip, linear=strip.linear * np.float32(0.5)))
    elif change == "along":
        turned = replace(
            strip,
            linear=strip.linear[:, ::-1],
            clipped=strip.clipped[:, ::-1],
            start=width - strip.stop,
            stop=width - strip.start,
        )
        column = width - 1 - beads.column
        other = replace(
            placed, strip=turned, beads=replace(beads, column=column), light=placed.light[::-1].copy()
        )
    else:
        turned = replace(strip, linear=strip.linear[::-1], clipped=strip.clipped[::-1])
        other = replace(placed, strip=turned, beads=replace(beads, row=height - 1 - beads.row))
    before, after = sheens(placed), sheens(other)
    assert [after[role].kind for role in after] == [before[role].kind for role in before]
    if change != "half the light":
        # Rounding a bead's centre to a pixel goes the other way in a mirror.
        assert after[0].contrast == pytest.approx(before[0].contrast, abs=0.05)


def test_clipped_highlights_of_orange_beads_make_nothing_iridescent():
    recipe = replace(GLOSSY, body=(62, 44, 58), gloss=0.1)
    placed = placed_of(recipe, 2.0)
    assert placed.strip.clipped.any()
    found = sheens(placed)
    assert {sheen.kind for sheen in found.values()} == {"plain"}


def test_a_role_of_few_beads_is_plain_and_unsure_and_nothing_is_compared_with_it():
    placed = placed_of(GLOSSY)
    beads = placed.beads
    keep = np.concatenate([np.flatnonzero(beads.role == 0)[:5], np.flatnonzero(beads.role == 1)])
    thinned = type(beads)(
        beads.column[keep], beads.row[keep], beads.role[keep], beads.linear[keep], beads.pixels[keep]
    )
    found = sheens(replace(placed, beads=thinned))
    assert (found[0].kind, found[0].sure) == ("plain", 0.5)
    assert np.isnan(found[1].lead)


# Born & Wolf, Principles of Optics, section 1.6.4, from memory: a film a quarter of a wave thick on glass
# reflects ((n - n_film**2) / (n + n_film**2))**2 at normal incidence, one of half a wave what bare glass
# reflects.
@pytest.mark.parametrize("channel", [0, 1, 2])
def test_quarter_and_half_wave_films_reflect_what_the_closed_formulas_say(channel):
    wave = (610.0, 550.0, 465.0)[channel] / FILM
    quarter, half = film_reflectance([1.0, 1.0], [wave / 4, wave / 2])[:, channel]
    assert quarter == pytest.approx(((GLASS - FILM**2) / (GLASS + FILM**2)) ** 2, abs=1e-9)
    assert half == pytest.approx(((GLASS - 1) / (GLASS + 1)) ** 2, abs=1e-9)


# Fresnel's equations, from memory: glass of index 1.5 reflects half the sum of both polarisations.
@pytest.mark.parametrize("degrees", [0.0, 30.0, 56.31, 80.0])
def test_no_film_is_bare_glass_at_every_angle(degrees):
    one = np.deg2rad(degrees)
    two = np.arcsin(np.sin(one) / GLASS)
    s = (np.cos(one) - GLASS * np.cos(two)) / (np.cos(one) + GLASS * np.cos(two))
    p = (GLASS * np.cos(one) - np.cos(two)) / (GLASS * np.cos(one) + np.cos(two))
    np.testing.assert_allclose(film_reflectance(np.cos(one), 0.0), (s**2 + p**2) / 2, rtol=0, atol=1e-9)


def test_a_mirror_shows_the_lamp_where_its_facet_halves_the_angle():
    lamp = np.array([np.sin(0.6), 0.0, np.cos(0.6)])
    facets = np.array([[np.sin(angle), 0.0, np.cos(angle)] for angle in np.linspace(-0.7, 0.9, 161)])
    seen = mirrored(facets, np.ones(len(facets)), [(tuple(lamp), 0.7)], 0.2)
    bright = np.flatnonzero(seen > 0.5 * seen.max())
    # The reflection component: a facet tilted by 0.3 radian shows the camera what lies 0.6 radian off.
    assert np.linspace(-0.7, 0.9, 161)[bright].mean() == pytest.approx(0.3, abs=0.02)


def test_a_drawn_metals_pixels_have_its_tint_and_a_stray_bead_the_finish_of_its_colour():
    recipe = replace(GOLD, fault="stray-bead", fault_role="accent", seed=4)
    drawn, plain = rope(recipe), rope(replace(recipe, finish_accent="glossy"))
    bead = drawn.faults[0].bead
    assert bead == plain.faults[0].bead
    accents = (drawn.ids >= 0) & (places(recipe.kind, recipe.rounds).role[drawn.ids] == ACCENT)
    assert np.abs(drawn.linear - plain.linear)[accents & (drawn.ids != bead)].mean() > 0.03
    inner = accents & (drawn.ids == bead)
    # The stray one is glossy body, or a glossy third, in both drawings: only its rim's blur differs.
    assert np.median(np.abs(drawn.linear - plain.linear)[inner]) < 0.003


def test_an_unknown_finish_is_refused_by_name():
    with pytest.raises(ValueError, match="no finish 'velvet'; there are glossy, matte, metallic, iridescent"):
        draw(replace(GLOSSY, finish_body="velvet"))
