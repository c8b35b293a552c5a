"""A kind of line given to one of her threads."""

from collections.abc import Iterator, Mapping
from typing import Any, get_args

from stitchpath.base.errors import unknown_name
from stitchpath.base.typing import Kind
from stitchpath.design.model import Design, Thread
from stitchpath.document.asked import Edit, set_value, text
from stitchpath.document.reading import Reading
from stitchpath.lines.threads import thread_for

__all__ = ["given_thread"]

_KINDS = get_args(Kind)


def given_thread(document: Reading, edit: Mapping[str, Any]) -> Iterator[Edit]:
    """Stitch a kind of line with a thread; every other kind keeps the thread that it has.

    As few lists of kinds are changed as can be: the kind is crossed out elsewhere, and listed where
    it is not what the thread takes anyway. Else each thread lists what it stitches.
    """
    kind, name = text(edit, "kind"), text(edit, "thread")
    design = document.design
    if kind not in _KINDS:
        raise unknown_name("thread", "kind of line", kind, _KINDS)
    if name not in design.threads:
        raise unknown_name("thread", "thread", name, design.threads)
    wanted = {k: thread_for(design, k) for k in _KINDS} | {kind: name}
    old: dict[str, list[str]] = {
        each: list(thread.lines) for each, thread in design.threads.items()
    }
    crossed = {each: [k for k in kinds if k != kind] for each, kinds in old.items()}
    listed = crossed | {name: [*crossed[name], kind]}
    whole: dict[str, list[str]] = {each: [k for k in _KINDS if wanted[k] == each] for each in old}
    for new in (old, crossed, listed, whole):
        if all(thread_for(_with(design, new), k) == wanted[k] for k in _KINDS):
            break
    for each, kinds in new.items():
        if kinds != old[each]:
            yield set_value("threads", each, "lines", value=kinds or None)


def _with(design: Design, lines: Mapping[str, list[str]]) -> Design:
    threads: dict[str, Thread] = {
        each: thread.model_copy(update={"lines": lines[each]})
        for each, thread in design.threads.items()
    }
    return design.model_copy(update={"threads": threads})
