"""Headless Chromium for tests of pages, from Debian's package."""

import shutil

import pytest

BINARY = shutil.which("chromium") or shutil.which("chromium-browser")
# Nothing is looked up, fetched or told beside what a test asks for.
SWITCHES = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]


def open_browser(play):
    """Start Chromium under Playwright, with a new, empty profile."""
    return play.chromium.launch(executable_path=BINARY, args=SWITCHES)


def needs_chromium():
    """Skip a module of tests where no browser can be had."""
    pytest.importorskip("playwright", reason="no Playwright: pip install playwright")
    pytest.importorskip("axe_playwright_python", reason="pip install axe-playwright-python")
    if BINARY is None:
        pytest.skip("no Chromium: apt-get install chromium", allow_module_level=True)
