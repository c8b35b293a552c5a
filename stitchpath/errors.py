"""The one error that stitchpath raises on purpose."""

__all__ = ["StitchpathError"]


class StitchpathError(ValueError):
    """Something the user gave cannot be used.

    Its text is one clear sentence for the user: which file and place, what was found, what was
    expected. The command line prints it and exits with code 1; nothing is written.
    """
