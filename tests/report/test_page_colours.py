"""Colours as CSS and as pictures, against a second library; the page's own greys against WCAG."""

import re
from importlib import resources

import coloraide
import numpy as np
import pytest

from analyser.colour import spaces
from analyser.imaging import encoding
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


def test_eight_bit_encoding_is_within_half_a_step():
    light = np.repeat(np.linspace(0.0, 1.0, 20001)[:, None], 3, axis=1)
    exact = spaces.linear_to_srgb(light) * 255.0
    # The table's own steps add at most the curve's slope at nought: 12.92 * 255 / 65535 / 2.
    assert np.max(np.abs(encoding.srgb_u8(light) - exact)) < 0.5 + 12.92 * 255 / 65535 / 2 + 1e-6


def test_the_profile_is_the_same_on_every_day():
    assert encoding.srgb_profile()[24:36] == bytes(12)


def test_pictures_are_made_smaller_in_linear_light():
    checks = (np.indices((40, 40)).sum(axis=0) % 2)[..., None].repeat(3, axis=2).astype(np.float32)
    small = encoding.picture_u8(checks, longest_px=20)
    # Half black, half white is 0.5 of the light, code 188 (IEC 61966-2-1), not 128.
    assert small.shape == (20, 20, 3)
    assert set(np.unique(small)) == {188}


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
