"""Thread sizes: the tables of the textile trade."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from stitchpath.base.errors import StitchpathError
from stitchpath.thread import (
    ThreadKind,
    parse_thread_size,
    tex_to_cotton,
    tex_to_denier,
    tex_to_metric,
)


@pytest.mark.parametrize(
    ("text", "tex"),
    [
        ("tex 30", 30),
        ("30 tex", 30),
        ("Tex30", 30),
        ("T-27", 27),
        ("300 dtex", 30),
        ("270 denier", 30),
        ("150D", 150 / 9),
        ("50 wt", 20),
        ("50wt", 20),
        ("40 weight", 25),
        ("Nm 50", 20),
        ("Nm 100/2", 20),
        ("Ne 50", 590.541 / 50),
        ("cotton 60/3", 590.541 / 20),
        ("tkt 120", 25),
    ],
)
def test_every_way_of_writing_a_size_on_a_spool_is_read(text, tex):
    assert parse_thread_size(text) == pytest.approx(tex)


@pytest.mark.parametrize(
    ("tex", "denier", "metric", "cotton"),
    [
        # ISO 2947 and ASTM D2260: den = 9 tex, Nm = 1000 / tex, Ne = 590.5 / tex.
        (10, 90, 100, 59.05),
        (20, 180, 50, 29.53),
        (30, 270, 33.33, 19.7),  # ASTM D2260's own example: 30 tex is cotton count 19.7
        (40, 360, 25, 14.76),
        (60, 540, 16.67, 9.84),
    ],
)
def test_the_conversion_table_of_the_standards_holds(tex, denier, metric, cotton):
    assert tex_to_denier(tex) == pytest.approx(denier)
    assert tex_to_metric(tex) == pytest.approx(metric, abs=0.005)
    assert tex_to_cotton(tex) == pytest.approx(cotton, abs=0.05)


@given(tex=st.floats(5, 200))
@settings(max_examples=25, deadline=None)
def test_a_size_written_in_any_system_is_the_same_thread(tex):
    for text in (
        f"{tex:.9f} tex",
        f"{tex_to_denier(tex):.9f} den",
        f"Nm {tex_to_metric(tex):.9f}",
        f"Ne {tex_to_cotton(tex):.9f}",
    ):
        assert parse_thread_size(text) == pytest.approx(tex, rel=1e-6)


@pytest.mark.parametrize(
    "text", ["50", "", "fine", "tex", "50 wt tex", "0 tex", "Nm 0", "50/2", "50/3 wt", "-3 tex"]
)
def test_what_is_no_clear_size_is_asked_back_in_one_sentence(text):
    with pytest.raises(StitchpathError, match="thread size: found") as error:
        parse_thread_size(text)
    assert "\n" not in str(error.value)


def test_a_thread_of_unknown_fibre_is_refused_by_name():
    with pytest.raises(StitchpathError, match=r'"sea grass".*cotton, polyester'):
        ThreadKind("rope", fibre="sea grass")
