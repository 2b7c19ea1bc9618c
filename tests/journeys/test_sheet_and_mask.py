"""On the local page: the sheet to print and its paper, a mask, the corrected photo."""

from __future__ import annotations

import io
from pathlib import Path

from PIL import Image

from tests.journeys import browsing
from tests.journeys.browsing import PATIENCE_MS, SAMPLES, looked_at

Page, expect = browsing.Page, browsing.expect


def test_the_sheet_and_a_mask(script: str, tmp_path: Path) -> None:
    with (
        browsing.serving(script, browsing.stock_with_a_hostile_name(tmp_path)) as address,
        browsing.opened_browser() as browser,
        browsing.opened_page(browser, address, "phone") as page,
    ):
        the_sheet_is_printed(page)
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
