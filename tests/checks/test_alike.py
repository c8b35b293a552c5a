"""Findings that are alike are one sentence, the worst come first, and check and plan agree."""

import pytest
from quilts import DESIGNS, design

from stitchpath.checks.all import check_plan
from stitchpath.checks.cures import check_loose, survey
from stitchpath.design.read import load_design
from stitchpath.plan import check_design, make_plan

STARS = """
name = "Stars"
[fabrics]
sand = "#e7d5b0"
coral = "#dc6f50"
[blocks.plain]
size = 10
grid = ['sand sand']
press = "open"
[layout]
rows = ["plain plain plain"]
[[applique]]
name = "starfish"
file = "starfish.svg"
on = "plain"
size = 7
fabric = "coral"
"""


def test_she_reads_one_line_of_three_raw_edges_that_are_alike():
    found = check_plan(survey(design(STARS)))
    (raw,) = [check.message for check in found if check.code == "raw-edge"]
    assert "of the edge of starfish on A1, A2 and A3 has no stitching" in raw
    assert "longest bit" not in raw  # that is told of one alone
    one = check_plan(survey(design(STARS.replace('on = "plain"', 'on = "A2"'))))
    (raw,) = [check.message for check in one if check.code == "raw-edge"]
    assert "of the edge of starfish on A2 has" in raw
    assert "the longest bit at " in raw


def test_a_larger_piece_frays_in_a_line_of_its_own():
    other = STARS[STARS.index("[[applique]]") :].replace("plain", "A2").replace("= 7", "= 4")
    text = STARS.replace('on = "plain"', 'on = "A1"') + other
    found = check_plan(survey(design(text)))
    assert len([check for check in found if check.code == "raw-edge"]) == 2


def test_what_may_not_last_is_read_before_what_is_good_to_know():
    found = [check.level for check in check_plan(survey(design(STARS)))]
    assert set(found) == {"warning", "note"}
    assert found == sorted(found, key=["error", "warning", "note"].index)


def test_check_and_plan_say_the_same_of_the_same_quilt():
    asked = load_design(DESIGNS / "curved-cushion.toml").held_by("2 in")
    checked = check_design(asked)
    assert {"loose-ground", "raw-edge"} <= {check.code for check in checked}
    planned = [check for check in make_plan(asked).checks if check.code != "not-proven"]
    assert tuple(planned) == checked


@pytest.mark.parametrize(("blocks", "said"), [(4, "A4 r1c2 and A4 r1c1 are"), (5, "2 more are")])
def test_four_seams_pressed_open_are_named_and_more_are_counted(blocks, said):
    found = check_plan(survey(design(STARS.replace("plain plain plain", f"plain*{blocks}"))))
    (warned,) = [check.message for check in found if check.code == "open-seam"]
    assert said in warned
    assert warned.count(" r1c2 and ") == (4 if blocks == 4 else 3)


def test_the_four_widest_kinds_of_loose_ground_are_priced():
    kinds = "".join(
        f"[blocks.{name}]\nsize = [10, {size}]\ngrid = ['sand coral']\n"
        for name, size in zip("vwxyz", (10, 9, 8, 7, 6), strict=True)
    )
    text = STARS[: STARS.index("[layout]")] + kinds
    text += '[layout]\nrows = ["z", "y", "x", "w", "v"]\n[lines]\nditch = "blocks"\n'
    text += '[batting]\ndistance = "5 in"\n'
    found = list(check_loose(survey(design(text)), lambda _: (914.4, 90.0)))
    assert [check.message.split(" in ")[2][:2] for check in found] == ["E1", "D1", "C1", "B1", "A1"]
    priced = "Cheapest cure: stitch the seam of v.r1c2 and v.r1c1 (1.00 yd (0.91 m) of thread and "
    assert priced + "90 seconds more)." in found[0].message
    assert ["of thread" in check.message for check in found] == [True] * 4 + [False]
