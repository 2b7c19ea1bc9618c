"""A maker's week in a real browser, on a phone and, opened again, on a desk.

The list comes in, a tray's heaps go to its tubes, an outfit's colourways are kept, all is closed and opened
again, compared, printed, woven longer, packed, booked and undone; a set in one photo is judged, another of it
begun.
"""

from __future__ import annotations

import contextlib
import re
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import cv2

from analyser.stock.list import stock_list
from synthetic.ropes import draw
from tests.journeys import browsing
from tests.journeys.browsing import HOSTILE, PATIENCE_MS, SAMPLES, looked_at
from tests.journeys.test_audit import STRAIGHT, above

Page, expect = browsing.Page, browsing.expect


#: Tubes that stand in the list without a colour: a bare number and a date for a size. The sample tray's first
#: two heaps are navy and cream (samples/README.md).
TUBES = "tube-1,Night navy,11/0,round,,,12,,A,,,\ntube-2,Shell,11 Nov,round,,,8,,B,,,\n"


def test_a_week(script: str, tmp_path: Path) -> None:
    stock_file = browsing.stock_with_a_hostile_name(tmp_path)
    stock_file.write_text(stock_file.read_text(encoding="utf-8") + TUBES, encoding="utf-8")
    with browsing.opened_browser() as browser:
        with sitting(script, stock_file, browser, "phone") as page:
            the_list_comes_in(page, stock_file)
            heaps_go_to_their_tubes(page, stock_file, tmp_path)
            before = stock_file.read_bytes()
            two_are_kept(page)
        # Everything is closed and opened again: the photo, its answer and what was kept are there.
        with sitting(script, stock_file, browser, "desk") as page:
            the_photo_is_still_there(page)
            what_is_kept_is_found_compared_and_woven_longer(page, tmp_path)
            kits_are_packed_and_booked(page, stock_file, before)
            it_is_sold_and_binned(page, stock_file)
            a_motif_of_ones_own(page)
            a_set_in_one_photo_is_judged(page, tmp_path)
            one_is_looked_at_and_woven_again(page)
    assert stock_file.read_bytes() == before


@contextlib.contextmanager
def sitting(script: str, stock_file: Path, browser: browsing.Browser, width: str) -> Iterator[Page]:
    """The program started, and its page opened."""
    with (
        browsing.serving(script, stock_file) as address,
        browsing.opened_page(browser, address, width) as page,
    ):
        yield page


def the_list_comes_in(page: Page, stock_file: Path) -> None:
    page.goto("/")
    page.get_by_role("link", name="say it once, in the drawer").click()
    expect(page.locator("#open")).to_contain_text("2 amounts stand without a unit")
    page.get_by_role("button", name="grams").click()
    page.get_by_role("button", name="yes").click()
    expect(page.locator("#open")).to_be_hidden()
    assert stock_file.read_text(encoding="utf-8").endswith(TUBES)  # what was said stands beside the list
    page.get_by_label("Search").fill("Shell")
    expect(page.locator("#beads-list")).to_contain_text("11/0, lot B")
    looked_at(page, "week-list")


def heaps_go_to_their_tubes(page: Page, stock_file: Path, tmp_path: Path) -> None:
    tray = cv2.imread(str(SAMPLES / "tray-of-beads.jpg"))
    half = cv2.resize(tray, None, fx=0.5, fy=0.5, interpolation=cv2.INTER_AREA)
    cv2.imwrite(str(tmp_path / "tray.jpg"), half)
    page.set_input_files("#tray-photo", tmp_path / "tray.jpg")
    page.wait_for_selector(".pile", timeout=PATIENCE_MS)
    for number, tube in ((1, "Night navy"), (2, "Shell")):
        picker = page.get_by_label(f"Pile {number} is")
        picker.select_option(picker.locator("option", has_text=f"{tube}, tube-").get_attribute("value"))
    page.get_by_role("button", name="Write them into the list").click()
    expect(page.locator("#added")).to_contain_text("2 beads given their colour: tube-1, tube-2")
    looked_at(page, "week-tubes")
    tubes = {bead.id: bead for bead in stock_list.read(stock_file).beads if bead.id.startswith("tube-")}
    assert [(bead.size, bead.lot, bead.lab is not None) for bead in tubes.values()] == [
        ("11/0", "A", True),
        ("11/0", "B", True),
    ]


