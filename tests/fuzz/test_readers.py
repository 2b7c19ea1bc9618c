"""Every reader of a maker's files, fed with what is broken: an answer or one line, no traceback, no hang.

A hundred files a reader in a usual run; ``pytest tests/fuzz --hypothesis-profile=long`` tries 100,000. What
``benchmarks.fuzz`` found by number has its smallest case here, or in tests/photo/test_damage.py.
"""

from __future__ import annotations

import io
from importlib import resources
from pathlib import Path

import cv2
import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from PIL import Image

from analyser.errors import AnalyserError, MotifError, PhotoError, PlanError, StockError
from analyser.motif import parsing
from analyser.photo import reading
from analyser.piece import plan_file
from analyser.stock.colour_text import read_colour
from analyser.stock.list import booking, stock_list
from tests.fuzz import broken

HANG_MS = 5000
patiently = settings(
    deadline=HANG_MS,
    suppress_health_check=[
        HealthCheck.function_scoped_fixture,
        HealthCheck.too_slow,
        HealthCheck.data_too_large,
    ],
)


def one_line(error: AnalyserError) -> None:
    """What a user is told is one printable line of a bearable length."""
    says = str(error)
    assert says
    assert says.isprintable(), says
    assert len(says) < 600, says


def read_list(path: Path) -> None:
    for skip_faulty in (False, True):
        try:
            stock = stock_list.read(path, skip_faulty=skip_faulty)
        except StockError as error:
            one_line(error)
            continue
        assert len({(bead.id, bead.lot) for bead in stock.beads}) == len(stock.beads)
        for bead in stock.beads:
            assert bead.id
            assert bead.lab is None or np.isfinite(bead.lab).all()


@patiently
@given(data=broken.csv_files())
def test_lists_as_text(data, tmp_path):
    (tmp_path / "list.csv").write_bytes(data)
    read_list(tmp_path / "list.csv")


@patiently
@given(data=broken.xlsx_files())
def test_workbooks(data, tmp_path):
    (tmp_path / "list.xlsx").write_bytes(data)
    read_list(tmp_path / "list.xlsx")


@patiently
@given(data=broken.ods_files())
def test_open_spreadsheets(data, tmp_path):
    (tmp_path / "list.ods").write_bytes(data)
    read_list(tmp_path / "list.ods")


def test_a_bead_of_a_very_long_name_is_told_in_one_line(tmp_path):
    # Found by benchmarks.fuzz: a row without an amount, booked from.
    path = tmp_path / "list.csv"
    path.write_text(f"id,lot\n{'9' * 400},{'a' * 400}\n", encoding="utf-8")
    (bead,) = stock_list.read(path).beads
    with pytest.raises(StockError, match=r"how many beads '9+…' of lot 'a+…' holds") as refused:
        booking.book_out(path, [(bead, 1)])
    one_line(refused.value)


def small_workbook() -> bytes:
    from openpyxl import Workbook

    book = Workbook()
    book.active.append(["id", "name", "size", "hex", "quantity"])
    book.active.append(["teal", "Teal", "11/0", "#37575b", 40])
    stream = io.BytesIO()
    book.save(stream)
    return stream.getvalue()


@patiently
@given(data=broken.mutated(small_workbook()))
def test_damaged_workbooks(data, tmp_path):
    (tmp_path / "list.xlsx").write_bytes(data)
    read_list(tmp_path / "list.xlsx")


SHIPPED = {
    name: resources.files("analyser.motif").joinpath("motifs", f"{name}.toml").read_text(encoding="utf-8")
    for name in parsing.names()
}
MOTIF_WORDS = [
    "0",
    "-1",
    "0.5",
    "1e308",
    "nan",
    "inf",
    "[",
    "]",
    "{",
    "}",
    '"',
    '"A"',
    '"ABZ"',
    "true",
    "[[round]]",
]


@patiently
@given(data=st.data(), name=st.sampled_from(sorted(SHIPPED)))
def test_motifs(data, name):
    text = data.draw(broken.mutated_lines(SHIPPED[name], MOTIF_WORDS))
    try:
        made = parsing.parse(text, "mine.toml")
    except MotifError as error:
        one_line(error)
        return
    assert len(made.rope(3)) > 0


PLAN = """\
repeat = false
mirror = false
[[stretch]]
rounds = 20
body = "teal"
[[stretch]]
share = 0.3
fade = true
[[stretch]]
length = "4cm"
body = "coral"
"""


PLAN_WORDS = ["0", "-1", "1e9", "nan", '"x"', "[[stretch]]", "fade", "share = 1", "=", "true", "C"]


@patiently
@given(text=broken.mutated_lines(PLAN, PLAN_WORDS))
def test_plans(text):
    try:
        plan_file.parse(text, "plan.toml")
    except PlanError as error:
        one_line(error)


@patiently
@given(text=st.one_of(broken.TEXTS, st.text(alphabet="#lab:0123456789abcdef,.-+ e", max_size=24)))
def test_colours_in_words(text):
    try:
        lab = read_colour(text).lab
    except AnalyserError as error:
        one_line(error)
    else:
        assert np.isfinite(lab).all()


def photos() -> dict[str, bytes]:
    """A small photo in each format."""
    ramp = np.linspace(20, 230, 24).astype(np.uint8)
    pixels = np.dstack(
        [np.add.outer(ramp[:16] // 2, ramp // 2), np.tile(ramp, (16, 1)), np.tile(ramp[::-1], (16, 1))]
    )
    picture, made = Image.fromarray(pixels), {}
    for suffix, kind, options in (
        ("jpg", "JPEG", {}),
        ("progressive", "JPEG", {"progressive": True}),
        ("png", "PNG", {}),
        ("tiff", "TIFF", {}),
        ("lzw", "TIFF", {"compression": "tiff_lzw"}),
        ("webp", "WEBP", {}),
        ("lossless", "WEBP", {"lossless": True}),
    ):
        stream = io.BytesIO()
        picture.save(stream, kind, **options)
        made[suffix] = stream.getvalue()
    made["16"] = cv2.imencode(".tiff", pixels.astype(np.uint16) * 257)[1].tobytes()
    heic = Path(__file__).parents[1] / "photo" / "heic"
    for name in ("plain", "alpha", "icc-display-p3", "orientation-6", "ten-bit"):
        made[f"heic-{name}"] = (heic / f"{name}.heic").read_bytes()
    return made


PHOTOS = photos()


@pytest.mark.parametrize("name", PHOTOS)
@patiently
@given(data=st.data())
def test_photos(name, data, tmp_path):
    (tmp_path / "photo").write_bytes(data.draw(broken.mutated(PHOTOS[name])))
    try:
        photo = reading.read(tmp_path / "photo", about_pixels=10_000, limit_mp=4)
    except PhotoError as error:
        one_line(error)
        return
    assert np.isfinite(photo.linear).all()
    assert photo.linear.shape[:2] == photo.clipped.shape
    assert photo.width * photo.height <= 4e6
