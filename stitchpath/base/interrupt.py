"""Ctrl-C: once it was pressed nothing is written, whoever swallows the exception on its way up."""

import signal
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from types import FrameType

__all__ = ["heed", "held", "listen"]


class _State:
    """Whether Ctrl-C was pressed, and whether it has to wait."""

    pressed = False
    waits = False


@contextmanager
def listen() -> Iterator[None]:
    """Remember that Ctrl-C was pressed, beside raising KeyboardInterrupt.

    Python prints and drops an exception that comes up while it tidies away an object; of this one
    nothing is shown.
    """
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    _State.pressed = _State.waits = False
    before, shown = signal.signal(signal.SIGINT, _press), sys.unraisablehook
    sys.unraisablehook = _drop
    try:
        yield
    finally:
        if not _State.waits:  # a command that is done lets Ctrl-C go to the very end
            signal.signal(signal.SIGINT, before)
        sys.unraisablehook = shown


def _drop(unraisable: "sys.UnraisableHookArgs") -> None:
    if not isinstance(unraisable.exc_value, KeyboardInterrupt):
        sys.__unraisablehook__(unraisable)


def _press(_number: int, _frame: FrameType | None) -> None:
    _State.pressed = True
    if not _State.waits:
        raise KeyboardInterrupt


def heed() -> None:
    """Stop if Ctrl-C was pressed and something has swallowed it.

    Raises
    ------
    KeyboardInterrupt
        If it was pressed.
    """
    if _State.pressed:
        raise KeyboardInterrupt


@contextmanager
def held() -> Iterator[None]:
    """Let Ctrl-C wait while files take their places: a moment that must not be cut in two.

    Once they have, a command that listens is done but for its last words: what is pressed then
    comes too late and is let go. Elsewhere it is raised afterwards.

    Raises
    ------
    KeyboardInterrupt
        If it was pressed before.
    """
    before = signal.getsignal(signal.SIGINT)
    if before is _press:
        _State.waits = True
        try:
            heed()
            yield
        except BaseException:
            _State.waits = False
            raise
    elif callable(before) and threading.current_thread() is threading.main_thread():
        late: list[FrameType | None] = []
        signal.signal(signal.SIGINT, lambda _, frame: late.append(frame))
        try:
            yield
        finally:
            signal.signal(signal.SIGINT, before)
        if late:
            before(signal.SIGINT, late[0])
    else:  # only the main thread hears of signals
        yield
