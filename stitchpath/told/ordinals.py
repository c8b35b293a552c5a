"""Numbers as words."""

__all__ = ["counted", "ordinal"]

_ORDINALS = ("first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth")
_COUNTS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten")


def ordinal(number: int) -> str:
    """Word which of several, from 1, as in "third" or "12th".

    Examples
    --------
    >>> ordinal(3), ordinal(12), ordinal(21)
    ('third', '12th', '21st')
    """
    if number <= len(_ORDINALS):
        return _ORDINALS[number - 1]
    teen = number // 10 % 10 == 1
    return f"{number}" + ("th" if teen else {1: "st", 2: "nd", 3: "rd"}.get(number % 10, "th"))


def counted(number: int) -> str:
    """Word how many there are, from ten on as digits.

    Examples
    --------
    >>> counted(2), counted(12)
    ('two', '12')
    """
    return _COUNTS[number] if number < len(_COUNTS) else f"{number}"
