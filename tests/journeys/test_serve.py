"""The local page in a real browser, as a maker uses it: each job once, each state at two widths.

Runs Debian's chromium by Playwright; without it the tests are skipped, save where ``ANALYSER_BROWSER`` is
``required``. What a job leads to is checked by axe-core (WCAG 2.2 AA) and for its width as on a phone in the
dark and on a desk in the light; nothing may be logged as an error.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from analyser.phrases import figures
from analyser.piece import plan_file
from tests.journeys import browsing
from tests.journeys.browsing import HOSTILE, PATIENCE_MS, SAMPLES, looked_at

Browser, Page, expect = browsing.Browser, browsing.Page, browsing.expect


@pytest.fixture(scope="module")
def stock_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return browsing.stock_with_a_hostile_name(tmp_path_factory.mktemp("serve"))


@pytest.fixture(scope="module")
def address(script: str, stock_file: Path) -> Iterator[str]:
    """The page, served as a maker starts it."""
    with browsing.serving(script, stock_file) as found:
        yield found


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with browsing.opened_browser() as opened:
        yield opened


@pytest.fixture
def page(request: pytest.FixtureRequest, browser: Browser, address: str) -> Iterator[Page]:
    """A page on a desk, or, where a test is parametrised so, on a phone."""
    with browsing.opened_page(browser, address, getattr(request, "param", "desk")) as opened:
        yield opened


def unfold(page: Page) -> None:
    """Open all that is folded."""
    page.evaluate("document.querySelectorAll('details').forEach((part) => { part.open = true; })")


def the_answer_comes_first(page: Page) -> None:
    """On a phone the photo and the first pair fill the first screen, three pairs the first two."""
    view = page.viewport_size
    page.set_viewport_size({"width": 390, "height": 844})
    foot = "(pairs) => pairs.map((pair) => pair.getBoundingClientRect().bottom + window.scrollY)"
    feet = page.eval_on_selector_all("#pairs > li .line", foot)
    assert page.locator("#picture").bounding_box()["y"] < feet[0] < 844  # type: ignore[index]  # it is there
    assert feet[2] < 2 * 844
    # the bead whose name is an attack has a name of five words; beads' names have two
    told = page.locator("main").inner_text().replace(HOSTILE, "Two words")
    assert len(told.split()) < 160
    if view:
        page.set_viewport_size(view)


def test_figures_have_the_digits_that_they_have_in_the_terminal(page: Page) -> None:
    """What the page words itself, word for word; at an exact half JavaScript rounds up and Python to even."""
    page.goto("/")
    values = [(step + 0.37) / 997 for step in range(0, 40_000, 7)] + [
        2.94999,
        2.95,
        2.95001,
        0.0994999,
        0.0995,
    ]
    worded = (
        """([values, name]) => import("/static/kit.js").then((kit) => values.map((one) => kit[name](one)))"""
    )
    for name, figure in (("difference", figures.difference), ("percent", figures.percent)):
        assert page.evaluate(worded, [values, name]) == [figure(value) for value in values]


@pytest.mark.parametrize("page", ["phone"], indirect=True)
def test_from_a_photo_to_a_pair(page: Page, tmp_path: Path) -> None:
    page.goto("/")
    looked_at(page, "start")
    page.set_input_files("#choose", SAMPLES / "outfit-scarf.jpg")
    page.wait_for_url("**/photo/*")
    page.wait_for_selector("#pairs > li", timeout=PATIENCE_MS)
    expect(page.locator("#sure")).to_contain_text("nothing in the photo to go by")
    expect(page.locator("#pairs > li")).to_have_count(5)
    expect(page.locator("#pairs .strip").first).to_be_visible()
    looked_at(page, "photo")
    the_answer_comes_first(page)
    unfold(page)

    # The hostile name is a name: text, wherever it stands (its colour is that of the photo's largest).
    expect(page.get_by_text(HOSTILE).first).to_be_visible()
    assert page.locator("img[src='x']").count() == 0

    page.get_by_label("Colours of the palette").select_option("5")
    expect(page.locator("#palette > li")).to_have_count(5)
    page.get_by_role("textbox", name="Length").fill("45cm")
    page.get_by_role("textbox", name="Length").press("Tab")
    page.get_by_label("Motif").select_option("herringbone")
    expect(page.locator("#notes")).to_contain_text("ubular herringbone")

    # Touch a spot: its colour, then keep it.
    page.locator("#frame").scroll_into_view_if_needed()
    box = page.locator("#picture").bounding_box()
    assert box
    page.mouse.click(box["x"] + 0.3 * box["width"], box["y"] + 0.3 * box["height"])
    expect(page.locator("#spot h3")).to_be_visible()
    page.locator("#spot").get_by_role("button", name="This colour stays").click()
    expect(page.locator("#stays")).to_contain_text("stays")
    looked_at(page)
    page.get_by_role("button", name="Let it go").click()
    expect(page.locator("#stays")).to_be_hidden()

    # By keyboard alone.
    page.locator("#frame").focus()
    for _ in range(3):
        page.keyboard.press("Shift+ArrowRight")
    page.keyboard.press("Enter")
    expect(page.locator("#spot h3")).to_be_visible()

    # A bead that stays is in every pair.
    unfold(page)
    name = page.locator("#pairs .bead b").first.inner_text()
    page.locator("#pairs").get_by_role("button", name=f"This one stays ({name})").first.click()
    expect(page.locator("#stays")).to_contain_text(f"{name} stays")
    for title in page.locator("#pairs h3").all_inner_texts():
        assert name in title

    # Frame the subject; a reload loses nothing.
    page.get_by_role("button", name="Let it go").click()
    page.get_by_role("button", name="Frame the subject").click()
    page.locator("#frame").scroll_into_view_if_needed()
    box = page.locator("#picture").bounding_box()
    assert box
    page.mouse.move(box["x"] + 0.5 * box["width"], box["y"] + 0.2 * box["height"])
    page.mouse.down()
    page.mouse.move(box["x"] + 0.9 * box["width"], box["y"] + 0.8 * box["height"], steps=4)
    page.mouse.up()
    whole = page.get_by_role("button", name="Use the whole photo")
    expect(whole).to_be_visible()
    page.reload()
    expect(whole).to_be_visible()
    unfold(page)
    expect(page.get_by_role("textbox", name="Length")).to_have_value("45cm")

    with page.expect_download() as taken:
        page.get_by_role("link", name="One page to print").click()
    file = tmp_path / "page.html"
    taken.value.save_as(file)
    assert file.read_text(encoding="utf-8").startswith("<!doctype html>")

    # Wishes that do not fit are told, and nothing is lost.
    page.get_by_role("textbox", name="Length").fill("a bit")
    page.get_by_role("textbox", name="Length").press("Tab")
    expect(page.locator("#trouble")).to_contain_text("a bit")
    assert page.locator("#pairs > li").count() > 0
    looked_at(page, "photo-trouble")


@pytest.mark.parametrize("page", ["phone"], indirect=True)
def test_with_cards_in_the_photo_the_answer_comes_first_too(page: Page) -> None:
    page.goto("/")
    page.set_input_files("#choose", SAMPLES / "outfit-scarf-with-cards.jpg")
    page.wait_for_selector("#pairs > li", timeout=PATIENCE_MS)
    expect(page.locator("#sure")).to_contain_text("by the two cards in the photo", timeout=PATIENCE_MS)
    expect(page.get_by_role("button", name="Those are no cards")).to_be_visible()
    expect(page.locator("#pairs .strip").first).to_be_visible()
    feet = page.eval_on_selector_all(
        "#pairs .line", "(all) => all.map((e) => e.getBoundingClientRect().bottom)"
    )
    assert feet[0] < 844  # a phone's first screen
    assert feet[2] < 2 * 844


def test_two_beads_beside_each_other(page: Page) -> None:
    page.goto("/pair")
    looked_at(page)
    page.get_by_label("Accent").fill("coral-dusk")
    page.get_by_label("Body").fill("teal-deep")
    page.get_by_label("Body").press("Tab")
    expect(page.locator("#figures tr")).to_have_count(12)
    expect(page.locator("#ropes img")).to_have_count(4)
    page.get_by_label("Seen by").select_option("deutan")
    expect(page.locator("#ropes img").first).to_have_attribute("src", re.compile("sight=deutan"))
    page.locator("#light").select_option("LED-B1")
    for image in page.locator("#ropes img").all():
        expect(image).to_have_js_property("complete", True)
        assert image.evaluate("i => i.decode().then(() => i.naturalWidth)") == 860
    expect(page.locator("#count")).to_contain_text("Coral dusk:")
    page.locator(".more > summary").click()
    page.get_by_label("Your gauge").fill("22 rounds in 5cm")
    page.get_by_role("button", name="Keep it for this motif and bead").click()
    expect(page.locator("#says")).to_contain_text("for chenille teal-deep: 22 rounds in 50mm")
    looked_at(page, "pair")
    page.get_by_role("button", name="Swap").click()
    expect(page.get_by_label("Accent")).to_have_value("teal-deep")
    page.get_by_label("Accent").fill("nobody")
    page.get_by_label("Accent").press("Tab")
    expect(page.locator("#trouble")).to_contain_text("nobody")


def test_finished_ropes(page: Page) -> None:
    page.goto("/ropes")
    looked_at(page)
    page.set_input_files(
        "#choose", [SAMPLES / "rope-plum-mint-stray-beads.jpg", SAMPLES / "rope-rose-white-even.jpg"]
    )
    page.wait_for_selector("#compare:not([hidden])", timeout=PATIENCE_MS)
    page.get_by_role("button", name="Compare the ticked ones").click()
    # Ropes of the run before may be compared while these are still looked at: the comparison waits its turn.
    expect(page.locator("#compared table")).to_be_visible(timeout=PATIENCE_MS)
    looked_at(page, "ropes")
    was = page.viewport_size or {}
    browsing.resize(page, "phone")  # what is said in words is read without scrolling sideways
    assert page.locator("#compared .scroll").evaluate("e => e.scrollWidth <= e.clientWidth")
    browsing.resize(page, "phone" if was["width"] == 390 else "desk")
    page.get_by_role("link", name="rope-plum-mint-stray-beads.jpg").first.click()
    expect(page.locator("#verdict")).to_be_visible()
    expect(page.locator("#findings")).to_contain_text("Stray bead")
    near = page.locator("#findings img").first
    was = near.get_attribute("src")
    page.get_by_role("button", name="Nearer").first.click()
    assert near.get_attribute("src") != was
    assert near.evaluate("i => i.decode().then(() => i.naturalWidth)") > 100
    looked_at(page, "rope")
    page.get_by_role("button", name="Another of this").click()
    page.wait_for_url("**/photo/*")
    page.wait_for_selector("#pairs > li", timeout=PATIENCE_MS)
    assert page.get_by_label("It shows a finished rope").is_checked()


def test_the_drawer(page: Page, stock_file: Path, tmp_path: Path) -> None:
    before = stock_file.read_bytes()
    page.goto("/drawer")
    page.wait_for_selector("#beads-list > li")
    looked_at(page)
    page.get_by_label("Search").fill("coral dusk")
    expect(page.locator("#beads-list > li")).to_have_count(2)
    page.get_by_role("button", name="Edit Coral dusk").first.click()
    page.get_by_label("quantity", exact=True).fill("41.5")
    page.get_by_label("quantity", exact=True).press("Tab")
    expect(page.locator("#undo-says")).to_contain_text("41.5")
    assert b"41.5" in stock_file.read_bytes()
    looked_at(page, "drawer")
    page.get_by_role("button", name="Edit Coral dusk").first.click()
    page.get_by_label("hex", exact=True).fill("reddish")
    page.get_by_label("hex", exact=True).press("Tab")
    expect(page.locator("#trouble")).to_contain_text("reddish")
    looked_at(page)

    # Book a piece out.
    take = page.locator("#take")
    take.get_by_label("Accent").fill("coral-dusk")
    take.get_by_label("Body").fill("teal-deep")
    take.get_by_label("Notes for its card").fill("for Ana")
    take.get_by_role("button", name="Book it out").click()
    expect(page.locator("#taken")).to_contain_text("210 beads of coral-dusk, lot 14: 41.5 → 39.59 g")
    expect(page.locator("#taken pre")).to_contain_text("for Ana")
    looked_at(page, "booked")

    # Beads of a tray photo.
    page.set_input_files("#tray-photo", SAMPLES / "tray-of-beads.jpg")
    page.wait_for_url("**/tray/*")
    page.wait_for_selector(".pile", timeout=PATIENCE_MS)
    expect(page.locator(".pile")).to_have_count(12)
    looked_at(page, "tray")
    for picker in page.locator(".pile select").all():
        picker.select_option("new")
    page.get_by_role("button", name="Write them into the list").click()
    expect(page.locator("#added")).to_contain_text("12 beads added")

    # Another list, and every change back.
    other = tmp_path / "other.csv"
    other.write_text("id,name,size,hex\nnew-one,New one,11/0,#00ff00\n", encoding="utf-8")
    page.goto("/drawer")
    page.set_input_files("#bring", other)
    expect(page.locator("#brought")).to_contain_text("1 lot added")
    for says in ("another list brought in", "tray added", "booked out", "quantity"):
        expect(page.locator("#undo-says")).to_contain_text(says)
        page.get_by_role("button", name="Undo").click()
    expect(page.get_by_role("button", name="Undo")).to_be_disabled()
    assert stock_file.read_bytes() == before


def test_a_fade_is_written_moved_by_keys_and_charted(page: Page, tmp_path: Path) -> None:
    page.goto("/plan?from=teal-deep&to=driftwood&accent=coral-dusk")
    expect(page.locator(".border")).to_have_count(4)
    expect(page.locator("#between input")).to_have_count(2)
    end = page.locator(".border").last
    before, drawn = int(end.get_attribute("aria-valuenow") or 0), page.locator("#whole").get_attribute("src")
    end.focus()
    page.keyboard.press("Shift+ArrowLeft")
    expect(end).to_have_attribute("aria-valuenow", str(before - 5))
    expect(page.locator("#whole")).not_to_have_attribute("src", str(drawn))
    expect(page.locator("#needs tbody tr")).to_have_count(5)
    looked_at(page, "plan")
    page.reload()  # the address holds all of it
    expect(page.locator(".border").last).to_have_attribute("aria-valuenow", str(before - 5))
    with page.expect_download() as taken:
        page.get_by_role("link", name="Chart to weave by").click()
    assert "to weave by" in Path(taken.value.path()).read_text(encoding="utf-8")
    page.get_by_label("Bands", exact=True).check()
    page.get_by_label("Rounds of a band").fill("12")
    page.keyboard.press("Tab")
    expect(page.locator(".border")).to_have_count(1)
    expect(page.locator(".border")).to_have_attribute("aria-valuetext", re.compile("after round 12 of"))

    # A plan of one's own, from its file; a faulty one is told by its line, and mended in place.
    plan = tmp_path / "sea.toml"
    plan.write_text(
        '[[stretch]]\nshare = 0.3\nbody = "teal-deep"\n[[stretch]]\nbodi = "driftwood"\n', "utf-8"
    )
    page.get_by_label("As a plan file says").check()
    page.set_input_files("#plan-file", plan)
    expect(page.locator("#trouble")).to_contain_text("'bodi' is unknown")
    box = page.get_by_label("The plan", exact=True)
    box.fill(box.input_value().replace("bodi", "body"))
    box.press("Tab")
    expect(page.locator("#needs tbody tr")).to_have_count(3)
    expect(page.locator("#needs")).to_contain_text("Driftwood")
    with page.expect_download() as saved:
        page.get_by_role("link", name="Save the plan as a file").click()
    assert plan_file.load(Path(saved.value.path())) == plan_file.parse(box.input_value(), "the box")
    looked_at(page, "plan-file")


def test_what_cannot_be_read_is_told_where_it_was_dropped(page: Page, tmp_path: Path) -> None:
    half = tmp_path / "half.heic"
    whole = (SAMPLES / "harbour-tiles.heic").read_bytes()
    half.write_bytes(whole[: len(whole) // 2])
    page.goto("/")
    page.set_input_files("#choose", half)
    page.wait_for_url("**/photo/*")
    expect(page.locator("#trouble")).to_contain_text("half.heic: is cut short or damaged")
    expect(page.get_by_role("button", name="Try again")).to_be_visible()
    expect(page.get_by_role("link", name="Add another photo")).to_be_visible()
    expect(page.locator("#work")).to_be_hidden()  # nothing half made is left standing
    looked_at(page, "trouble")
    page.goto("/photo/nothing")
    expect(page.locator("#trouble")).to_contain_text("not here any more")
    looked_at(page)
