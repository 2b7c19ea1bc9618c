"""The page of a colourway: self-contained, well-formed, honest about colour, safe with any text."""

import base64
import io
import re
from html.parser import HTMLParser
from itertools import combinations, pairwise
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import ExifTags, Image

from analyser.colour import gamut
from analyser.colourway import photo_palette
from analyser.drawing import leaders, reference_view
from analyser.motif import parsing
from analyser.photo import reading
from analyser.report import page
from analyser.stock.bead import Bead

HOSTILE = "<script>alert('x')</script>\"><img src=x onerror=y>"
SAMPLES = Path(__file__).resolve().parents[2] / "samples"
VOID = {"meta", "img", "br", "hr", "link", "input"}
CAL = {
    "method": "none",
    "uncertainty_de00": 6.0,
    "says": "Colours may be off by 6.",
    "notes": [f"note {HOSTILE}"],
}


def colour(lab, pixel, share, name):
    code, inside = gamut.lab_to_hex(lab)
    return {
        "hex": code,
        "in_srgb": inside,
        "lab": list(lab),
        "share": share,
        "spread_de00": 2.0,
        "uncertainty_de00": 6.0,
        "name": name,
        "pixel": list(pixel),
    }


def bead(one: Bead, de00: float) -> dict:
    code, inside = gamut.lab_to_hex(one.lab)
    fields = {"id": one.id, "name": one.name, "hex": code, "in_srgb": inside, "lab": list(one.lab)}
    return {**fields, "de00": de00, "verdict": "off", "says": f"difference {de00}: {HOSTILE}"}


BEADS = [
    Bead(id="R1", name="Rowan", size="11/0", finish="silver-lined", lab=(36.0, 48.0, 25.0), lot="L7"),
    Bead(id="S2", name=HOSTILE, size="11/0", finish="matte", lab=(65.0, -2.0, -13.0)),
    Bead(id="N3", name="Night", size="11/0", finish=None, lab=(18.0, 4.0, -20.0), shape="cylinder"),
]
COLOURS = [
    colour((65.0, -1.7, -12.7), (30, 100), 0.6, "greyish blue"),
    colour((70.0, 75.0, 85.0), (90, 20), 0.3, "vivid orange"),  # beyond sRGB
    colour((39.0, 41.0, 16.0), (100, 90), 0.08, HOSTILE),
]
PAIR = {
    "accent": "R1",
    "body": "S2",
    "accent_lab": [36.0, 48.0, 25.0],
    "body_lab": [65.0, -2.0, -13.0],
    "de00": 45.2,
    "delta_l": -29.0,
    "luminance_contrast": 2.9,
    "reads_to_m": 2.4,
    "blurs_from_m": 6.1,
    "far_hex": "#8a8497",
    "cvd_de00": {"protan": 30.0, "deutan": 26.0, "tritan": 44.0},
    "harmony": -0.4,
    "lights_de00": {"daylight": 45.0, "shop": 44.0, "evening": 46.0},
    "fit_de00": {"accent": 4.0, "body": 1.0},
    "needs": {"accent": 228, "body": 414},
    "enough": True,
    "says": "near, enough, reads across a table",
    "why": [
        {"kind": "reads", "role": None, "says": "reads across a table"},
        {"kind": "finishes", "role": None, "says": f"named {HOSTILE}"},
    ],
}
ANSWER = {
    "schema": 1,
    "tool": "0.1.0",
    "options": {},
    "photo": {
        "file": f"/somewhere/private/{HOSTILE.replace('/', '')}.jpg",
        "width": 120,
        "height": 120,
        "profile": "sRGB",
        "orientation": 1,
        "sha256": "ab" * 32,
    },
    "calibration": CAL,
    "colours": COLOURS,
    "background": colour((80.0, 0.0, 2.0), (5, 5), 0.02, "pale grey"),
    "matches": [
        {
            "colour": {"hex": c["hex"], "lab": c["lab"]},
            "beads": [bead(one, 3.1) for one in BEADS],
            "says": f"Rowan, likely {HOSTILE}",
        }
        for c in COLOURS
    ],
    "pairs": [PAIR, {**PAIR, "accent": None, "body": "N3", "body_lab": [18.0, 4.0, -20.0], "needs": None}],
    "report": None,
}


