"""What is shown while a command is at work."""

from typing import Self

from rich.console import Console
from rich.progress import BarColumn, Progress, TextColumn

from stitchpath.told.progress import Search

__all__ = ["Watch"]


class Watch:
    """Shows what is being done, and best, bound and gap while the route is searched.

    On a terminal only.

    The bar is full when the first gap of what is being searched is closed.
    """

    def __init__(self, console: Console | None = None) -> None:
        console = console or Console(stderr=True)
        self._bar = Progress(
            TextColumn("{task.description}"),
            BarColumn(),
            TextColumn("{task.fields[found]}"),
            console=console,
            disable=not console.is_terminal,
            transient=True,
        )
        self._task = self._bar.add_task("laying out the top", total=None, found="")
        self._search = Search()

    def __enter__(self) -> Self:
        """Begin to show."""
        self._bar.start()
        return self

    def __exit__(self, *_: object) -> None:
        """Show no more."""
        self._bar.stop()

    def now(self, what: str) -> None:
        """Tell what is being done, where there is no gap to show."""
        self._search.restart()
        self._bar.remove_task(self._task)  # one that has a total cannot lose it
        self._task = self._bar.add_task(what, total=None, found="")

    def tell(self, label: str, cost: float, bound: float) -> None:
        """Show how far the search for a route is."""
        share, words = self._search.heard(label, cost, bound)
        self._bar.update(self._task, description=label, total=1.0, completed=share, found=words)
