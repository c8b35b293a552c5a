"""How fluent the moving guide is on a large quilt, in headless Chromium without a graphics card.

Usage: python tests/benchmarks/moving_speed.py [DESIGN.toml …]
"""

import sys
import tempfile
import time
from pathlib import Path

from playwright.sync_api import Page, sync_playwright

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))
from chromium import open_browser
from quilts import DESIGNS

from stitchpath import load_design, make_plan
from stitchpath.export.moving import plan_moving

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
      done([1000 * gaps.length / (times.at(-1) - times[0]), Math.max(...gaps)]);
    }
  };
  requestAnimationFrame(frame);
})
"""


def slide(page: Page, share: float) -> None:
    page.locator("#slide").fill(str(round(share * 1000)))


def measure(page: Page) -> list[str]:
    page.wait_for_function("window.first > 0")
    cells = [f"{page.evaluate('window.first'):8.0f} ms"]
    page.select_option("#by", "legs")
    for closer in (0, 2, 4):
        for _ in range(2 if closer else 0):
            page.click("#closer")
        for key in (None, "ArrowRight", "ArrowLeft"):
            slide(page, 0.6)
            if key is None:
                page.click("#play")
            rate, worst = page.evaluate(FRAMES, [3, key])
            cells.append(f"{rate:5.0f}/{worst:4.0f}")
    return cells


def main() -> None:
    names = [Path(name) for name in sys.argv[1:]] or [DESIGNS / "postage-stamp-king.toml"]
    print("first picture; frames a second and longest frame, ms: play, step on, step back")
    print(f"{'':28}{'file':>9}{'making':>9}{'first':>11}{'whole':>31}{'closer':>31}{'closest':>31}")
    with sync_playwright() as play, tempfile.TemporaryDirectory() as folder:
        browser = open_browser(play)
        for name in names:
            plan = make_plan(load_design(name), time_limit=2.0)
            begun = time.process_time()
            text = plan_moving(plan)
            making = time.process_time() - begun
            file = Path(folder, f"{name.stem}.html")
            file.write_text(text, "utf-8")
            for width, height, sharp in SIZES:
                context = browser.new_context(
                    viewport={"width": width, "height": height}, device_scale_factor=sharp
                )
                context.add_init_script(FIRST)
                page = context.new_page()
                page.goto(file.as_uri())
                size = f"{len(text.encode()) // 1000:6} kB{making:7.1f} s"
                print(f"{name.stem:20}{width:5} px", size, *measure(page), flush=True)
                context.close()
        browser.close()


if __name__ == "__main__":
    main()
