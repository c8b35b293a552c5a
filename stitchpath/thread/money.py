"""What it costs, if asked: a bill of lines that add up to the cent."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, fields
from decimal import ROUND_HALF_UP, Decimal
from itertools import chain

from stitchpath.base.errors import StitchpathError
from stitchpath.thread.consumption import ThreadUse

__all__ = ["Bill", "BillLine", "Charges", "bill"]

_CENT = Decimal("0.01")
_SQUARE_INCH = 645.16  # mm²


@dataclass(frozen=True, slots=True)
class Charges:
    """What is charged, in any currency; what is None is not charged.

    Attributes
    ----------
    currency
        A label and no more.
    thread
        Per metre of thread, of which `threads` may name others by thread.
    batting
        Per square metre.
    backing
        Per metre of fabric length.
    hour, square_inch
        The quilting: by the hour, or by the square inch of the finished top.
    least
        Least charge for the quilting.
    loading, thread_flat
        For loading the quilt, and for all thread together.
    batting_length
        Per metre of the batting's length.
    tax
        On the sum of all else, per cent.
    """

    currency: str = ""
    thread: float | None = None
    threads: Mapping[str, float] = field(default_factory=dict)
    batting: float | None = None
    backing: float | None = None
    hour: float | None = None
    square_inch: float | None = None
    least: float | None = None
    loading: float | None = None
    thread_flat: float | None = None
    batting_length: float | None = None
    tax: float | None = None

    def __post_init__(self) -> None:
        """Refuse to charge the quilting twice, or less than nothing."""
        prices = ((f.name, getattr(self, f.name)) for f in fields(self) if f.name != "currency")
        for name, value in chain(prices, self.threads.items()):
            if isinstance(value, (int, float)) and not value >= 0:
                raise StitchpathError(f"{name}: found {value:g}, expected nothing or more")
        if self.hour is not None and self.square_inch is not None:
            raise StitchpathError(
                "found a price by the hour and one by the square inch, "
                "expected the quilting to be charged one way"
            )


@dataclass(frozen=True, slots=True)
class BillLine:
    """One line: so much of a thing at a price."""

    what: str
    quantity: float
    unit: str
    price: float
    amount: Decimal


@dataclass(frozen=True, slots=True)
class Bill:
    """What it costs, line by line.

    Attributes
    ----------
    lines
        In order.
    currency
        A label.
    """

    lines: tuple[BillLine, ...]
    currency: str

    @property
    def total(self) -> Decimal:
        """Exactly the sum of the lines."""
        return sum((line.amount for line in self.lines), Decimal("0.00"))


def bill(
    charges: Charges,
    *,
    width: float,
    height: float,
    seconds: float = 0.0,
    uses: Sequence[ThreadUse] = (),
    batting: tuple[float, float] = (0.0, 0.0),
    backing: float = 0.0,
) -> Bill:
    """Make up the bill.

    Parameters
    ----------
    charges
        What is charged.
    width, height
        Of the finished top, mm.
    seconds
        Time at the machine.
    uses
        Thread, charged with its waste.
    batting
        Area cut, mm², and length, mm.
    backing
        Length of fabric cut, mm.
    """
    found: list[BillLine] = []
    for use in uses:
        price = charges.threads.get(use.name, charges.thread)
        found += _line(f"thread {use.name}", use.total / 1000, "m", price)
    found += _line("thread", 1, "", charges.thread_flat)
    found += _line("batting", batting[0] / 1e6, "m²", charges.batting)
    found += _line("batting", batting[1] / 1000, "m", charges.batting_length)
    found += _line("backing", backing / 1000, "m", charges.backing)
    found += _line("loading", 1, "", charges.loading)
    square_inches = width * height / _SQUARE_INCH
    quilting = [
        *_line("quilting", seconds / 3600, "h", charges.hour),
        *_line("quilting", square_inches, "square inch", charges.square_inch),
    ]
    found += quilting
    if charges.least is not None:
        short = _cents(charges.least) - sum(line.amount for line in quilting)
        if short > 0:
            found.append(BillLine("up to the least charge", 1, "", float(short), short))
    if charges.tax:
        base = sum((line.amount for line in found), Decimal("0.00"))
        tax = _cents(float(base) * charges.tax / 100)
        found.append(BillLine(f"tax, {charges.tax:g} % of {base}", 1, "", float(tax), tax))
    return Bill(tuple(found), charges.currency)


def _line(what: str, quantity: float, unit: str, price: float | None) -> Iterable[BillLine]:
    """One line, if it is charged and there is any of it."""
    if price is not None and quantity > 0:
        yield BillLine(what, quantity, unit, price, _cents(quantity * price))


def _cents(amount: float) -> Decimal:
    """Round to cents, half up as a till does.

    The product is first brought to nine places, where binary fractions no longer tell.
    """
    return Decimal(f"{amount:.9f}").quantize(_CENT, rounding=ROUND_HALF_UP)
