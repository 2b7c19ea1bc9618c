"""A real browser on the local page: Debian's chromium by Playwright, looked at by axe-core (WCAG 2.2 AA).

Without chromium the tests that import this are skipped, save where ``ANALYSER_BROWSER`` is ``required``.
"""

from __future__ import annotations

import contextlib
import os
import re
import shutil
import subprocess
from collections.abc import Iterator
from importlib import resources
from pathlib import Path

import pytest

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
if CHROMIUM is None:  # pragma: no cover  # where tests are counted there is a browser
    if os.environ.get("ANALYSER_BROWSER") == "required":
        raise RuntimeError("these tests need chromium: apt-get install chromium")
    pytest.skip("needs a browser: apt-get install chromium", allow_module_level=True)

from playwright.sync_api import Browser, Page, expect, sync_playwright  # noqa: E402 (after the check for a browser)

ROOT = Path(__file__).resolve().parents[2]
SAMPLES = ROOT / "samples"
HOSTILE = '<img src=x onerror=alert(1)> & "co"'
FLAGS = (  # noqa: SIM905 (a command line is read as one)
    "--no-sandbox --disable-gpu --disable-quic --no-first-run --disable-background-networking "
    "--disable-component-update --disable-sync"
).split()
WIDTHS = {"phone": (390, 844), "desk": (1280, 900)}
RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
AXE = (resources.files("axe_core_python") / "axe.min.js").read_text(encoding="utf-8")
PATIENCE_MS = 90_000  # of a busy machine; how quick the page is, benchmarks/web.py measures

expect.set_options(timeout=PATIENCE_MS)


def stock_with_a_hostile_name(folder: Path) -> Path:
    """The demo stock and a bead whose name would be a script, were it not taken as text."""
    path = folder / "stock.csv"
    text = (ROOT / "palettes" / "demo-stock.csv").read_text(encoding="utf-8")
    name = HOSTILE.replace('"', '""')
    path.write_text(f'{text}hostile,"{name}",11/0,round,opaque,#8fa1b5,50,grams,1,,,\n', encoding="utf-8")
    return path


@contextlib.contextmanager
def serving(script: str, stock_file: Path) -> Iterator[str]:
    """The address of the page, served as a maker starts it."""
    server = subprocess.Popen(
        [script, "serve", "--stock", str(stock_file), "--port", "0", "--no-browser"],
        stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True, cwd=stock_file.parent,
        env={**os.environ, **dict.fromkeys(("XDG_CONFIG_HOME", "XDG_DATA_HOME"), str(stock_file.parent))},
    )  # fmt: skip
    assert server.stdout is not None
    try:
        first = server.stdout.readline()
        found = re.search(r"http://127\.0\.0\.1:\d+", first)
        assert found, first
        yield found[0]
    finally:
        server.terminate()
        server.wait(timeout=60)
        server.stdout.close()


@contextlib.contextmanager
def opened_browser() -> Iterator[Browser]:
    """The browser itself."""
    with sync_playwright() as play:
        opened = play.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        yield opened
        opened.close()


@contextlib.contextmanager
def opened_page(browser: Browser, address: str, width: str) -> Iterator[Page]:
    """A page on a desk or on a phone; nothing may be logged as an error."""
    context = browser.new_context(base_url=address, has_touch=width == "phone")
    context.set_default_timeout(PATIENCE_MS)
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
    """A phone in the dark, or a desk in the light."""
    across, down = WIDTHS[width]
    page.set_viewport_size({"width": across, "height": down})
    page.emulate_media(color_scheme="dark" if width == "phone" else "light")


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
