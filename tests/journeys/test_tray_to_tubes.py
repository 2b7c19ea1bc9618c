"""A maker's list and tray on the local page: what the list leaves open, heaps to tubes, a new lot, a set."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import cv2
import pytest

from analyser.stock.list import stock_list
from synthetic.ropes import draw
from tests.journeys import browsing
from tests.journeys.test_audit import STRAIGHT, above

expect, Page = browsing.expect, browsing.Page

#: Tubes of an invented studio: bare numbers, a date for a size, colours in words; of one the colour is
#: known. The sample tray's first four heaps are navy, cream, teal and coral (samples/README.md).
TUBES = """Id;Name;Size;Colour;Hex;Left;Lot
t1;Night navy;11/0;navy blue;;12;A
t2;Shell;11. Nov;cream;;8;B
t3;Lagoon teal;8/0;teal;#123456;5;C
t5;Coral dusk;11/0;coral;;3;
t6;Heron;11/0;;#808080;half full;
"""


@pytest.fixture
def stock_file(tmp_path: Path) -> Path:
    path = tmp_path / "tubes.csv"
    path.write_text(TUBES, encoding="utf-8")
    return path


@pytest.fixture
def address(script: str, stock_file: Path) -> Iterator[str]:
    with browsing.serving(script, stock_file) as found:
        yield found


@pytest.fixture
def page(request: pytest.FixtureRequest, address: str) -> Iterator[Page]:
    with (
        browsing.opened_browser() as browser,
        browsing.opened_page(browser, address, request.param) as opened,
    ):
        yield opened


@pytest.fixture
def tray(samples: Path, tmp_path: Path) -> Path:
    """The sample tray at half its size: measured sooner, and twelve piles all the same."""
    picture = cv2.imread(str(samples / "tray-of-beads.jpg"))
    small = cv2.resize(picture, None, fx=0.5, fy=0.5, interpolation=cv2.INTER_AREA)
    cv2.imwrite(str(tmp_path / "tray.jpg"), small)
    return tmp_path / "tray.jpg"


@pytest.mark.parametrize("page", ["phone"], indirect=True)
def test_a_list_is_asked_about_and_its_tubes_get_their_colours(
    page: Page, stock_file: Path, tray: Path
) -> None:
    page.goto("/")
    page.get_by_role("link", name="say it once, in the drawer").click()
    expect(page.locator("#open")).to_contain_text("4 amounts stand without a unit")
    browsing.looked_at(page, "drawer-open")
    page.get_by_role("button", name="grams").click()
    expect(page.locator("#questions fieldset")).to_have_count(1)
    page.get_by_role("button", name="yes").click()
    expect(page.locator("#open")).to_be_hidden()
    expect(page.locator("#agreed")).to_contain_text("numbers without a unit are grams")
    group = page.locator("#groups li", has_text="half full")
    group.get_by_label("Read “half full” as").fill("10 g")
    group.get_by_role("button").click()
    expect(page.locator("#faulty")).to_be_hidden()
    assert 'unit = "grams"' in stock_file.with_name("analyser.toml").read_text(encoding="utf-8")
    assert stock_file.read_text(encoding="utf-8") == TUBES
    browsing.looked_at(page, "drawer-agreed")

    page.set_input_files("#tray-photo", tray)
    page.wait_for_url("**/tray/*")
    page.wait_for_selector(".pile", timeout=browsing.PATIENCE_MS)
    expect(page.locator("#columns")).to_contain_text("'uncertainty': it is added")
    heaps = page.locator(".pile")
    expect(heaps).to_have_count(12)
    for number, name in ((1, "Night navy"), (2, "Shell"), (4, "Coral dusk")):
        picker = heaps.nth(number - 1).get_by_label(f"Pile {number} is")
        # Without a colour first, and of those the nearest name first.
        assert name in picker.locator("optgroup").first.locator("option").first.inner_text()
        picker.select_option(label=picker.locator("optgroup option").first.inner_text())
    third = heaps.nth(2)
    teal = third.locator("option", has_text="Lagoon teal").get_attribute("value")
    third.get_by_label("Pile 3 is").select_option(teal)
    third.get_by_label(re.compile("replace its colour #123456")).check()
    fifth = heaps.nth(4)
    fifth.get_by_label("Pile 5 is").select_option("new")
    fifth.get_by_label("id", exact=True).fill("t1")
    browsing.looked_at(page, "tray-tubes")
    page.get_by_role("button", name="Write them into the list").click()
    expect(page.locator("#refused")).to_contain_text("'t1' is in tubes.csv already")
    assert stock_file.read_text(encoding="utf-8") == TUBES
    fifth.get_by_label("id", exact=True).fill("t7")
    page.get_by_role("button", name="Write them into the list").click()
    expect(page.locator("#added")).to_contain_text("3 beads given their colour: t1, t2, t5")
    expect(page.locator("#added")).to_contain_text("the old one kept: t3")
    expect(heaps).to_have_count(7)
    browsing.looked_at(page, "tray-written")

    beads = {bead.id: bead for bead in stock_list.read(stock_file).beads}
    assert {bead.size for bead in beads.values()} == {"11/0", "8/0"}
    assert all(beads[name].uncertainty_de00 for name in ("t1", "t2", "t3", "t5", "t7"))
    assert "#123456" in beads["t3"].notes
    page.goto("/drawer")
    page.get_by_role("button", name="Undo").click()
    expect(page.locator("#says")).to_contain_text("given a colour")
    assert stock_file.read_text(encoding="utf-8") == TUBES


@pytest.mark.parametrize("page", ["desk"], indirect=True)
def test_a_set_is_listed_compared_as_ticked_and_asked_about_a_new_lot(page: Page, samples: Path) -> None:
    page.goto("/ropes")
    names = ["rope-plum-mint-stray-beads.jpg", "rope-rose-white-even.jpg", "rope-teal-copper-lot-change.jpg"]
    page.set_input_files("#choose", [samples / name for name in names])
    row = {name: page.locator("#photos li", has_text=name) for name in names}
    expect(row[names[1]]).to_contain_text("Even from end to end", timeout=browsing.PATIENCE_MS)
    expect(row[names[0]]).to_contain_text("Not even", timeout=browsing.PATIENCE_MS)
    expect(row[names[2]]).to_contain_text("Not even", timeout=browsing.PATIENCE_MS)
    page.get_by_label(f"Compare {names[2]}").uncheck()
    page.get_by_role("button", name="Compare the ticked ones").click()
    expect(page.locator("#compared")).to_contain_text(
        "1 of 2 ropes is even", ignore_case=True, timeout=browsing.PATIENCE_MS
    )
    expect(page.locator("#compared tbody tr")).to_have_count(2)
    expect(page.locator("#compared tbody .flat")).to_have_count(4)
    browsing.looked_at(page, "ropes-compared")

    page.get_by_role("link", name=names[1]).first.click()
    expect(page.locator("#verdict")).to_be_visible()
    assert page.locator("#picture").evaluate("i => i.decode().then(() => i.naturalWidth)") > 100
    page.get_by_role("button", name="Touch the new lot").click()
    box = page.locator("#picture").bounding_box()
    assert box
    page.mouse.click(box["x"] + 0.03 * box["width"], box["y"] + 0.03 * box["height"])
    expect(page.locator("#lot")).to_contain_text("No heap of beads lies at", timeout=browsing.PATIENCE_MS)
    browsing.looked_at(page, "rope-lot")


@pytest.mark.parametrize("page", ["desk"], indirect=True)
def test_a_rope_too_small_to_judge_is_outlined_and_said(page: Page, tmp_path: Path) -> None:
    small = replace(STRAIGHT, px_per_mm=2.6, rounds=64, seed=12)
    both = above(small)(draw(STRAIGHT).srgb_u8().copy())
    cv2.imwrite(str(tmp_path / "both.jpg"), both[..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, 92])
    page.goto("/ropes")
    page.set_input_files("#choose", tmp_path / "both.jpg")
    page.get_by_role("link", name="both.jpg").first.click()
    expect(page.locator("#verdict")).to_contain_text("Check it", timeout=browsing.PATIENCE_MS)
    expect(page.locator("#unjudged")).to_contain_text("was not judged: its beads have under 12 pixels")
    assert page.locator("#marks text").all_text_contents() == ["rope 1", "not judged"]
    browsing.looked_at(page, "rope-unjudged")
