"""The local page in a real browser, as a maker uses it: each job once, each state at two widths.

Runs Debian's chromium by Playwright; without it the tests are skipped, save where ``ANALYSER_BROWSER`` is
``required``. What a job leads to is checked by axe-core (WCAG 2.2 AA) and for its width as on a phone in the
dark and on a desk in the light; nothing may be logged as an error.
"""

from __future__ import annotations

import os
import re
import shutil
import subprocess
from collections.abc import Iterator
from importlib import resources
from pathlib import Path

import pytest

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
if CHROMIUM is None:  # pragma: no cover
    if os.environ.get("ANALYSER_BROWSER") == "required":
        raise RuntimeError("these tests need chromium: apt-get install chromium")
    pytest.skip("needs a browser: apt-get install chromium", allow_module_level=True)

from playwright.sync_api import Browser, Page, expect, sync_playwright  # noqa: E402 (after the check for a browser)

ROOT = Path(__file__).resolve().parents[2]
SAMPLES = ROOT / "samples"
FLAGS = (  # noqa: SIM905 (a command line is read as one)
    "--no-sandbox --disable-gpu --disable-quic --no-first-run --disable-background-networking "
    "--disable-component-update --disable-sync"
).split()
WIDTHS = {"phone": (390, 844), "desk": (1280, 900)}
RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
HOSTILE = '<img src=x onerror=alert(1)> & "co"'
PATIENCE_MS = 90_000  # of a busy machine; how quick the page is, benchmarks/web.py measures

expect.set_options(timeout=20_000)


@pytest.fixture(scope="module")
def stock_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("serve") / "stock.csv"
    text = (ROOT / "palettes" / "demo-stock.csv").read_text(encoding="utf-8")
    name = HOSTILE.replace('"', '""')
    path.write_text(f'{text}hostile,"{name}",11/0,round,opaque,#8fa1b5,50,grams,1,,,\n', encoding="utf-8")
    return path


@pytest.fixture(scope="module")
def address(script: str, stock_file: Path) -> Iterator[str]:
    """The page, served as a maker starts it."""
    server = subprocess.Popen(
        [script, "serve", "--stock", str(stock_file), "--port", "0", "--no-browser"],
        stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True, cwd=stock_file.parent,
        env={**os.environ, **dict.fromkeys(("XDG_CONFIG_HOME", "XDG_DATA_HOME"), str(stock_file.parent))},
    )  # fmt: skip
    assert server.stdout is not None
    first = server.stdout.readline()
    found = re.search(r"http://127\.0\.0\.1:\d+", first)
    assert found, first
    yield found[0]
    server.terminate()
    server.wait(timeout=20)
    server.stdout.close()


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with sync_playwright() as play:
        opened = play.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        yield opened
        opened.close()


@pytest.fixture
def page(request: pytest.FixtureRequest, browser: Browser, address: str) -> Iterator[Page]:
    """A page on a desk, or, where a test is parametrised so, on a phone."""
    width = getattr(request, "param", "desk")
    context = browser.new_context(base_url=address, has_touch=width == "phone")
    opened = context.new_page()
    resize(opened, width)
    wrong: list[str] = []
    opened.on("console", lambda said: wrong.append(said.text) if said.type == "error" else None)
    opened.on("pageerror", lambda error: wrong.append(str(error)))
    opened.on("dialog", lambda dialog: (wrong.append(f"dialog {dialog.message}"), dialog.dismiss()))
    yield opened
    # A refusal shown on the page is logged by the browser as a failed load; that is its business.
    assert [line for line in wrong if "Failed to load resource" not in line] == []
    context.close()


def resize(page: Page, width: str) -> None:
    across, down = WIDTHS[width]
    page.set_viewport_size({"width": across, "height": down})
    page.emulate_media(color_scheme="dark" if width == "phone" else "light")


AXE = (resources.files("axe_core_python") / "axe.min.js").read_text(encoding="utf-8")


def looked_at(page: Page, name: str = "") -> None:
    """At each width: no axe-core violation, nothing wider than the page; and back to the width it had.

    With a name, a screenshot to look at is kept where ``ANALYSER_SCREENSHOTS`` names a folder.
    """
    was = (page.viewport_size or {"width": 0})["width"]
    page.evaluate(AXE)
    # The width the job is done at comes last, so that it goes on there.
    for width in sorted(WIDTHS, key=lambda width: WIDTHS[width][0] == was):
        resize(page, width)
        found = page.evaluate(f"axe.run(document, {{runOnly: {RULES}}}).then((r) => r.violations)")
        said = [f"{v['id']}: {[node['html'][:120] for node in v['nodes'][:3]]}" for v in found]
        assert said == [], width
        assert page.evaluate("document.documentElement.scrollWidth <= innerWidth"), width
        folder = os.environ.get("ANALYSER_SCREENSHOTS")
        if folder and name:
            page.wait_for_load_state("networkidle")
            page.screenshot(path=Path(folder) / f"{name}-{width}.png", full_page=True)


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
    assert len(page.locator("main").inner_text().split()) < 160
    if view:
        page.set_viewport_size(view)