def two_are_kept(page: Page) -> None:
    page.goto("/kept")
    expect(page.locator("#none")).to_contain_text("None yet")
    page.goto("/")
    page.set_input_files("#choose", SAMPLES / "outfit-scarf.jpg")
    page.wait_for_selector("#pairs > li", timeout=PATIENCE_MS)
    for pair, name in ((0, "Quay"), (1, HOSTILE)):
        which = page.locator("#pairs > li").nth(pair)
        which.locator("summary", has_text="Keep").click()
        which.get_by_label("Name").fill(name)
        which.get_by_label("Note").fill("for the spring market")
        which.get_by_label("for end beads").check()
        which.get_by_role("button", name="Keep it").click()
        expect(which.get_by_role("link", name="See what is kept")).to_be_visible()
    # The same name a second time changes nothing.
    third = page.locator("#pairs > li").nth(2)
    third.locator("summary", has_text="Keep").click()
    third.get_by_label("Name").fill("quay")
    third.get_by_role("button", name="Keep it").click()
    expect(page.locator("#says")).to_contain_text("kept already")


def the_photo_is_still_there(page: Page) -> None:
    page.goto("/")
    page.get_by_role("link", name="outfit-scarf.jpg").click()
    expect(page.locator("#pairs > li")).to_have_count(5)


def sent_on(page: Page, link: str, file: Path) -> Page:
    """A page to print or to send, as a file: served it is sealed off, so that nothing can look into it."""
    href = page.get_by_role("link", name=link).get_attribute("href")
    answer = page.request.get(href or "")
    assert answer.ok
    assert "sandbox" in answer.headers["content-security-policy"]
    file.write_bytes(answer.body())
    other = page.context.new_page()
    other.goto(file.as_uri())
    return other


def what_is_kept_is_found_compared_and_woven_longer(page: Page, tmp_path: Path) -> None:
    page.get_by_role("link", name="Kept", exact=True).click()
    card = page.locator("#kept > li")
    expect(card).to_have_count(2)
    expect(card.get_by_text(HOSTILE).first).to_be_visible()
    assert page.locator("img[src='x']").count() == 0
    quay = card.filter(has=page.get_by_role("heading", name="Quay", exact=True))
    expect(quay.locator(".bead")).to_have_count(3)  # accent, body, end
    for box in card.get_by_role("checkbox").all():
        box.check()
    expect(page.locator("#beside > div")).to_have_count(2)
    for image in page.locator("#beside img").all():
        expect(image).to_have_js_property("complete", True)
        assert image.evaluate("i => i.naturalWidth") > 100
    looked_at(page, "kept")
    sheet = sent_on(page, "One sheet to print or send", tmp_path / "sheet.html")
    expect(sheet.locator("h1")).to_have_text("Two colourways side by side")
    assert sheet.locator("img[src='x']").count() == 0
    looked_at(sheet, "kept-sheet")
    sheet.close()

    quay.locator("summary").click()
    quay.get_by_label("Length", exact=True).fill("45cm")
    quay.get_by_role("button", name="Count it").click()
    expect(quay.get_by_text("with clasp,")).to_contain_text("45 cm")
    quay.get_by_label("Keep it in this length").fill("Quay necklace")
    quay.get_by_role("button", name="Keep it").click()
    expect(card).to_have_count(3)

    # Where did I use this tube?
    accent = quay.locator(".bead b").first.inner_text()
    page.get_by_label("With the bead").select_option(label=accent)
    expect(card).to_have_count(2)
    assert card.locator(".bead b").filter(has_text=accent).count() == 2
    expect(page.locator("#beside > div")).to_have_count(2)  # what was ticked stays chosen
    page.get_by_label("With the bead").select_option("")


