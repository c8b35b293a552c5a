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


class Windows:
    """Windows of fresh profiles: what a page complains of, or asks for elsewhere, fails the test.

    `near` tells whether a page may ask for an address, `fine` whether it may say a message.
    """

    def __init__(self, browser, near, fine=lambda _: False):
        self.browser, self.near, self.fine = browser, near, fine
        self.wrong, self.own = [], []

    def fresh(self, address, size, script=None, patience=20_000, **options):
        """Open an address in a window of its own; `size` is its width and height."""
        width, height = size
        context = self.browser.new_context(viewport={"width": width, "height": height}, **options)
        self.own.append(context)
        if script:
            context.add_init_script(script)
        page = context.new_page()
        page.set_default_timeout(patience)
        page.on("console", self._heard)
        page.on("pageerror", lambda error: self.wrong.append(str(error)))
        page.on("request", lambda asked: self.near(asked.url) or self.wrong.append(asked.url))
        page.goto(address)
        return page

    def _heard(self, message):
        if not self.fine(message):
            self.wrong.append(f"{message.text} {message.location}")

    def close(self):
        """Close them, and fail for what was wrong."""
        for context in self.own:
            context.close()
        self.own.clear()
        wrong, self.wrong = self.wrong, []
        assert wrong == []