@pytest.mark.parametrize("page", ["phone"], indirect=True)
def test_a_pair_is_kept_and_found_again(page: Page, stock_file: Path) -> None:
    page.goto("/kept")
    expect(page.locator("#none")).to_contain_text("None yet")
    page.goto("/")
    page.set_input_files("#choose", SAMPLES / "outfit-scarf.jpg")
    page.wait_for_selector("#pairs > li", timeout=PATIENCE_MS)
    second = page.locator("#pairs > li").nth(1)
    named = second.locator("h3").inner_text()
    second.locator("summary", has_text="Keep").click()
    second.get_by_label("Name").fill(HOSTILE)
    second.get_by_label("Note").fill("for the spring market")
    second.get_by_role("button", name="Keep it").click()
    second.get_by_role("link", name="See what is kept").click()

    card = page.locator("#kept > li")
    expect(card).to_have_count(1)
    expect(card.get_by_text(HOSTILE).first).to_be_visible()
    assert page.locator("img[src='x']").count() == 0
    accent = card.locator(".bead b").first.inner_text()
    assert named.endswith(f"{accent} on {card.locator('.bead b').nth(1).inner_text()}")
    expect(card.locator(".strip")).to_be_visible()
    looked_at(page, "kept")
    card.locator("select").select_option("sold")
    expect(page.locator("#says")).to_contain_text("is sold now")
    page.reload()
    page.get_by_label("State").select_option("idea")
    expect(page.locator("#none")).to_have_text("None with that.")
    page.get_by_label("State").select_option("")
    page.get_by_label("With the bead").select_option(label=accent)
    expect(card).to_have_count(1)
    card.get_by_role("button", name="To the bin").click()
    expect(card).to_have_count(0)
    (binned,) = (stock_file.parent / "stock-kept" / "bin").glob("*.toml")
    assert 'state = "sold"' in binned.read_text(encoding="utf-8")


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
    page.get_by_label("Length", exact=True).fill("45cm")
    page.get_by_label("Length", exact=True).press("Tab")
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
    expect(page.get_by_label("Length", exact=True)).to_have_value("45cm")

    with page.expect_download() as taken:
        page.get_by_role("link", name="One page to print").click()
    file = tmp_path / "page.html"
    taken.value.save_as(file)
    assert file.read_text(encoding="utf-8").startswith("<!doctype html>")

    # Wishes that do not fit are told, and nothing is lost.
    page.get_by_label("Length", exact=True).fill("a bit")
    page.get_by_label("Length", exact=True).press("Tab")
    expect(page.locator("#trouble")).to_contain_text("a bit")
    assert page.locator("#pairs > li").count() > 0
    looked_at(page, "photo-trouble")


def test_two_beads_beside_each_other(page: Page) -> None:
    page.goto("/pair")
    looked_at(page)
    page.get_by_label("Accent").fill("coral-dusk")
    page.get_by_label("Body").fill("teal-deep")
    page.get_by_label("Body").press("Tab")
    expect(page.locator("#figures tr")).to_have_count(11)
    expect(page.locator("#ropes img")).to_have_count(4)
    page.get_by_label("Seen by").select_option("deutan")
    expect(page.locator("#ropes img").first).to_have_attribute("src", re.compile("sight=deutan"))
    page.locator("#light").select_option("LED-B1")
    for image in page.locator("#ropes img").all():
        expect(image).to_have_js_property("complete", True)
        assert image.evaluate("i => i.decode().then(() => i.naturalWidth)") == 860
    expect(page.locator("#count")).to_contain_text("Coral dusk:")
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
    page.get_by_role("button", name="Compare the finished ones").click()
    # Ropes of the run before may be compared while these are still looked at: the comparison waits its turn.
    expect(page.locator("#compared table")).to_be_visible(timeout=PATIENCE_MS)
    looked_at(page, "ropes")
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
    take.get_by_role("button", name="Book it out").click()
    expect(page.locator("#taken")).to_contain_text("beads out")

    # Beads of a tray photo.
    page.set_input_files("#tray-photo", SAMPLES / "tray-of-beads.jpg")
    page.wait_for_url("**/tray/*")
    page.wait_for_selector(".pile", timeout=PATIENCE_MS)
    expect(page.locator(".pile")).to_have_count(12)
    looked_at(page, "tray")
    page.get_by_role("button", name="Add them to the list").click()
    expect(page.locator("#added")).to_contain_text("12 beads added")

    # Another list, and every change back.
    other = tmp_path / "other.csv"
    other.write_text("id,name,size,hex\nnew-one,New one,11/0,#00ff00\n", encoding="utf-8")
    page.goto("/drawer")
    page.set_input_files("#bring", other)
    expect(page.locator("#brought")).to_contain_text("1 lots added")
    for says in ("beads brought in", "tray added", "booked out", "quantity"):
        expect(page.locator("#undo-says")).to_contain_text(says)
        page.get_by_role("button", name="Undo").click()
    expect(page.get_by_role("button", name="Undo")).to_be_disabled()
    assert stock_file.read_bytes() == before


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
