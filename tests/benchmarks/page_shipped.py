"""Open each shipped design on the planning page, change, plan and save it, and open it again.

Run `.venv/bin/python tests/benchmarks/page_shipped.py`, or with titles; the king takes a minute or
two. All but the word that was changed has to be byte for byte the same, and the path has to be
there again after the server ended. It tells how soon the first figures of a search are on the page.
"""

import re
import shutil
import sys
import tempfile
import time
from pathlib import Path

from playwright.sync_api import Page, sync_playwright

ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT / "tests"), str(ROOT / "tests" / "benchmarks")]

from chromium import open_browser  # noqa: E402 - of the tests
from page_pictures import page_served  # noqa: E402 - beside this

LONG = 600_000  # ms
TITLES = ("Curved cushion", "Harbour runner", "Star lap quilt", "Postage stamp king")


def changed(page: Page, title: str) -> bytes:
    """Open a shipped design, change its name, and give the text that it should then have."""
    page.locator(".pictures .card", has_text=title).click()
    page.get_by_text(re.compile("^To quilt:")).wait_for(timeout=LONG)
    before = text(page)
    page.get_by_label("name of the quilt").fill(f"{title} of ours")
    page.keyboard.press("Enter")
    page.get_by_role("button", name=f"Undo: called {title} of ours").wait_for(timeout=LONG)
    return before.replace(f'name = "{title}"'.encode(), f'name = "{title} of ours"'.encode(), 1)


def text(page: Page) -> bytes:
    """Give the design as it is written."""
    home, _, way = page.url.partition("#")
    return page.request.get(f"{home}api/designs/{way.strip('/')}/text").body()


def planned(page: Page) -> tuple[float, float]:
    """Plan it; give the seconds to the first figures and to the path."""
    begun = time.monotonic()
    page.get_by_role("button", name="Plan the path").click()
    figures = page.get_by_text(re.compile("none can take less")).or_(page.locator("#h-result"))
    figures.first.wait_for(timeout=LONG)
    first = time.monotonic() - begun
    page.locator("#h-result").wait_for(timeout=LONG)
    return first, time.monotonic() - begun


def main() -> None:
    """Go through all of them."""
    folder = Path(tempfile.mkdtemp())
    try:
        with sync_playwright() as play:
            for title in sys.argv[1:] or TITLES:
                page = open_browser(play).new_page(viewport={"width": 1440, "height": 900})
                page.set_default_timeout(LONG)
                name = f"{title.lower().replace(' ', '-')}-of-ours.toml"
                with page_served(folder) as address:
                    page.goto(address)
                    expected = changed(page, title)
                    figures, whole = planned(page)
                    page.keyboard.press("Control+s")
                    page.get_by_text(f"Saved as {name}.").first.wait_for()
                with page_served(folder) as address:
                    page.goto(address)
                    page.locator(".card", has_text=name).click()
                    page.locator("#h-result").wait_for()
                    same = (folder / name).read_bytes() == expected == text(page)
                    old = page.get_by_text("The quilt was changed since").count()
                print(
                    f"{title}: figures after {figures:.1f} s, path after {whole:.1f} s, "
                    f"{'same' if same else 'OTHER'} bytes, its path there again"
                    f"{', TOLD AS OLD' if old else ''}"
                )
                page.context.browser.close()
    finally:
        shutil.rmtree(folder)


if __name__ == "__main__":
    main()
