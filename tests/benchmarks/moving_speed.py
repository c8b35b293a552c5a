"""How fluent the moving guide is on a large quilt, in headless Chromium without a graphics card.

Usage: python tests/benchmarks/moving_speed.py [DESIGN.toml …]
"""

import sys
import tempfile
import time
from pathlib import Path

from playwright.sync_api import Browser, Page, sync_playwright

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))
from chromium import open_browser
from quilts import DESIGNS

from stitchpath import load_design, make_plan
from stitchpath.export.moving import plan_moving

SECONDS = 3
SIZES = ((360, 740, 2.0), (1440, 900, 1.0))
FIRST = """
new MutationObserver(() => {
  const said = document.getElementById("sentence");
  if (said?.textContent && !window.first) {
    window.first = -1;
    requestAnimationFrame(() => setTimeout(() => { window.first = performance.now(); }));
  }
}).observe(document, { subtree: true, childList: true, characterData: true });
"""
FRAMES = """
([seconds, key]) => new Promise((done) => {
  const times = [];
  const frame = (time) => {
    times.push(time);
    if (key) document.body.dispatchEvent(new KeyboardEvent("keydown", { key, bubbles: true }));
    if (time - times[0] < 1000 * seconds) requestAnimationFrame(frame);
    else {
      const gaps = times.slice(1).map((t, i) => t - times[i]);
      done([1000 * gaps.length / (times.at(-1) - times[0]), Math.max(...gaps), gaps.length]);
    }
  };
  requestAnimationFrame(frame);
})
"""


def cpu(browser: Browser) -> float:
    """Processor time that all processes of the browser have taken, ms."""
    session = browser.new_browser_cdp_session()
    used = session.send("SystemInfo.getProcessInfo")["processInfo"]
    session.detach()
    return 1000 * sum(process["cpuTime"] for process in used)


def measure(browser: Browser, page: Page, file: Path) -> list[str]:
    before = cpu(browser)
    page.goto(file.as_uri())
    page.locator("#sentence:not(:empty)").wait_for()
    page.evaluate("() => new Promise((done) => setTimeout(done, 50))")
    cells = [f"{page.evaluate('window.first'):6.0f}/{cpu(browser) - before:5.0f}"]
    page.evaluate(
        "document.querySelectorAll('#checks label').forEach((l, i) => i < 2 && l.click())"
    )
    while page.inner_text("#times") != "whole":
        page.click("#farther")
    page.select_option("#by", "legs")
    for closer in (0, 2, 4):
        for _ in range(2 if closer else 0):
            page.click("#closer")
        for key in (None, "ArrowRight", "ArrowLeft"):
            page.locator("#slide").fill("600")
            if key is None:
                page.click("#play")
            before = cpu(browser)
            rate, worst, frames = page.evaluate(FRAMES, [SECONDS, key])
            each = (cpu(browser) - before) / frames
            cells.append(f"{rate:5.0f}/{worst:4.0f}/{each:3.0f}")
            page.keyboard.press("End")
    return cells


def main() -> None:
    names = [Path(name) for name in sys.argv[1:]] or [DESIGNS / "postage-stamp-king.toml"]
    print(
        "first picture: ms on the wall / of processor time; then, at three closenesses, for play,"
    )
    print("step on, step back: frames a second / longest frame, ms / CPU of a frame, ms")
    with sync_playwright() as play, tempfile.TemporaryDirectory() as folder:
        for name in names:
            plan = make_plan(load_design(name), time_limit=2.0)
            begun = time.process_time()
            text = plan_moving(plan)
            print(f"{name.stem}: {len(text.encode()) // 1000} kB made in", end=" ")
            print(f"{time.process_time() - begun:.1f} s")
            file = Path(folder, f"{name.stem}.html")
            file.write_text(text, "utf-8")
            for width, height, sharp in SIZES:
                browser = open_browser(play)
                page = browser.new_page(
                    viewport={"width": width, "height": height}, device_scale_factor=sharp
                )
                page.add_init_script(FIRST)
                print(f"{width:5} px", *measure(browser, page, file), flush=True)
                browser.close()


if __name__ == "__main__":
    main()
