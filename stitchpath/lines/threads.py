"""Which thread stitches which lines."""

from stitchpath.design.model import Design
from stitchpath.typing import Kind

__all__ = ["DEFAULT_THREAD", "thread_for"]

DEFAULT_THREAD = "thread"  # the one thread of a design that names none


def thread_for(design: Design, kind: Kind) -> str:
    """Tell which thread stitches a kind of line.

    The first that lists the kind; else the first that lists none; else the first.
    """
    threads = design.threads
    listed = [name for name, t in threads.items() if kind in t.lines]
    rest = [name for name, t in threads.items() if not t.lines]
    return [*listed, *rest, *threads, DEFAULT_THREAD][0]
