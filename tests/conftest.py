import pytest

from stitchpath.cli.main import main


@pytest.fixture
def run(capsys, monkeypatch):
    """Run a command as a user would; give exit code, what it printed and what it complained of."""

    def command(*args):
        monkeypatch.setattr("sys.argv", ["stitchpath", *map(str, args)])
        monkeypatch.setenv("COLUMNS", "120")
        try:
            main()
            code = 0
        except SystemExit as stop:
            code = stop.code or 0
        shown = capsys.readouterr()
        return code, shown.out, shown.err

    return command
