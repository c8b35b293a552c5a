"""The command new."""

from importlib import resources
from pathlib import Path

from stitchpath.base.errors import StitchpathError
from stitchpath.cli.screen import say
from stitchpath.export.files import write_whole

__all__ = ["run"]


def run(file: Path) -> None:
    """Begin a design."""
    if file.exists():
        raise StitchpathError(f"{file}: found a file already there, expected a new name")
    text = (resources.files("stitchpath.design") / "starter.toml").read_text("utf-8")
    write_whole({file: text.encode()})
    say(f"wrote {file}; plan it with: stitchpath plan {file}")
