"""Names and photos made to harm, in a real browser: no script runs, pages stay usable, no formula leaves.

Each bead of the list, what is kept, the photo's name and all its file says of itself are scripts, marks that
turn the line round, formulas or very long. What runs would set ``window.harmed`` or open a dialog.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator
from pathlib import Path

import openpyxl
import pytest
from PIL import Image

from analyser.motif import parsing
from tests.journeys import browsing
from tests.journeys.browsing import PATIENCE_MS, SAMPLES, looked_at

Browser, Page, expect = browsing.Browser, browsing.Page, browsing.expect

RUNS = "window.harmed=1"
SCRIPT = f"<script>{RUNS}</script>"
IMAGE = f'"><img src=x onerror={RUNS}>'
TURNED = "\u202egpj.teal\u2066\u200f"
NAMES = (
    SCRIPT,
    IMAGE,
    f"</textarea></title></style><svg onload={RUNS}>",
    f"javascript:{RUNS}",
    '=HYPERLINK("http://example.org";"teal")',
    "+1+1",
    "@SUM(1;1)",
    "-2+3+cmd|' /C calc'!A0",
    TURNED,
    "{{ 7 * 7 }} {% raw %} ${7*7}",
    "long " * 400,
)
COLOURS = ("37575b", "cb6959", "efe6d4", "2d2a32", "8fa1b5", "c9a25a", "7a3b4e", "4f6b3c")


@pytest.fixture
def stock_file(tmp_path: Path) -> Path:
    """A list in which every bead is called something hostile, and a motif beside it."""
    rows = [
        [
            f"{name} {number}",
            f"{name} {number}",
            "11/0",
            "round",
            f"#{colour}",
            "80",
            "grams",
            name,
            f"{name}",
        ]
        for number, (name, colour) in enumerate(zip(NAMES * 2, COLOURS * len(NAMES), strict=False))
    ]
    out = io.StringIO()
    csv.writer(out).writerows(
        [["id", "name", "size", "shape", "hex", "quantity", "unit", "lot", "notes"], *rows]
    )
    path = tmp_path / "stock.csv"
    # Control characters in one name; a list with many of them is taken for none.
    path.write_text(out.getvalue().replace("long long", "lo\x07ng \x1b[31m", 1), encoding="utf-8")
    motif = parsing.shipped_text("chenille").replace('name = "chenille"', f"name = '{SCRIPT}'")
    (tmp_path / "stock-motifs").mkdir()
    (tmp_path / "stock-motifs" / f"{TURNED}.toml").write_text(motif, encoding="utf-8")
    (tmp_path / "stock-motifs" / "<img src=x onerror=alert(1)>.toml").write_text(motif, encoding="utf-8")
    return path


@pytest.fixture
def photo(tmp_path: Path) -> Path:
    """A sound photo, all of whose texts are hostile, one of them as long as a segment can be."""
    told = Image.Exif()
    texts = (SCRIPT, IMAGE, TURNED, "=1+1", "te\x07al\x00\x1b[2J")
    for tag, text in zip(
        (270, 271, 272, 305, 315), texts, strict=True
    ):  # description, maker, model, program, artist
        told[tag] = text
    told[33432] = "<script>alert(1)</script>" * 2000  # copyright
    told.get_ifd(0x8769)[37510] = b"UNICODE\0" + SCRIPT.encode("utf-16")  # user comment
    path = tmp_path / f"<img src=x onerror={RUNS}>{TURNED}.jpg"
    with Image.open(SAMPLES / "outfit-scarf.jpg") as picture:
        picture.resize((640, 480)).save(path, exif=told, comment=SCRIPT, xmp=SCRIPT.encode() * 900)
    return path


@pytest.fixture
def page(script: str, stock_file: Path) -> Iterator[Page]:
    with (
        browsing.serving(script, stock_file) as address,
        browsing.opened_browser() as browser,
        browsing.opened_page(browser, address, "desk") as opened,
    ):
        yield opened


def nothing_ran(page: Page) -> None:
    """No script of a name has run, none of its elements is in the page, and the page keeps its bounds."""
    page.wait_for_load_state("networkidle")
    assert page.evaluate("window.harmed") is None
    assert page.locator("img[src='x'], svg[onload], [onerror], main script").count() == 0
    assert "49" not in page.locator("main").inner_text().split()  # no template was filled in
    looked_at(page)


def test_hostile_names_are_names(page: Page, stock_file: Path, photo: Path) -> None:
    for place in ("/", "/pair", "/ropes", "/plan", "/motif", "/kept", "/sheet"):
        page.goto(place)
        nothing_ran(page)
    page.goto("/drawer")
    expect(page.locator("#beads-list > li")).to_have_count(2 * len(NAMES))
    page.get_by_label("Search").fill("<script>")
    expect(page.locator("#beads-list > li")).to_have_count(2)
    nothing_ran(page)

    page.goto("/")
    page.set_input_files("#choose", photo)
    page.wait_for_selector("#pairs > li", timeout=PATIENCE_MS)
    page.evaluate("document.querySelectorAll('details').forEach((part) => { part.open = true; })")
    nothing_ran(page)
    for pair, name in enumerate(("=1+1 kept", IMAGE)):
        which = page.locator("#pairs > li").nth(pair)
        which.get_by_label("Name").fill(name)
        which.get_by_label("Note").fill(f"{SCRIPT}{TURNED}")
        which.get_by_role("button", name="Keep it").click()
        expect(which.get_by_role("link", name="See what is kept")).to_be_visible()

    page.goto("/kept")
    expect(page.locator("#kept > li")).to_have_count(2)
    expect(page.get_by_role("heading", name=IMAGE)).to_be_visible()
    nothing_ran(page)

    page.goto("/pack")
    page.get_by_label("Kits of =1+1 kept", exact=True).fill("90")
    page.get_by_label("Kits of =1+1 kept", exact=True).press("Tab")
    expect(page.locator("#verdict")).to_contain_text("Short:")
    nothing_ran(page)
    the_shopping_list_holds_no_formula(page)
    page.get_by_label("Kits of =1+1 kept", exact=True).fill("2")
    page.get_by_label("Kits of =1+1 kept", exact=True).press("Tab")
    expect(page.locator("#verdict")).to_contain_text("serves all 2 kits")
    cards = page.request.get(
        page.get_by_role("link", name="Cards, eight to an A4").get_attribute("href") or ""
    )
    file = stock_file.with_name("cards.html")
    file.write_bytes(cards.body())
    other = page.context.new_page()
    other.goto(file.as_uri())
    expect(other.locator(".card")).to_have_count(2)
    assert other.evaluate("window.harmed") is None
    assert other.locator("script, [onerror], [onload], img[src='x']").count() == 0


def the_shopping_list_holds_no_formula(page: Page) -> None:
    order = {
        kind: page.request.get(
            page.get_by_role("link", name=f"Shopping list ({kind})").get_attribute("href") or ""
        ).body()
        for kind in ("CSV", "XLSX")
    }
    rows = list(csv.reader(io.StringIO(order["CSV"].decode("utf-8"))))
    sheet = openpyxl.load_workbook(io.BytesIO(order["XLSX"])).active
    assert sheet is not None
    assert len(rows) > 2
    assert sheet.max_row == len(rows)
    for cell in (cell for row in rows for cell in row):
        assert not cell.startswith(("=", "+", "@", "-", "\t", "\r")), cell
    assert "f" not in {cell.data_type for row in sheet.iter_rows() for cell in row}
