"""What is shown while a command is at work."""

from typing import Self

from rich.console import Console
from rich.progress import BarColumn, Progress, TextColumn

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
        self._label, self._first = "", 0.0

    def __enter__(self) -> Self:
        """Begin to show."""
        self._bar.start()
        return self

    def __exit__(self, *_: object) -> None:
        """Show no more."""
        self._bar.stop()

    def now(self, what: str) -> None:
        """Tell what is being done, where there is no gap to show."""
        self._label = ""
        self._bar.remove_task(self._task)  # one that has a total cannot lose it
        self._task = self._bar.add_task(what, total=None, found="")

    def tell(self, label: str, cost: float, bound: float) -> None:
        """Show how far the search for a route is."""
        gap = cost - bound
        if label != self._label:
            self._label, self._first = label, gap
        self._bar.update(
            self._task,
            description=label,
            total=1.0,
            completed=1 - gap / self._first if self._first else 1.0,
            found=f"{100 * gap / cost if cost else 0:.2f} % over the bound",
        )
