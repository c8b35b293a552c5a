import pytest
from chromium import BINARY, open_browser
from hypothesis import settings
from quilts import DESIGNS

from stitchpath.cli.main import main
from stitchpath.design.read import load_design
from stitchpath.plan import make_plan

# The same examples on every run: what failed for one fails for all. For others, now and then:
# `pytest --hypothesis-profile=explore`.
settings.register_profile("same", derandomize=True, deadline=None)
settings.register_profile("explore", derandomize=False, deadline=None)
settings.load_profile("same")


@pytest.fixture
def run(capsys, monkeypatch):
    """Run a command as a user would; give exit code, what it printed and what it complained of."""

    def command(*args):
        monkeypatch.setattr("sys.argv", ["stitchpath", *map(str, args)])
        monkeypatch.setenv("COLUMNS", "120")
        monkeypatch.setenv("XDG_CONFIG_HOME", "/nowhere")  # nobody's own profile
        try:
            main()
            code = 0
        except SystemExit as stop:
            code = stop.code or 0
        shown = capsys.readouterr()
        return code, shown.out, shown.err

    return command


@pytest.fixture(scope="session")
def runner():
    """Plan the shipped runner once: a longer search proves more of it, at the same cost."""
    return make_plan(load_design(DESIGNS / "harbour-runner.toml"), time_limit=0.5)


@pytest.fixture(scope="module")
def real_browser():
    """Start a headless browser; closed after a module, for no other loop runs beside its own."""
    if BINARY is None:
        pytest.skip("no Chromium: apt-get install chromium")
    sync_api = pytest.importorskip("playwright.sync_api", reason="pip install playwright")
    with sync_api.sync_playwright() as play:
        browser = open_browser(play)
        yield browser
        browser.close()
