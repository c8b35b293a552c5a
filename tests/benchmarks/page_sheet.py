"""Draw every screen of the planning page at three widths, light and dark, to be looked at.

Run `.venv/bin/python tests/benchmarks/page_sheet.py FOLDER`, or with `1440 dark` for one of them; a
sheet for each width and scheme is written there, and a folder with each screen as large as it is.
Look for what a maker would stumble over.
"""

import io
import re
import shutil
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

from PIL import Image
from playwright.sync_api import Page, sync_playwright

ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT / "tests"), str(ROOT / "tests" / "benchmarks")]

from chromium import open_browser  # noqa: E402 - of the tests
from page_pictures import page_served  # noqa: E402 - beside this

SIZES = {360: (740, 6, 1.0), 1024: (768, 4, 0.6), 1440: (900, 3, 0.55)}  # height, columns, scale
LONG = 300_000  # ms
GAP = 8  # px


def screens(page: Page) -> Iterator[None]:
    """Go through the page, and stop at each screen."""
    yield
    page.locator(".pictures .card", has_text="Harbour runner").click()
    page.get_by_text(re.compile("^To quilt:")).wait_for()
    for keys in ((), ("ArrowRight",), ("ArrowDown",), ("End",), ("ArrowUp", "End")):
        page.locator("#quilt").focus()
        for key in keys:
            page.keyboard.press(key)
        yield
    for part in ("The top", "Pressing and lines", "The path", "To take away"):
        page.get_by_role("link", name=part).click()
        yield
    page.get_by_label("name of a block of your own").fill("wave")
    page.keyboard.press("Enter")
    page.locator("#table").wait_for()
    yield
    page.get_by_role("button", name="Show three ways").click()
    page.locator("#ways article").first.wait_for(timeout=LONG)
    yield
    page.get_by_role("button", name="Plan the path").click()
    page.locator("progress").wait_for()
    yield
    page.locator("#h-result").wait_for(timeout=LONG)
    yield
    page.get_by_label("width of border 1").first.fill("4")
    page.keyboard.press("Enter")
    page.get_by_text("The quilt was changed since").wait_for()
    yield
    page.get_by_role("button", name="Plan the path anew").click()
    page.locator(".both").wait_for(timeout=LONG)
    page.locator(".both").scroll_into_view_if_needed()
    yield
    page.get_by_role("button", name="Back to the quilt itself").click()
    page.get_by_role("link", name="To take away").click()
    yield


def sheet(pictures: list[Image.Image], columns: int, scale: float) -> Image.Image:
    """Lay pictures side by side."""
    wide, high = (round(side * scale) for side in pictures[0].size)
    rows = -(-len(pictures) // columns)
    made = Image.new("RGB", (columns * (wide + GAP), rows * (high + GAP)), "#888888")
    for k, picture in enumerate(pictures):
        row, column = divmod(k, columns)
        made.paste(picture.resize((wide, high)), (column * (wide + GAP), row * (high + GAP)))
    return made


def main() -> None:
    """Make all sheets."""
    into, folder = Path(sys.argv[1]), Path(tempfile.mkdtemp())
    try:
        for scheme in sys.argv[3:] or ("light", "dark"):
            for width, (height, columns, scale) in SIZES.items():
                if sys.argv[2:] and sys.argv[2] not in ("all", f"{width}"):
                    continue
                with page_served(folder) as address, sync_playwright() as play:
                    browser = open_browser(play)
                    size = {"width": width, "height": height}
                    page = browser.new_page(
                        viewport=size, color_scheme="dark" if scheme == "dark" else "light"
                    )
                    page.goto(address)
                    page.locator("#empty").wait_for()
                    pictures = []
                    for _ in screens(page):
                        page.wait_for_timeout(900)
                        pictures.append(Image.open(io.BytesIO(page.screenshot())))
                    browser.close()
                place = into / f"page-{scheme}-{width}.png"
                sheet(pictures, columns, scale).save(place)
                print(place)
                place.with_suffix("").mkdir(exist_ok=True)
                for k, picture in enumerate(pictures):
                    picture.save(place.with_suffix("") / f"{k:02}.png")
    finally:
        shutil.rmtree(folder)


if __name__ == "__main__":
    main()
