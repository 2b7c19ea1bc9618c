"""Colours as CSS and as pictures, against a second library; the page's own greys against WCAG."""

import re
from importlib import resources

import coloraide
import numpy as np
import pytest

from analyser.colour import spaces
from analyser.report import embedding

LABS = [(50.0, 20.0, 30.0), (20.0, 5.0, -30.0), (95.0, -3.0, 8.0), (60.0, -40.0, 20.0)]
WIDE = [(62.0, 72.0, 70.0), (70.0, -70.0, 60.0)]


@pytest.mark.parametrize("lab", LABS)
def test_css_srgb_agrees_with_coloraide(lab):
    # coloraide, "lab-d65": CIE Lab relative to D65.
    theirs = coloraide.Color("lab-d65", lab).convert("srgb").coords()
    ours = re.fullmatch(r"color\(srgb ([\d.]+) ([\d.]+) ([\d.]+)\)", embedding.css_colours(lab)[-1]).groups()
    np.testing.assert_allclose([float(part) for part in ours], theirs, atol=5e-4)


@pytest.mark.parametrize("lab", WIDE)
def test_css_display_p3_agrees_with_coloraide(lab):
    theirs = coloraide.Color("lab-d65", lab).convert("display-p3").coords()
    values = embedding.css_colours(lab)
    assert values[1].startswith("color(srgb ")
    ours = re.fullmatch(r"color\(display-p3 ([\d.]+) ([\d.]+) ([\d.]+)\)", values[-1]).groups()
    np.testing.assert_allclose([float(part) for part in ours], np.clip(theirs, 0, 1), atol=5e-4)


def greys():
    css = resources.files("analyser.report").joinpath("templates/page.css").read_text(encoding="utf-8")
    for block in re.findall(r":root \{([^}]*--ground[^}]*)\}", css):
        yield dict(re.findall(r"--([\w-]+): (#[0-9a-f]{3,6});", block))


def luminance(code):
    digits = code[1:] if len(code) == 7 else "".join(2 * digit for digit in code[1:])
    return spaces.srgb_to_linear(np.frombuffer(bytes.fromhex(digits), np.uint8) / 255.0)


@pytest.mark.parametrize("colours", list(greys()), ids=["light", "dark", "print"])
@pytest.mark.parametrize(
    ("ink", "ground"),
    [
        ("ink", "ground"),
        ("ink", "sheet"),
        ("ink", "well"),
        ("faint", "ground"),
        ("faint", "sheet"),
        ("faint-well", "well"),
    ],
)
def test_text_stands_out_from_its_ground(colours, ink, ground):
    # WCAG 2.2, success criterion 1.4.3: 4.5 to 1 for text.
    ratio = spaces.contrast_ratio(luminance(colours[ink]), luminance(colours[ground]))
    assert ratio >= 4.5


@pytest.mark.parametrize("colours", list(greys()), ids=["light", "dark", "print"])
def test_surrounds_are_neutral(colours):
    for code in colours.values():
        digits = code[1:] if len(code) == 7 else "".join(2 * digit for digit in code[1:])
        assert digits[:2] == digits[2:4] == digits[4:]
