"""Sizes of paper."""

from dataclasses import dataclass

__all__ = ["A4", "A5", "HALF_LETTER", "LETTER", "Paper"]


@dataclass(frozen=True, slots=True)
class Paper:
    """A size of paper, mm, upright."""

    name: str
    width: float
    height: float


A4 = Paper("A4", 210.0, 297.0)  # ISO 216
LETTER = Paper("US Letter", 8.5 * 25.4, 11 * 25.4)  # ANSI/ASME Y14.1, size A
A5 = Paper("A5", 148.0, 210.0)  # ISO 216
HALF_LETTER = Paper("half US Letter", 5.5 * 25.4, 8.5 * 25.4)  # a Letter sheet cut in two