@pytest.fixture(scope="module")
def photo(tmp_path_factory):
    file = tmp_path_factory.mktemp("photo") / "outfit.jpg"
    exif = Image.Exif()
    exif[ExifTags.Base.Make] = "SecretCamera"
    exif.get_ifd(ExifTags.IFD.GPSInfo)[ExifTags.GPS.GPSLatitude] = (52.0, 22.0, 11.0)
    pixels = np.zeros((120, 120, 3), np.uint8)
    pixels[:, :60] = (145, 163, 184)
    Image.fromarray(pixels).save(file, exif=exif, comment=b"SecretCamera")
    return reading.read(file)


@pytest.fixture(scope="module")
def text(photo):
    return page.colourway_page(ANSWER, photo, parsing.load("chenille"), beads=BEADS, worn_on=(60.0, 5.0, 5.0))


class Outline(HTMLParser):
    """Tags with their attributes; complains of tags that do not close in order."""

    def __init__(self) -> None:
        super().__init__()
        self.open, self.tags = [], []

    def handle_starttag(self, tag, attrs):
        self.tags.append((tag, dict(attrs)))
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag, attrs):
        self.tags.append((tag, dict(attrs)))

    def handle_endtag(self, tag):
        assert self.open, f"</{tag}> closes nothing"
        assert self.open.pop() == tag, f"</{tag}> closes another tag"

    def of(self, tag):
        return [attrs for name, attrs in self.tags if name == tag]


@pytest.fixture(scope="module")
def outline(text):
    parser = Outline()
    parser.feed(text)
    parser.close()
    assert parser.open == []
    return parser


def pictures(text):
    found = re.findall(r"data:image/(png|jpeg);base64,([A-Za-z0-9+/=]+)", text)
    assert found
    return [base64.b64decode(data) for _, data in found]


def test_is_one_file_that_asks_nothing_of_a_network(text, outline):
    for _, attrs in outline.tags:
        for name in ("src", "href", "action", "srcset", "data", "poster"):
            assert (attrs.get(name) or "#").startswith(("data:image/", "#"))
    assert not re.search(r"url\(\s*(?![\"']?data:image/)", text)
    assert "@import" not in text
    assert outline.of("script") == []
    assert outline.of("link") == []
    policy = next(a["content"] for a in outline.of("meta") if a.get("http-equiv"))
    assert policy == "default-src 'none'; img-src data:; style-src 'unsafe-inline'"


def test_text_from_files_stays_text(text, outline):
    assert "<script" not in text
    assert "<img src=x" not in text
    assert "&lt;script&gt;" in text
    assert all(not name.startswith("on") for _, attrs in outline.tags for name in attrs)


def test_folders_of_the_user_are_not_told(text):
    assert "private" not in text


def test_every_picture_has_words(outline):
    assert len(outline.of("img")) == 1 + 2 * 6
    assert all(len(attrs["alt"]) > 20 for attrs in outline.of("img"))
    for attrs in outline.of("svg"):
        assert attrs.get("aria-hidden") == "true" or attrs["aria-label"]


