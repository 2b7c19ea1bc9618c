"""The local page's interaction budget, measured in the browser.

From a 12-megapixel photo dropped to the first palette with matches in sight (budget 1.5 s), to pairs (3 s),
and from a changed wish to its answer in sight (200 ms). Needs chromium; prints medians,
the least, and the load.

    python -m benchmarks.web [ROUNDS]
"""

from __future__ import annotations

import os
import re
import shutil
import statistics
import subprocess
import sys
import tempfile
from pathlib import Path

from PIL import Image
from playwright.sync_api import Page, sync_playwright

ROOT = Path(__file__).resolve().parents[1]
FLAGS = ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-sync"]
FLAGS += ["--disable-background-networking", "--disable-component-update"]

# Marks in the page's own clock when a selector first matches.
WATCH = """([selector, not]) => new Promise((seen) => {
  const start = performance.now();
  const look = () => {
    const found = document.querySelector(selector);
    if (found && !(not && document.querySelector(not))) seen(performance.now() - start);
    else requestAnimationFrame(look);
  };
  look();
})"""


def changed(page: Page, name: str, value: str) -> float:
    """Milliseconds from a changed field to the answer in sight: the pairs' list is filled anew."""
    script = """async ([name, value]) => {
      const field = document.querySelector(`#wishes [name="${name}"]`);
      const pairs = document.getElementById("pairs");
      const done = new Promise((seen) => new MutationObserver((_, me) => {
        me.disconnect();
        requestAnimationFrame(() => seen(performance.now()));
      }).observe(pairs, { childList: true }));
      const start = performance.now();
      field.value = value;
      field.dispatchEvent(new Event(field.tagName === "SELECT" ? "input" : "change", { bubbles: true }));
      return (await done) - start;
    }"""
    return float(page.evaluate(script, [name, value]))


def main(rounds: int) -> None:
    """Measure, and print a line for each budget."""
    folder = Path(tempfile.mkdtemp())
    photo, stock = folder / "twelve.jpg", folder / "stock.csv"
    with Image.open(ROOT / "samples" / "outfit-scarf.jpg") as sample:
        sample.resize((4000, 3000), Image.Resampling.LANCZOS).save(photo, quality=92)
    shutil.copy(ROOT / "palettes" / "demo-stock.csv", stock)
    server = subprocess.Popen(
        [sys.executable, "-m", "analyser", "serve", "--stock", str(stock), "--port", "0", "--no-browser"],
        stdout=subprocess.PIPE,
        text=True,
        cwd=ROOT,
        env={**os.environ, "PYTHONUNBUFFERED": "1", "XDG_DATA_HOME": str(stock.parent)},
    )
    assert server.stdout
    address = re.search(r"http://\S+", server.stdout.readline())
    assert address
    first, pairs = [], []
    wishes: dict[str, list[float]] = {"length": [], "motif": [], "colours": []}
    try:
        with sync_playwright() as play:
            browser = play.chromium.launch(executable_path=shutil.which("chromium"), args=FLAGS)
            page = browser.new_page()
            page.goto(address[0])
            page.wait_for_timeout(8000)  # the workers load once
            for _ in range(rounds):
                page.goto(address[0])
                clock = page.evaluate("Date.now()")
                page.set_input_files("#choose", photo)
                page.wait_for_url("**/photo/*")
                page.evaluate(WATCH, ["#palette .nearest .bead", None])
                first.append(page.evaluate("Date.now()") - clock)
                page.evaluate(WATCH, ["#pairs > li", None])
                pairs.append(page.evaluate("Date.now()") - clock)
                page.wait_for_load_state("networkidle")
                for name, values in {
                    "length": ("40cm", "19cm"),
                    "motif": ("herringbone", "chenille"),
                    "colours": ("6", "8"),
                }.items():
                    wishes[name] += [changed(page, name, value) for value in values]
            browser.close()
    finally:
        server.terminate()
        server.wait(timeout=20)
        shutil.rmtree(folder, ignore_errors=True)
    print(f"load {os.getloadavg()[0]:.1f} on {os.cpu_count()} cores, {rounds} rounds; median (least) ms")
    for name, times, budget in (
        ("first palette with matches", first, 1500),
        ("calibration and pairs", pairs, 3000),
        *((f"{wish} changed", times, 200) for wish, times in wishes.items()),
    ):
        print(f"{name:28} {statistics.median(times):7.0f} ({min(times):.0f})  budget {budget}")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 3)
