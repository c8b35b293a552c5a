import pytest
from chromium import BINARY, open_browser
from drawn import line, svg
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


@pytest.fixture(scope="session")
def strip(tmp_path_factory):
    """Plan a drawn strip that has no blocks: two small grids far apart, joined by long seams."""
    ends, steps = (40, 460), range(5)
    lines = [line(0, y, 600, y) for y in (0, 30, 150, 180)] + [line(x, 0, x, 180) for x in (0, 600)]
    lines += [line(x + 25 * k, 30, x + 25 * k, 150) for x in ends for k in steps]
    lines += [line(x, 30 + 24 * k, x + 100, 30 + 24 * k) for x in ends for k in steps]
    folder = tmp_path_factory.mktemp("strip")
    (folder / "strip.svg").write_text(svg(("600mm", "180mm"), "0 0 600 180", *lines))
    text = 'name = "Strip"\nunit = "cm"\n[top]\ndrawing = "strip.svg"\n'
    (folder / "strip.toml").write_text(text)
    return make_plan(load_design(folder / "strip.toml"), time_limit=0, cures=False)
