"""Headless Chromium for tests of pages, from Debian's package."""

import shutil

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
