"""How soon the planning page shows a change, and how smoothly it comes near.

Run `.venv/bin/python tests/benchmarks/page_speed.py`. For each shipped design: seconds to its first
picture; ms from a change of a colour to the quilt redrawn, the median of seven; frames a second
while the quilt comes nearer, and the slowest frame but one in twenty.
"""

import shutil
import statistics
import sys
import tempfile
import time
from pathlib import Path

from playwright.sync_api import Page, sync_playwright

ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT / "tests"), str(ROOT / "tests" / "benchmarks")]

from chromium import open_browser  # noqa: E402 - of the tests
from page_pictures import page_served  # noqa: E402 - beside this

CHANGE = """() => new Promise((done) => {
  const shade = document.querySelector(".fabrics input[type=color]");
  const see = new MutationObserver(() => {
    see.disconnect();
    requestAnimationFrame(() => setTimeout(() => done(performance.now() - from)));
  });
  see.observe(document.getElementById("quilt"), { attributeFilter: ["data-rev"] });
  shade.value = shade.value === "#123456" ? "#654321" : "#123456";
  const from = performance.now();
  shade.dispatchEvent(new Event("change", { bubbles: true }));
})"""
NEARER = """() => new Promise((done) => {
  const quilt = document.getElementById("quilt"), box = quilt.getBoundingClientRect();
  const times = [];
  const step = (time) => {
    times.push(time);
    quilt.dispatchEvent(new WheelEvent("wheel", { deltaY: times.length < 45 ? -40 : 35,
      clientX: box.x + 300 + times.length, clientY: box.y + 300,
      ctrlKey: true, bubbles: true, cancelable: true }));
    if (times.length < 90) return requestAnimationFrame(step);
    const took = times.slice(1).map((t, k) => t - times[k]).sort((a, b) => a - b);
    const all = took.reduce((a, b) => a + b);
    return done([(1000 * took.length) / all, took[Math.floor(took.length * 0.95)]]);
  };
  requestAnimationFrame(step);
})"""


def measure(page: Page, title: str) -> None:
    """Measure one design."""
    begun = time.monotonic()
    page.locator(".pictures .card", has_text=title).click()
    page.locator("#quilt .edge").first.wait_for(state="attached")
    first = time.monotonic() - begun
    page.get_by_text("To quilt:").wait_for()
    page.wait_for_timeout(1_000)
    frames, slowest = page.evaluate(NEARER)
    page.wait_for_timeout(1_000)
    redrawn = []
    for _ in range(7):
        redrawn.append(page.evaluate(CHANGE))
        page.wait_for_timeout(600)
    change = statistics.median(redrawn)
    print(f"| {title} | {first:.2f} | {change:.0f} | {frames:.0f} | {slowest:.0f} |")
    page.get_by_role("button", name="Another quilt").click()


def main() -> None:
    """Measure all shipped designs."""
    folder = Path(tempfile.mkdtemp())
    try:
        with page_served(folder) as address, sync_playwright() as play:
            browser = open_browser(play)
            page = browser.new_page(viewport={"width": 1440, "height": 900})
            page.set_default_timeout(60_000)
            page.goto(address)
            print("| design | first picture, s | redrawn, ms | frames a second | slow frame, ms |")
            print("|---|---:|---:|---:|---:|")
            for title in ("Harbour runner", "Star lap quilt", "Postage stamp king"):
                measure(page, title)
            browser.close()
    finally:
        shutil.rmtree(folder)


if __name__ == "__main__":
    main()
