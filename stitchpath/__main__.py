"""The way in from the command line."""

import gc
import signal
import sys

from stitchpath.base import interrupt


def main() -> None:
    """Run the command line, and mind Ctrl-C from the first moment to the last."""
    try:
        with interrupt.listen():
            from stitchpath.cli.main import main as run  # noqa: PLC0415 - Ctrl-C is heard by now

            run()
    except KeyboardInterrupt:
        sys.exit(130)
    finally:
        # All is said; while Python tidies up, Ctrl-C would only change the exit code.
        signal.signal(signal.SIGINT, signal.SIG_IGN)
        # All is about to go: to look for rings once more would take a quarter of a small plan.
        gc.freeze()


if __name__ == "__main__":
    main()
