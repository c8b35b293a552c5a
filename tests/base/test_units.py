import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from stitchpath.base.errors import StitchpathError
from stitchpath.base.units import MM_PER, format_length, parse_length


@pytest.mark.parametrize(
    ("text", "mm"),
    [
        ("6 1/2 in", 165.1),
        ('6½"', 165.1),
        ("6-1/2 in", 165.1),
        ("16.5 cm", 165.0),
        ("165 mm", 165.0),
        (6.5, 165.1),
        ("6.5", 165.1),
        ("¼", 6.35),
        ("1/4 in", 6.35),
        (".5 in", 12.7),
        ("1 yd", 914.4),
        ("2 m", 2000.0),
        ("3 inches", 76.2),
    ],
)
def test_a_length_is_read_as_a_quilter_writes_it(text, mm):
    assert parse_length(text, "in") == pytest.approx(mm, abs=1e-9)


@pytest.mark.parametrize(
    "text",
    ["", "six", "6 1/0 in", "6 in 2", "1e3", "nan", "inf", True, None, [1], "6 feet", "1//2"],
)
def test_a_bad_length_is_refused_with_what_was_expected(text):
    with pytest.raises(StitchpathError, match="expected"):
        parse_length(text, "in")


@pytest.mark.parametrize("text", ["-1 in", -1, "−2 cm"])  # noqa: RUF001 - a minus sign is typed too
def test_a_negative_length_is_refused(text):
    with pytest.raises(StitchpathError, match="of zero or more"):
        parse_length(text, "in")


@pytest.mark.parametrize("value", [float("inf"), float("nan"), 10**400, "9" * 39, "9" * 5000])
def test_a_length_beyond_any_quilt_is_refused(value):
    with pytest.raises(StitchpathError, match="expected"):
        parse_length(value, "mm")


def test_a_plain_number_is_in_the_design_s_unit():
    assert [parse_length(2, unit) for unit in ("in", "cm", "mm")] == [50.8, 20.0, 2.0]


def test_inches_are_printed_as_fractions_to_a_sixteenth():
    assert format_length(165.1, "in") == "6 1/2 in"
    assert format_length(25.4 / 16, "in") == "1/16 in"
    assert format_length(25.4 * 2.99, "in") == "3 in"
    assert format_length(0, "in") == "0 in"


def test_an_inch_is_254_tenths_of_a_millimetre():
    # International yard and pound agreement of 1959: one yard is exactly 0.9144 m.
    assert MM_PER["yd"] == 36 * MM_PER["in"] == 914.4


@given(st.integers(1, 16 * 200))
def test_a_printed_fraction_is_read_back_exactly(sixteenths):
    mm = sixteenths * 25.4 / 16
    assert math.isclose(parse_length(format_length(mm, "in"), "mm"), mm)


@given(st.floats(0.1, 5000), st.sampled_from(["in", "cm", "mm"]))
def test_what_is_printed_is_read_back_to_the_last_digit_shown(mm, unit):
    last = {"in": 25.4 / 32, "cm": 0.5, "mm": 0.5}[unit]
    assert abs(parse_length(format_length(mm, unit), unit) - mm) <= last + 1e-9
