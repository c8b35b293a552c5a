"""Colours by name: what a quilter calls a thread, as #rrggbb."""

from functools import lru_cache

from tinycss2.color4 import Color, parse_color

__all__ = ["channels", "colour_named", "colour_of_thread"]

_MOST_WORDS = 4  # in the name of a colour
_SPACES = ("srgb", "hsl", "hwb")  # of CSS: one and the same, told in other numbers


def colour_named(text: str) -> str | None:
    """Read a colour: "#2f6f9f", or a name of CSS however it is parted, as "dark blue".

    Returns
    -------
    str or None
        "#rrggbb"; nothing where the name is not known.

    Examples
    --------
    >>> colour_named("Dark blue"), colour_named("lantern")
    ('#00008b', None)
    """
    plain = "".join(text.replace("-", " ").split()) if text[:1].isalpha() else text
    for word in (text, plain):
        found = parse_color(word)
        if isinstance(found, Color) and found.space in _SPACES and word.lower() != "transparent":
            shares = found.to("srgb").coordinates
            return "#" + "".join(f"{round(255 * min(max(v, 0.0), 1.0)):02x}" for v in shares)
    return None


def channels(colour: str) -> tuple[int, int, int]:
    """Part a colour "#rrggbb" into red, green and blue, each from 0 to 255.

    Examples
    --------
    >>> channels("#2f6f9f")
    (47, 111, 159)
    """
    red, green, blue = bytes.fromhex(colour.removeprefix("#"))
    return red, green, blue


@lru_cache(maxsize=512)
def colour_of_thread(name: str) -> str | None:
    """Tell the colour of a thread from what it is called: the most words of it that name one.

    CSS knows some 150 names. What it does not know is looked up among the 949 most common answers
    of a public survey of colour names (2010, CC0), as matplotlib holds them.

    Examples
    --------
    >>> [colour_of_thread(name) for name in ("dark blue", "50 wt grey", "dark coral")]
    ['#00008b', '#808080', '#cf524e']
    >>> colour_of_thread("lantern no. 7")
    """
    words = name.lower().replace("-", " ").replace("gray", "grey").split()
    for many in range(min(len(words), _MOST_WORDS), 0, -1):
        for k in range(len(words) - many, -1, -1):
            said = " ".join(words[k : k + many])
            if found := colour_named(said) or _surveyed(said):
                return found
    return None


def _surveyed(name: str) -> str | None:
    """Look a name up in the survey."""
    from matplotlib.colors import XKCD_COLORS  # noqa: PLC0415 - slow to load, for few names only

    found = XKCD_COLORS.get(f"xkcd:{name}")
    return found if isinstance(found, str) else None
