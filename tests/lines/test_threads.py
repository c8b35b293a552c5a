"""The colour of a thread: as the design says, else as its name says, else told that none is known.

Hex values of names are those of CSS Color Module Level 4 (W3C), section 6.1.
"""

import pytest
from quilts import SQUARES, design

from stitchpath.checks.all import check_plan
from stitchpath.checks.cures import survey
from stitchpath.lines.threads import thread_colours


@pytest.mark.parametrize(
    ("name", "colour"),
    [
        ("grey", "#808080"),
        ("Dark Blue", "#00008b"),
        ("white", "#ffffff"),
        ("50 wt navy thread", "#000080"),
        ("pale-turquoise", "#afeeee"),
        ("light sea green", "#20b2aa"),
        ("40 wt light golden rod yellow", "#fafad2"),
    ],
)
def test_a_thread_is_drawn_in_the_colour_it_is_called_by(name, colour):
    assert thread_colours(design(f'{SQUARES}[threads."{name}"]\n'))[name] == colour


def test_what_the_design_says_goes_before_the_name():
    text = f'{SQUARES}[threads.white]\ncolour = "dark red"\n'
    assert thread_colours(design(text)) == {"white": "#8b0000"}


@pytest.mark.parametrize(("name", "told"), [("lantern no. 7", True), ("navy", False)])
def test_a_name_that_is_no_colour_is_told_with_what_to_write(name, told):
    found = design(f'{SQUARES}[threads."{name}"]\n')
    said = [c.message for c in check_plan(survey(found)) if c.code == "thread-colour"]
    assert len(said) == told
    assert all(f'[threads."{name}"]' in message for message in said)
    assert thread_colours(found)[name] == ("#404040" if told else "#000080")
