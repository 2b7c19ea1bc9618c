"""A set laid side by side in one photo, on the local page: each rope judged, ticked, compared; another of it.

And on the way what the command line has beside it: the sheet to print, a mask, the corrected photo.
"""

from __future__ import annotations

import io
from dataclasses import replace
from pathlib import Path

import cv2
from PIL import Image

from synthetic.ropes import draw
from tests.journeys import browsing
from tests.journeys.browsing import PATIENCE_MS, SAMPLES, looked_at
from tests.journeys.test_audit import STRAIGHT, above

Page, expect = browsing.Page, browsing.expect


def test_a_set_and_another_of_it(script: str, tmp_path: Path) -> None:
    stray = replace(STRAIGHT, fault="stray-bead", fault_role="accent", seed=12)
    set_of_two = above(stray)(draw(STRAIGHT).srgb_u8().copy())
    cv2.imwrite(str(tmp_path / "set.jpg"), set_of_two[..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, 92])
    stock_file = browsing.stock_with_a_hostile_name(tmp_path)
    with (
        browsing.serving(script, stock_file) as address,
        browsing.opened_browser() as browser,
        browsing.opened_page(browser, address, "phone") as page,
    ):
        the_sheet_is_printed(page)
        each_rope_is_ticked(page, tmp_path / "set.jpg")
        one_is_looked_at_and_woven_again(page)
        a_mask_says_what_is_meant(page)


def the_sheet_is_printed(page: Page) -> None:
    page.goto("/")
    page.get_by_role("contentinfo").get_by_role("link", name="A sheet to photograph on").click()
    page.locator("[name=layout]").select_option("heaps")
    with page.expect_download() as sheet:
        page.get_by_role("link", name="The sheet (PDF)").click()
    assert sheet.value.suggested_filename == "photo-sheet-heaps.pdf"
    assert Path(sheet.value.path()).read_bytes().startswith(b"%PDF-")
    page.set_input_files("#learn-photo", SAMPLES / "rope-rose-white-even.jpg")
    expect(page.locator("#learnt .trouble")).to_contain_text("rope-rose-white-even.jpg")
    looked_at(page, "sheet")


def each_rope_is_ticked(page: Page, photo: Path) -> None:
    page.goto("/ropes")
    page.set_input_files("#choose", photo)
    row = page.locator("#photos li", has_text="set.jpg")
    expect(row).to_contain_text("1: Even from end to end · 2: Not even", timeout=PATIENCE_MS)
    page.get_by_role("button", name="Compare the ticked ones").click()
    expect(page.locator("#compared")).to_contain_text("1 of 2 ropes is even")
    expect(page.locator("#compared tbody tr")).to_have_count(2)  # accent and body of the two
    expect(page.locator("#compared tbody")).to_contain_text("set.jpg, rope 2")
    looked_at(page, "set-compared")
    page.get_by_label("Compare set.jpg, rope 2").uncheck()
    page.get_by_role("button", name="Compare the ticked ones").click()
    expect(page.locator("#says")).to_contain_text("at least two ropes")


def one_is_looked_at_and_woven_again(page: Page) -> None:
    page.get_by_role("link", name="set.jpg").click()
    page.get_by_role("button", name="Rope 2").click()
    expect(page.locator("#findings")).to_contain_text("Stray bead")
    assert page.locator("#marks text").all_text_contents() == ["rope 1", "rope 2", "1"]
    page.locator("#wishes summary").click()
    expect(page.get_by_label("Report a change of lot from")).to_be_visible()
    looked_at(page, "set-rope")
    page.get_by_role("button", name="Another of this").click()
    page.wait_for_url("**/photo/*")
    page.wait_for_selector("#pairs > li", timeout=PATIENCE_MS)


def a_mask_says_what_is_meant(page: Page) -> None:
    page.goto("/")
    page.set_input_files("#choose", SAMPLES / "outfit-scarf.jpg")
    page.wait_for_url("**/photo/*")
    expect(page.locator("#keep")).to_be_visible(timeout=PATIENCE_MS)
    with Image.open(SAMPLES / "outfit-scarf.jpg") as photo:
        marked = Image.new("L", photo.size)
        marked.paste(255, (0, 0, photo.width // 2, photo.height))
    mask = io.BytesIO()
    marked.save(mask, "PNG")
    page.locator("#touch > summary").click()
    picture = {"name": "left half.png", "mimeType": "image/png", "buffer": mask.getvalue()}
    page.set_input_files("#mask", files=[picture])
    expect(page.get_by_role("button", name="Use the whole photo")).to_be_visible()
    expect(page.locator("#notes")).to_contain_text("the subject is what the mask marks")
    page.locator("#keep summary").click()
    with page.expect_download() as corrected:
        page.get_by_role("link", name="Photo in corrected colours").click()
    assert corrected.value.suggested_filename == "outfit-scarf-corrected.jpg"
    looked_at(page, "photo-masked")
