"""Puts the designs that the page ships into the package; all else stands in pyproject.toml."""

import shutil
from pathlib import Path

from setuptools import setup
from setuptools.command.build_py import build_py

HOME = Path(__file__).parent
KINDS = (".svg", ".toml")


class WithDesigns(build_py):
    """Builds the package, with the designs of the clone in it."""

    def run(self) -> None:
        """Build; a package that is only linked to finds them in the clone."""
        super().run()
        if not self.editable_mode:
            place = Path(self.build_lib, "stitchpath", "shipped")
            place.mkdir(parents=True, exist_ok=True)
            for path in sorted((HOME / "designs").iterdir()):
                if path.suffix in KINDS:
                    shutil.copyfile(path, place / path.name)


setup(cmdclass={"build_py": WithDesigns})
