"""The way in from the command line."""

import sys

from stitchpath import interrupt


def main() -> None:
    """Run the command line, and mind Ctrl-C from the first moment on."""
    try:
        with interrupt.listen():
            from stitchpath.cli import main as run  # noqa: PLC0415

            run()
    except KeyboardInterrupt:
        sys.exit(130)


if __name__ == "__main__":
    main()
