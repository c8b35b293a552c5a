"""The command page."""

from importlib import import_module
from pathlib import Path

from stitchpath.base.errors import StitchpathError
from stitchpath.cli.commands.asked import told_profile
from stitchpath.cli.screen import say

__all__ = ["run"]

_EXTRA = ("starlette", "tomlkit", "uvicorn")


def run(
    design: Path | None,
    folder: Path | None,
    port: int,
    *,
    browser: bool,
    profile: Path | None = None,
) -> None:
    """Serve the planning page."""
    for name in _EXTRA:
        try:
            import_module(name)
        except ModuleNotFoundError:
            raise StitchpathError(
                f"page: found no {name}, expected the planning page to be installed: "
                'pip install "stitchpath[page]"'
            ) from None
    from stitchpath.page.serve import serve  # noqa: PLC0415 - it cannot be loaded without these

    if design is not None and folder is None:
        design, folder = Path(design.name), design.parent
    serve(
        folder or Path(),
        design=None if design is None else str(design),
        port=port,
        browser=browser,
        profile=told_profile(profile),
        say=say,
    )
