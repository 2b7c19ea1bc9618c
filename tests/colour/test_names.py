"""Everyday names."""

from __future__ import annotations

import re
import subprocess
import sys
from itertools import groupby

import numpy as np
import pytest

from analyser.colour.difference import delta_e_2000
from analyser.colour.names import _list, everyday_name, everyday_names
from analyser.colour.spaces import hex_to_lab


@pytest.mark.parametrize("source", ["names_plain", "names_survey"])
def test_lists_are_sound(source):
    names, labs = _list(source)
    assert len(set(names)) == len(names) == len(labs)
    for name in names:
        assert "/" not in name
        assert name == name.strip().lower()
    assert np.all((labs[:, 0] >= 0) & (labs[:, 0] <= 100))


def test_no_name_stands_twice_in_another_spelling():
    # space, hyphen, apostrophe, gray for grey, and an ending: robin egg and robin's egg, rust and rusty
    def spelled(name: str) -> str:
        words = name.replace("-", " ").replace("gray", "grey").split()
        return "".join(re.sub(r"(ey|y|'s|s)$", "", word) for word in words).replace("'", "")

    every = sorted(name for source in ("names_plain", "names_survey") for name in _list(source)[0])
    twice = [names for _, group in groupby(sorted(every, key=spelled), spelled) if len(names := [*group]) > 1]
    assert not twice


def test_no_name_is_a_firm_or_unkind():
    every = {*_list("names_plain")[0], *_list("names_survey")[0]}
    assert not {name for name in every if {"adobe", "indian"} & set(name.split())}


# The survey (CC0): every plain colour is called by its own name.
@pytest.mark.parametrize("index", range(90))
def test_plain_colours_have_their_own_names(index):
    names, labs = _list("names_plain")
    assert everyday_name(labs[index]) == names[index]


# Common practice, no source: what anyone would call these, whatever goes before the word.
@pytest.mark.parametrize(
    ("code", "words"),
    [
        ("#ffffff", {"white"}),
        ("#000000", {"black"}),
        ("#808080", {"grey"}),
        ("#ff0000", {"red"}),
        ("#000080", {"navy", "blue"}),
        ("#800000", {"red", "maroon"}),
        ("#ffc0cb", {"pink", "rose"}),
        ("#4b0082", {"indigo"}),
        ("#ffa500", {"orange"}),
        ("#029386", {"teal"}),
    ],
)
def test_a_few_well_known_colours(code, words):
    assert everyday_name(hex_to_lab(code)).split()[-1] in words


def may_name(lab, name, own_lab):
    """Names of greys name no colour of a chroma of 7 or more."""
    grey = np.hypot(*own_lab[1:]) < 7 or name in ("off white", "battleship grey", "steel grey")
    return not grey or np.hypot(*lab[1:]) < 7


def test_names_in_a_palette_are_unlike_and_a_hue_is_no_grey():
    labs = np.random.default_rng(3).uniform([5, -30, -30], [95, 30, 30], (24, 3))
    names = everyday_names([*labs, *labs])
    assert len(set(names)) == 48
    assert names[0] == everyday_name(labs[0])
    own = dict(zip(*_list("names_survey"), strict=True)) | dict(zip(*_list("names_plain"), strict=True))
    for lab, name in zip([*labs, *labs], names, strict=True):
        assert may_name(lab, name, own[name])
    # pale-blue sky, olive: reported as white and medium grey before
    assert everyday_name([88.0, -3.0, -8.0]) not in ("white", "light grey")
    assert everyday_name([45.0, -3.0, 9.0]) != "medium grey"


def test_a_finer_word_comes_only_where_it_is_clearly_nearer():
    plain, plain_labs = _list("names_plain")
    fine, fine_labs = _list("names_survey")
    rng = np.random.default_rng(11)
    for lab in rng.uniform([5, -60, -60], [95, 60, 60], (60, 3)):
        name = everyday_name(lab)
        plain_de00, fine_de00 = (
            delta_e_2000(lab, labs[[may_name(lab, *row) for row in zip(names, labs, strict=True)]]).min()
            for names, labs in ((plain, plain_labs), (fine, fine_labs))
        )
        if name in plain:
            assert plain_de00 <= 5.0 or plain_de00 < fine_de00 + 2.5
        else:
            assert plain_de00 > 5.0
            assert fine_de00 + 2.5 <= plain_de00


def test_one_colour_only():
    with pytest.raises(ValueError, match="must be one L"):
        everyday_name([[50, 0, 0]])


def test_the_colour_room_imports_little():
    code = (
        "import sys, analyser.colour.names, analyser.colour.spaces, analyser.colour.difference, "
        "analyser.colour.viewing, analyser.colour.adaptation, analyser.colour.vision;"
        "print([m for m in ('scipy', 'skimage', 'cv2', 'colormath', 'pandas') if m in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