def kits_are_packed_and_booked(page: Page, stock_file: Path, before: bytes) -> None:
    page.get_by_role("link", name="Pack", exact=True).click()
    page.get_by_label("Kits of Quay", exact=True).fill("3")
    page.get_by_label("Kits of Quay necklace").fill("1")
    page.get_by_label("Kits of Quay necklace").press("Tab")
    expect(page.locator("#verdict")).to_contain_text("Your list serves all 4 kits")
    expect(page.locator("#order")).to_contain_text("clasp")
    looked_at(page, "pack")
    with page.expect_download() as order:
        page.get_by_role("link", name="Shopping list (XLSX)").click()
    assert order.value.suggested_filename == "shopping-list.xlsx"
    cards = sent_on(page, "Cards, eight to an A4", stock_file.with_name("cards.html"))
    expect(cards.locator(".card")).to_have_count(4)
    looked_at(cards, "cards")
    cards.close()
    page.get_by_role("button", name="Book it all out").click()
    expect(page.locator("#booked")).to_contain_text("Booked out")
    assert stock_file.read_bytes() != before
    page.get_by_role("button", name="Undo the booking").click()
    expect(page.locator("#says")).to_contain_text("Undone: 4 kits")
    assert stock_file.read_bytes() == before
    # More than the list holds is told, and cannot be booked.
    page.get_by_label("Kits of Quay necklace").fill("90")
    page.get_by_label("Kits of Quay necklace").press("Tab")
    expect(page.locator("#verdict")).to_contain_text("Short:")
    expect(page.get_by_role("button", name="Book it all out")).to_be_disabled()


def it_is_sold_and_binned(page: Page, stock_file: Path) -> None:
    page.get_by_role("link", name="Kept", exact=True).click()
    hostile = page.locator("#kept > li").filter(has=page.get_by_role("heading", name=HOSTILE))
    hostile.get_by_label("What has become of").select_option("sold")
    expect(page.locator("#says")).to_contain_text("is sold now")
    page.reload()
    page.get_by_label("State").select_option("woven")
    expect(page.locator("#none")).to_have_text("None with that.")
    page.get_by_label("State").select_option("sold")
    expect(page.locator("#kept > li")).to_have_count(1)
    page.get_by_role("button", name="To the bin").click()
    expect(page.locator("#kept > li")).to_have_count(0)
    (binned,) = (stock_file.parent / "stock-kept" / "bin").glob("*.toml")
    assert 'state = "sold"' in binned.read_text(encoding="utf-8")


def a_motif_of_ones_own(page: Page) -> None:
    page.get_by_role("link", name="Your own motif").click()
    expect(page.locator("#rope")).to_be_visible()
    text = page.get_by_label("The motif’s file")
    written = text.input_value()
    text.fill(written.replace("columns = 6", "colums = 6"))
    expect(page.get_by_role("button", name=re.compile(r"Go to line \d+"))).to_be_visible()
    looked_at(page, "motif")
    text.fill(written)
    expect(page.locator("#fault")).to_be_empty()
    page.get_by_role("button", name="Save it beside your list").click()
    expect(page.locator("#saved")).to_contain_text("stock-motifs/my-motif.toml")
    # One who is quicker than the page's script keeps what they chose.
    held: list[browsing.Route] = []
    page.route("**/static/pair.js", lambda route: held.append(route))
    page.get_by_role("link", name="Two beads").click()
    page.locator("[name=motif]").select_option("my-motif")
    with page.expect_response("**/static/pair.js"):
        held.pop().continue_()
    page.get_by_label("Accent").fill("#cb6959")
    page.get_by_label("Body").fill("#2d4a54")
    page.get_by_label("Body").press("Tab")
    expect(page).to_have_url(re.compile("motif=my-motif"))
    expect(page.locator("[name=motif]")).to_have_value("my-motif")


def a_set_in_one_photo_is_judged(page: Page, tmp_path: Path) -> None:
    """Each rope of it is judged, ticked and compared."""
    stray = replace(STRAIGHT, fault="stray-bead", fault_role="accent", seed=12)
    set_of_two = above(stray)(draw(STRAIGHT).srgb_u8().copy())
    cv2.imwrite(str(tmp_path / "set.jpg"), set_of_two[..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, 92])
    page.goto("/ropes")
    page.set_input_files("#choose", tmp_path / "set.jpg")
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