def test_basics_a_screen_reader_needs(text, outline):
    assert outline.of("html")[0]["lang"] == "en"
    assert re.search(r"<title>[^<]{5,}</title>", text)
    levels = [int(tag[1]) for tag, _ in outline.tags if re.fullmatch("h[1-6]", tag)]
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert all(after - before <= 1 for before, after in pairwise(levels))
    ids = [attrs["id"] for _, attrs in outline.tags if "id" in attrs]
    assert len(ids) == len(set(ids))
    for _, attrs in outline.tags:
        if "aria-labelledby" in attrs:
            assert attrs["aria-labelledby"] in ids
        if (attrs.get("href") or "").startswith("#"):
            assert attrs["href"][1:] in ids
        if attrs.get("tabindex") == "0":
            assert attrs["aria-label"]
    assert len(outline.of("table")) == len(outline.of("caption"))
    assert all(attrs.get("scope") in ("col", "row") for attrs in outline.of("th"))
    assert len(outline.of("main")) == 1


def test_colours_are_css_srgb_and_never_css_lab(text):
    assert "color(srgb 0." in text
    assert not re.search(r"[^-\w]o?k?lab\(", text)
    for code, srgb in re.findall(
        r"background-color:(#[0-9a-f]{6});background-color:color\(srgb ([\d. ]+)\)", text
    ):
        parts = np.array([float(part) for part in srgb.split()])
        np.testing.assert_allclose(parts * 255.0, np.frombuffer(bytes.fromhex(code[1:]), np.uint8), atol=0.6)


def test_a_colour_beyond_srgb_is_marked_and_given_as_display_p3(text):
    assert re.search(r"color\(srgb [\d. ]+\);background-color:color\(display-p3 [\d. ]+\)", text)
    assert "beyond sRGB" in text


def test_pictures_are_tagged_and_carry_nothing_but_pixels(text):
    for picture in pictures(text):
        image = Image.open(io.BytesIO(picture))
        assert image.info["icc_profile"][36:40] == b"acsp"  # ICC.1, the signature of a profile
        assert not image.getexif()
        assert b"Exif" not in picture
        assert b"SecretCamera" not in picture
        assert "comment" not in image.info


def test_the_photo_in_the_page_shows_the_photo(text, photo):
    largest = max(
        (Image.open(io.BytesIO(p)) for p in pictures(text)), key=lambda image: image.size == (120, 120)
    )
    assert largest.size == (120, 120)
    np.testing.assert_allclose(np.asarray(largest)[60, 20], (145, 163, 184), atol=3)


def test_leaders_end_where_the_colours_are(outline):
    ends = [attrs["d"].split("L")[0] for attrs in outline.of("path")]
    for found in COLOURS:
        x, y = (100.0 * (pixel + 0.5) / 120 for pixel in found["pixel"])
        assert f"M{x:.2f} {y:.2f}" in ends


def crosses(one, other):
    """Whether two segments cross, by the signs of the triangles they span."""

    def side(a, b, c):
        return np.sign((b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]))

    (a, b), (c, d) = one, other
    return side(a, b, c) * side(a, b, d) < 0 and side(c, d, a) * side(c, d, b) < 0


@pytest.mark.parametrize("number", [2, 3, 8, 15, 24])
def test_leaders_never_cross(number):
    spots = np.random.default_rng(number).uniform(0, 100, (number, 2)).tolist()
    slots = [(100 * (k + 0.5) / number, 100.0 * (k % 2)) for k in range(number)]
    order = leaders.uncrossed(spots, slots, 1.5)
    assert sorted(order) == list(range(number))
    lines = [(spots[k], slots[order[k]]) for k in range(number)]
    assert not any(crosses(one, other) for one, other in combinations(lines, 2))


@settings(deadline=None)
@given(st.lists(st.tuples(*[st.floats(0, 90)] * 2, *[st.floats(1, 40)] * 2), max_size=4), st.integers(0, 999))
def test_leaders_are_drawn_everywhere_but_over_names(names, seed):
    line = tuple(np.random.default_rng(seed).uniform(0, 100, 4))
    start, end = np.array(line[:2]), np.array(line[2:])
    drawn = np.array(leaders.outside(line, names)).reshape(-1, 2, 2)
    for part in np.linspace(0.003, 0.997, 61):
        x, y = start + part * (end - start)
        within = [max(left - x, x - left - w, top - y, y - top - h) for left, top, w, h in names]
        if any(abs(by) < 1e-6 for by in within):  # on an edge
            continue
        along = [np.dot(piece - start, end - start) / np.dot(end - start, end - start) for piece in drawn]
        assert any(a <= part <= b for a, b in along) == all(by > 0 for by in within)


