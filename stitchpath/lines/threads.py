"""Which thread stitches which lines, and what colour it has."""

from collections.abc import Iterator

from stitchpath.base.findings import Check
from stitchpath.base.marks import PLAIN
from stitchpath.base.typing import Kind
from stitchpath.design.colours import colour_of_thread
from stitchpath.design.model import Design

__all__ = ["DEFAULT_THREAD", "may_travel", "thread_colours", "thread_for", "unknown_colours"]

DEFAULT_THREAD = "thread"  # the one thread of a design that names none


def thread_for(design: Design, kind: Kind) -> str:
    """Tell which thread stitches a kind of line.

    The first that lists the kind; else the first that lists none; else the first.
    """
    threads = design.threads
    listed = [name for name, t in threads.items() if kind in t.lines]
    rest = [name for name, t in threads.items() if not t.lines]
    return [*listed, *rest, *threads, DEFAULT_THREAD][0]


def may_travel(design: Design, thread: str, *, ditch: bool) -> bool:
    """Tell whether a thread may go along seams that it does not have to stitch.

    Seams are a way for what stitches in them, or by her own word.

    Parameters
    ----------
    design
        Its threads.
    thread
        Its name.
    ditch
        Whether it stitches ditch before anything is fused.
    """
    spec = design.threads.get(thread)
    if spec is not None and spec.travel is not None:
        return spec.travel
    return ditch and not (spec is not None and spec.contrast)


def thread_colours(design: Design) -> dict[str, str]:
    """Tell the colour of each thread, "#rrggbb": as the design says, else as its name says."""
    return {
        name: thread.colour or colour_of_thread(name) or PLAIN
        for name, thread in design.threads.items()
    } or {DEFAULT_THREAD: PLAIN}


def unknown_colours(design: Design) -> Iterator[Check]:
    """Tell of threads whose colour nothing says."""
    for name, thread in design.threads.items():
        if thread.colour is None and colour_of_thread(name) is None:
            yield Check(
                "note",
                "thread-colour",
                f"The colour of the thread {name} is not said, and its name is no colour that is "
                f'known: pictures draw it dark grey. Say it, such as colour = "#e8c75a", under '
                f'[threads."{name}"].',
            )
