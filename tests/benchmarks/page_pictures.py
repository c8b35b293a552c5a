"""Make the README's pictures of the planning page.

Run `.venv/bin/python tests/benchmarks/page_pictures.py`; the pictures are written into `pictures/`.
"""

import io
import os
import re
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from PIL import Image
from playwright.sync_api import Page, sync_playwright

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT / "tests"))

from chromium import open_browser  # noqa: E402 - of the tests

SIZE = {"width": 1280, "height": 800}
COLOURS = 192


@contextmanager
def page_served(folder: Path) -> Iterator[str]:
    """Serve the page on a folder, and give its address."""
    command = [sys.executable, "-m", "stitchpath", "page", "--folder", str(folder), "--no-browser"]
    own = os.environ | {"XDG_STATE_HOME": str(folder / ".state"), "XDG_CONFIG_HOME": "/nowhere"}
    with subprocess.Popen(command, cwd=ROOT, env=own, stdout=subprocess.PIPE, text=True) as server:
        assert server.stdout is not None
        try:
            found = next(re.finditer(r"http://\S+", line := server.stdout.readline()), None)
            assert found is not None, line
            yield found[0]
        finally:
            server.terminate()


def keep(page: Page, name: str) -> None:
    """Keep what is seen, in as few colours as it needs."""
    picture = Image.open(io.BytesIO(page.screenshot())).convert("RGB")
    picture.quantize(COLOURS, dither=Image.Dither.NONE).save(
        ROOT / "pictures" / f"{name}.png", optimize=True
    )
    print(f"pictures/{name}.png")


def lines_drawn(page: Page) -> None:
    """Wait until the lines lie on the quilt."""
    page.get_by_text(re.compile("^To quilt:")).wait_for()
    page.wait_for_timeout(1_500)


def take(page: Page, address: str) -> None:
    """Go through the page, and keep its screens."""
    page.goto(address)
    page.locator(".pictures .card", has_text="Harbour runner").click()
    lines_drawn(page)
    page.locator("#quilt").focus()
    for key in ("ArrowRight", "ArrowRight", "ArrowRight"):
        page.keyboard.press(key)
    page.get_by_text("Put another block here").first.click()
    page.wait_for_timeout(1_500)
    keep(page, "top")
    page.get_by_role("button", name="Show three ways").click()
    page.locator("#ways article").first.wait_for(timeout=300_000)
    page.get_by_role("link", name="Pressing and lines").click()
    page.wait_for_timeout(800)
    keep(page, "lines")
    page.get_by_role("button", name="Back to the quilt").click()
    page.get_by_role("button", name="Plan the path").click()
    page.locator("#h-result").wait_for(timeout=300_000)
    film = page.frame_locator("#film")
    film.locator("#sentence:not(:empty)").wait_for()
    page.wait_for_timeout(800)
    keep(page, "path")


def main() -> None:
    """Make all pictures."""
    (ROOT / "pictures").mkdir(exist_ok=True)
    folder = Path(tempfile.mkdtemp())
    try:
        with page_served(folder) as address, sync_playwright() as play:
            browser = open_browser(play)
            page = browser.new_page(viewport=SIZE, color_scheme="light")
            page.set_default_timeout(60_000)
            take(page, address)
            browser.close()
    finally:
        shutil.rmtree(folder)


if __name__ == "__main__":
    main()
