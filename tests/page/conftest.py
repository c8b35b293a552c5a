"""A page that is served, and a browser that was let in."""

import shutil
import threading
from dataclasses import dataclass
from pathlib import Path

import httpx
import pytest
from quilts import DESIGNS, SQUARES

from stitchpath.page.app import page_app
from stitchpath.page.folder import Folder
from stitchpath.page.guard import Door
from stitchpath.page.serve import listen, page_server


@dataclass
class Served:
    """A page at work."""

    folder: Path
    door: Door

    def browser(self, **headers: str) -> httpx.Client:
        """Give a browser that has not been let in yet."""
        said = {"Origin": self.door.origin, **headers}
        return httpx.Client(base_url=self.door.origin, headers=said, timeout=120)

    def let_in(self) -> httpx.Client:
        """Give a browser that was let in."""
        browser = self.browser()
        assert browser.post("/api/enter", json={"token": self.door.token}).status_code == 200
        return browser

    def open(self, browser: httpx.Client, **asked: object) -> dict:
        """Open a design, and give how it is."""
        answer = browser.post("/api/designs", json=asked)
        assert answer.status_code == 200, answer.text
        return answer.json()

    def put(self, name: str, text: str = SQUARES) -> str:
        """Lay a design into the folder."""
        (self.folder / name).write_text(text, "utf-8")
        return name


@pytest.fixture(scope="session")
def served(tmp_path_factory):
    """Serve one page for all tests; each works on files of its own."""
    folder = tmp_path_factory.mktemp("designs")
    shutil.copy(DESIGNS / "starfish.svg", folder)
    place = listen(0)
    door = Door(place.getsockname()[1])
    ready = threading.Event()
    plans = tmp_path_factory.mktemp("plans")
    server = page_server(page_app(Folder(folder), door, plans=plans), ready.set)
    thread = threading.Thread(target=server.run, kwargs={"sockets": [place]})
    thread.start()
    assert ready.wait(60)
    yield Served(folder, door)
    server.should_exit = True
    thread.join(60)
    place.close()
    assert not thread.is_alive()


@pytest.fixture(scope="session")
def browser(served):
    """Give one browser that was let in."""
    browser = served.let_in()
    yield browser
    browser.close()
