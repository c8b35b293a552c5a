"""The command page."""

from pathlib import Path

from stitchpath.cli.screen import say
from stitchpath.errors import StitchpathError

__all__ = ["run"]


def run(design: Path | None, folder: Path | None, port: int, *, browser: bool) -> None:
    """Serve the planning page."""
    try:
        from stitchpath.page.serve import serve  # noqa: PLC0415 - an extra, which may be missing
    except ModuleNotFoundError as error:
        if (error.name or "").partition(".")[0] not in ("starlette", "tomlkit", "uvicorn"):
            raise
        raise StitchpathError(
            f"page: found no {error.name}, expected the planning page to be installed: "
            'pip install "stitchpath[page]"'
        ) from None
    if design is not None and folder is None:
        design, folder = Path(design.name), design.parent
    serve(
        folder or Path(),
        design=None if design is None else str(design),
        port=port,
        browser=browser,
        say=say,
    )
