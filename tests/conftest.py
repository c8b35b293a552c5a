import os

import pytest
from chromium import BINARY, open_browser
from hypothesis import settings
from kept_routes import KeptRoutes

from stitchpath.cli.main import main

# The same examples on every run: what failed for one fails for all. For others, now and then:
# `pytest --hypothesis-profile=explore`.
settings.register_profile("same", derandomize=True)
settings.register_profile("explore", derandomize=False)
settings.load_profile("same")


@pytest.fixture(scope="session")
def kept_routes(tmp_path_factory):
    """Keep each route that is found, for all workers of this run."""
    ours = tmp_path_factory.getbasetemp()
    kept = KeptRoutes((ours.parent if "PYTEST_XDIST_WORKER" in os.environ else ours) / "routes")
    kept.folder.mkdir(exist_ok=True)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("stitchpath.plan._route_all", kept)
        yield kept


@pytest.fixture(autouse=True, scope="session")
def _routes_are_kept(kept_routes):
    """Begin to keep before a module makes its own plans."""


@pytest.fixture
def searched_anew(kept_routes):
    """Search every route of this test anew."""
    kept_routes.anew = True
    yield
    kept_routes.anew = False


@pytest.fixture(autouse=True)
def _what_is_patched_is_searched_anew(request):
    if "monkeypatch" in request.fixturenames:
        request.getfixturevalue("searched_anew")


@pytest.fixture
def run(capsys):
    """Run a command as a user would; give exit code, what it printed and what it complained of."""

    def command(*args):
        try:
            with pytest.MonkeyPatch.context() as patch:
                patch.setattr("sys.argv", ["stitchpath", *map(str, args)])
                patch.setenv("COLUMNS", "120")
                patch.setenv("XDG_CONFIG_HOME", "/nowhere")  # nobody's own profile
                main()
            code = 0
        except SystemExit as stop:
            code = stop.code or 0
        shown = capsys.readouterr()
        return code, shown.out, shown.err

    return command


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
