"""Thread sizes: every way of writing them on a spool, turned into tex."""

import re
from collections.abc import Callable
from dataclasses import dataclass

from stitchpath.base.errors import StitchpathError

__all__ = [
    "FIBRE_DENSITY",
    "SPOOLS",
    "ThreadKind",
    "parse_thread_size",
    "tex_to_cotton",
    "tex_to_denier",
    "tex_to_metric",
]

FIBRE_DENSITY = {
    "cotton": 1.52,
    "polyester": 1.39,
    "nylon": 1.14,
    "silk": 1.34,
    "rayon": 1.49,
    "wool": 1.31,
    "linen": 1.50,
}
"""Grams per cubic centimetre at 65 % humidity. Source: Morton and Hearle, *Physical Properties of
Textile Fibres*, table 5.1; linen from memory."""

SPOOLS = (200, 500, 1000, 3000)
"""Lengths of spools and cones that are often sold, m; from memory."""

_COTTON = 590.541
"""Tex times cotton number (840 yd hanks per pound). Source: ASTM D2260, after ISO 2947."""

_FROM_NUMBER: dict[str, Callable[[float], float]] = {
    "tex": lambda n: n,
    "dtex": lambda n: n / 10,
    "denier": lambda n: n / 9,
    "metric": lambda n: 1000 / n,
    "cotton": lambda n: _COTTON / n,
    "ticket": lambda n: 3000 / n,
}
"""Number to tex, by system. Sources: ISO 2947 and ASTM D2260; the metric ticket number, the metric
number of a third of the thread, is common practice in the sewing thread trade."""

_WORDS = {
    "tex": "tex",
    "t": "tex",
    "dtex": "dtex",
    "decitex": "dtex",
    "denier": "denier",
    "den": "denier",
    "d": "denier",
    "td": "denier",
    "nm": "metric",
    "metric": "metric",
    "wt": "metric",
    "weight": "metric",
    "ne": "cotton",
    "nec": "cotton",
    "cotton": "cotton",
    "tkt": "ticket",
    "ticket": "ticket",
}

_SIZE = re.compile(
    r"(?:(?P<before>[a-z]+)[\s.:-]*)?(?P<number>\d+(?:\.\d+)?)(?:\s*/\s*(?P<plies>\d+))?"
    r"(?:[\s-]*(?P<after>[a-z]+))?"
)
_EXPECTED = (
    'expected a size such as "tex 30", "50 wt", "270 denier", "Nm 50", "Ne 60/3" or "tkt 120"'
)
_FINEST, _COARSEST = 2.0, 1000.0  # tex: finer breaks at a touch, coarser is cord


def parse_thread_size(text: str) -> float:
    """Read a thread size as it stands on a spool.

    A plain "wt" is read as the metric number (50 wt is 50 km per kilogram, tex 20), which is how
    quilting thread is mostly sold; spools that mean the cotton number by it are coarser, so tex on
    the label is the better thing to type in. With metric and cotton numbers a slash gives the
    plies: Ne 60/3 is three strands of 60, together number 20.

    Parameters
    ----------
    text
        The size with its system: tex, dtex, denier, wt, metric (Nm), cotton (Ne) or ticket number.

    Returns
    -------
    float
        Tex, that is grams per kilometre.

    Raises
    ------
    StitchpathError
        If the text is no size, names no system, or no thread could have that size.

    Examples
    --------
    >>> parse_thread_size("50 wt")
    20.0
    >>> parse_thread_size("270 denier")
    30.0
    """
    found = _SIZE.fullmatch(text.strip().lower())
    words = [word for word in (found["before"], found["after"]) if word] if found else []
    if found is None or len(words) != 1 or words[0] not in _WORDS:
        raise StitchpathError(f'thread size: found "{text[:60]}", {_EXPECTED}')
    system, number = _WORDS[words[0]], float(found["number"])
    if found["plies"]:
        if words[0] in {"wt", "weight"} or system not in {"metric", "cotton"}:
            raise StitchpathError(
                f'thread size: found "{text}", but a slash for plies is clear only with a metric '
                'or a cotton number, as in "Nm 100/2" or "Ne 60/3"'
            )
        number /= max(int(found["plies"]), 1)
    tex = _FROM_NUMBER[system](number) if number else 0.0
    if not _FINEST <= tex <= _COARSEST:
        raise StitchpathError(
            f'thread size: found "{text}", which is tex {tex:.4g}, expected a sewing thread '
            f"between tex {_FINEST:g} and tex {_COARSEST:g}"
        )
    return tex


def tex_to_denier(tex: float) -> float:
    """Grams per 9 km. Source: ISO 2947."""
    return 9 * tex


def tex_to_metric(tex: float) -> float:
    """Kilometres per kilogram, the quilter's "wt". Source: ISO 2947."""
    return 1000 / tex


def tex_to_cotton(tex: float) -> float:
    """Hanks of 840 yd per pound. Source: ASTM D2260, after ISO 2947."""
    return _COTTON / tex


@dataclass(frozen=True, slots=True)
class ThreadKind:
    """A thread as it is bought.

    Attributes
    ----------
    name
        What the design calls it.
    tex
        Grams per kilometre.
    fibre
        A key of `FIBRE_DENSITY`.
    per_bobbin
        Her own measure of how much of it one bobbin takes, mm, or None to reckon it.
    spools
        Lengths of the spools and cones it is sold on, whole m.
    """

    name: str
    tex: float = 20.0
    fibre: str = "cotton"
    per_bobbin: float | None = None
    spools: tuple[int, ...] = SPOOLS

    def __post_init__(self) -> None:
        """Refuse a fibre nobody has weighed and a size no thread has."""
        if self.fibre not in FIBRE_DENSITY:
            raise StitchpathError(
                f'thread "{self.name}": found the fibre "{self.fibre}", '
                f"expected one of {', '.join(FIBRE_DENSITY)}"
            )
        if not _FINEST <= self.tex <= _COARSEST:
            raise StitchpathError(
                f'thread "{self.name}": found tex {self.tex:g}, '
                f"expected between {_FINEST:g} and {_COARSEST:g}"
            )
        if self.per_bobbin is not None and not self.per_bobbin > 0:
            raise StitchpathError(
                f'thread "{self.name}": found {self.per_bobbin:g} mm per bobbin, '
                "expected a length above nothing"
            )

    @property
    def section(self) -> float:
        """Solid fibre in a cut through the thread, mm²: tex over fibre density."""
        return self.tex / (FIBRE_DENSITY[self.fibre] * 1000)