def test_no_leader_runs_over_a_cards_name():
    photo, how = photo_palette.calibrated(SAMPLES / "outfit-scarf-with-cards.jpg")
    boxes = reference_view.name_boxes(how, (photo.height, photo.width))
    view = reference_view.photo_view(photo, how, 1200)
    assert len(boxes) == 2
    for x, y, width, height in boxes:  # in its box the picture is all tag: paper and ink
        sides = ((y, height, view.shape[0]), (x, width, view.shape[1]))
        # Its corners are rounded: ten pixels within.
        down, across = (slice(int(a * px / 100) + 10, int((a + b) * px / 100) - 10) for a, b, px in sides)
        assert np.ptp(view[down, across].astype(int), axis=2).max() < 8
    assert leaders.leaders([(50.0, y + height + 5)], 1.5, [(0.0, y, 100.0, height)])[0].pieces == (
        (50.0, y + height + 5, 50.0, pytest.approx(y + height)),
        (50.0, pytest.approx(y), 50.0, 0.0),
    )


def test_numbers_and_words_are_there(text):
    for wanted in (
        "228",
        "414",
        "difference 3.1",
        "about 2.5 m",
        "#8a8497",
        "Colours may be off by 6.",
        "Near, enough, reads across a table.",
        "children under 3",
    ):
        assert wanted in text
    assert "whether it holds enough is not known" not in text
    assert "not counted" in text


def test_what_goes_with_a_pair_is_shown(photo):
    def one(ident, lab, size):
        return {"id": ident, "name": f"Name of {ident}", "lab": lab, "size": size, "shape": "round"}

    company = {
        "third": one("T1", [50.0, 0.0, 40.0], "11/0"),
        "end_bead": {**one("E1", [30.0, 10.0, 0.0], "6mm"), "shape": "large"},
        "metal": "warm",
        "thread_hex": "#808080",
        "says": ["a third colour: T", "end beads: E", "clasp and rings in a warm tone", "thread: grey"],
    }
    pair = {
        **PAIR,
        "beads": {
            "accent": one("R1", PAIR["accent_lab"], "11/0"),
            "body": one("S2", PAIR["body_lab"], "11/0"),
        },
        "company": company,
        "worn_on": {"says": "it stands out from the cloth"},
        "needs": {"accent": 228, "body": 414, "third": 77},
    }
    mixes = [{"colour": 0, "beads": [company["third"], company["end_bead"]], "says": "one after the other"}]
    text = page.colourway_page({**ANSWER, "pairs": [pair], "mixes": mixes}, photo, parsing.load("chenille"))
    for wanted in (
        "Name of T1",
        "Name of E1",
        "It stands out from the cloth.",
        "Thread: grey.",
        "77",
        "warm tone",
    ):
        assert wanted in text
    assert "One after the other." in text
    assert "A third colour: T." not in text  # its bead stands there already


def test_no_pair_is_said(photo):
    text = page.colourway_page({**ANSWER, "pairs": []}, photo, parsing.load("chenille"))
    assert "No pair in the stock fits" in text


def test_24_colours_fit(photo):
    many = [{**COLOURS[k % 3], "pixel": [5 * k, 100 - 4 * k], "share": 1 / 24} for k in range(24)]
    matches = [ANSWER["matches"][0]] * 24
    answer = {**ANSWER, "colours": many, "matches": matches, "background": None, "pairs": []}
    text = page.colourway_page(answer, photo, parsing.load("chenille"))
    assert text.count("<li value=") == 48
